// Package transition finds the edges between two state levels in one pass: the 50 % crossing that belongs to each
// transition, with hysteresis (IEEE 181, 5.3), interpolated between two samples, or on slow edges fitted to all samples on
// the slope by the form that the edges share.
//
// # Interpolated edges
//
// A transition counts once the signal has gone from beyond one side of a band about the reference to beyond the other; its place
// is where the line through the two samples about the reference crosses it, the mean of all crossings where noise makes several.
// With amplitude noise of variance σ² and a slope of g a sample interval, u of which has passed at the crossing, the place has the
// variance ((1-u)² + u²) σ²/g², over all u 2/3 σ²/g².
//
// # Fitted edges
//
// Where samples lie on the slope, edge k is y_i = h((t_i - x_k)/s) between the levels, with one form h and one scale s for all edges
// of a polarity. A Gauss-Newton step moves x_k by -Σ h' e / Σ h'² · s, e being what h leaves: least squares, whose variance
// σ² / Σ (h'/s)² is the Cramer-Rao bound for white noise. Forms that circuits make (a ramp, a lag, two equal lags, many) are fitted to
// some of the first edges with their scale, and the best is taken.
//
// # What the form was wrong by
//
// What an error of scale or levels does to all edges alike is accumulated and taken off at the end (the partitioned normal equations of
// Frisch and Waugh, Econometrica 1, 1933). With the derivatives by time g and by scale c of each sample,
//
//	scale    δs = Σ (c - g Σgc/Σg²) e / Σ (c² - (Σgc)²/Σg²)     moves each crossing by  δs Σgc/Σg²
//	level    an error a of it moves each crossing by  -a Σ g w / Σg²,  w = 1 - h or h, and δs by its share
//
// A bend near 50 % that no form has shows in the residuals e of the samples there, with variance u. From four standard deviations
// on it is believed and taken off; below, of b² as much as b²/4u, all at most, is the doubt of the form.
//
// # What each stage is for
//
// Root mean square error over stated uncertainty of the times, with each stage and without it. All but the scale and the levels
// have a row in TestFormsOfEdges (package measure), those are in TestSummaryCorrects.
//
//	fit by form     8 bit ramps of 2 to 8 samples: uncertainty 3 to 5 times as large without; two equal lags 0.9, 1.9
//	each profile    two equal lags: uncertainty 0.035 samples, 0.41 without theirs
//	narrow windows  two equal lags 0.9, 2.4
//	levels of all   6000 cycles of lags 0.9, 1.7 where the form is learnt at the first levels
//	scale           the same 0.9, 2.8
//	bend            three lags 0.5, 10; two unequal lags 0.7, 3.4
//	doubt of it     two unequal lags 0.7, 1.7 (with 3 % of noise; 40 records 0.9, 2.0)
package transition
