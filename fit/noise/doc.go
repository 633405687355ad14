// Package noise fits the mean high and low time of a train, and says how far noise and sampling leave them open.
//
// # The chain
//
// Edge i is seen at y_i = x_i + e_i. The true time goes on from edge to edge by whole high and low times and a random step,
//
//	x_i = x_{i-1} + dh_i H + dl_i L + s_i
//
// where e is white with variance r (noise of the thresholds, of the samples, rounding) and s has the variance qh for each high
// and ql for each low time (noise of the timing current and of the capacitor's start, which add up: a random walk of the
// phase, which is white frequency noise). An observation that is a mean of n cycles has r/n, and steps whose variance is that
// of differences of means, 2/3 of the centres' (Working, Econometrica 28, 1960).
//
// For given variances a Kalman filter with H and L as regressors is generalised least squares in one pass, with a diffuse start
// in each run; it gives the restricted likelihood too (Durbin and Koopman, Time Series Analysis by State Space Methods, 2nd
// edition 2012, chapters 5 to 7; de Jong, Annals of Statistics 19, 1991). The smoother's backward pass writes H and L as sums
// Σ w y over the edges, from which the budget of each cause follows. How much hangs on the noise is seen from its two ends
// over N cycles: the variance of the mean period is 6 r/N³ for white noise, and (qh + ql)/N for a walk.
//
// # The variances
//
// No N edges tell r and q so well that the better one would do, so the answer is averaged over both, with log-uniform priors
// within a range that the scatter of the intervals, and what is known of such circuits, gives. That there is no walk at all
// is a hypothesis of its own, of odds √N (Schwarz, Annals of Statistics 6, 1978: the odds that one more unknown costs). The
// integral is one over Halton points in a box along the larger of the two noises, and by how much the other is less; the box
// closes in on the likelihood over a few rounds. The posterior is handed on as a few nodes of equal weight: the means of
// strata, in the order of the walk.
//
// # The sample lattice
//
// Rounding to samples enters thrice: as white noise of the same variance while noise is sought; in the likelihood, where the
// density of each edge, foretold from all others, is replaced by that of its cell (one step of expectation propagation; Minka
// 2001); and in the budget, as the harmonics of package cell summed over the smoothed edges. That the phases are known no
// better than the answer is in the sum by averaging over the answer's own spread, starting from no knowledge, so that the
// iteration comes from the wide side. A train that is steady against its cells is a third pair of hypotheses, solved exactly
// in package cell and weighed by its evidence. Every hypothesis covers its own part of the noise, so that the odds add to 1.
//
// The result is the mean of the hypotheses' answers; its covariance holds what they differ.
package noise
