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
// Runs between gaps each have a diffuse start, but where each begins a whole number of periods after the one before, as near as
// its edges lie: then one train goes on through the gaps, as behind a gate, and they are one run. Without that, bursts that keep
// in step with the samples are all rounded alike, which none of them shows: of 800 gated records 10 lay beyond 4 uncertainties,
// and none does with it (rms 0.9 and 0.7).
//
// # The variances
//
// No N edges tell r and q so well that the better one would do, so the answer is averaged over both, with log-uniform priors
// within a range that the scatter of the intervals, and what is known of such circuits, gives. That there is no walk at all
// is a hypothesis of its own, of odds √N (Schwarz, Annals of Statistics 6, 1978: the odds that one more unknown costs) or N/30,
// whichever is less. The
// integral is one over Halton points in a box along the larger of the two noises, and by how much the other is less; the box
// closes in on the likelihood over a few rounds. Each hypothesis (no walk, one below the white noise, one above it) hands on
// the mean of its posterior; more of it moved no class of captures in the honesty study.
//
// # The sample lattice
//
// Rounding to samples enters thrice: as white noise of the same variance while noise is sought; in the likelihood, where the
// density of each edge, foretold from all others, is replaced by that of its cell (one step of expectation propagation; Minka
// 2001); and in the budget, as the harmonics of package cell summed over the smoothed edges. That the phases are known no
// better than the answer is in the sum by averaging over the answer's own spread (at one standard deviation each way), as wide as
// it is before that: coming closer in rounds showed in no class of captures. Noise keeps the harmonics from adding up as far as neighbouring
// intervals show it: where all are rounded alike, one slip of an edge in thousands is no noise. (With the spread at random, and slips
// for noise, trains of 5000 cycles that creep by a sample or two had errors of 67 of the high time's uncertainty, and have 0.6.)
// A train that is steady against its cells is another hypothesis, solved exactly in package cell and weighed by its evidence; one that
// walks through them has its own, by expectation propagation to its end (propagate). Nothing but the few edges at the sides of their cells
// tells those two apart, and a walk that happens to leave the line straight none: their odds are even. (With the fourth root of
// the cycles, and the walk told by three bends of the line, the period of 300 trains of 100 cycles with a small walk had an error of
// 1.85 of what is stated, and has 1.3.) A walk by more than three tenths of a cell over the record gives the noise, not the answer: where the steps
// are no independent ones, as of flicker, the cells' answer was 5 of its uncertainties off in 3 of 16 records of 1000 cycles.
// Every hypothesis covers its own part of the noise, so that the odds add to 1.
// What such a train beats by 9 nats is looked at no closer than that takes, and what it may hide is added where it is likely.
//
// A list of durations seldom says whether each was rounded by itself, which adds up, or is the difference of two rounded instants. Both are
// hypotheses, the former with odds of 20 (by judgment: what cannot be told is wide): all alike they tell for it, sums that stay within a digit
// of a steady train against it. The mean of numbers that hardly scatter is known to a digit only, however many there are: its posterior is
// summed exactly, over what the mean and the noise may be. (Steady trains of 100 cycles, printed so, had periods off by 110 uncertainties
// rms, and have 1.1.)
//
// The result is the mean of the hypotheses' answers; its covariance holds what they differ.
//
// # What each stage is for
//
// Root mean square error over stated uncertainty, with each stage and without it, of 20 to 50 records of a class of make honesty, of
// 100 cycles where no number stands, or of what the test draws that fails without it.
//
//	hum                lists with hum, 200 cycles: period 0.8, 0.1 and 500 times as uncertain without
//	its weights        what has the form of hum moves the times by a fourteenth of itself without (TestTimesBesideHum)
//	its second fit     period 1.3 times as uncertain as without hum; 2 times, and up to 17, with one fit alone (TestHumIsFoundAndGone)
//	cells in search    logic with both noises: period 1.0, 1.6 (TestWalkShowsInTheCells)
//	box that closes    high time of a walk 1.7 times as uncertain without it (TestWalkAlone)
//	weak, strong walk  the same 1.9 times without the strong one; the weak one leads in the odds of short walks (TestNeverBelowAllan)
//	averages (digest)  lists with both noises, 5000 cycles: period 1.20, 1.26; its part in flicker is in TestPowerLawNoise
//	means of cycles    lists with hum, 5000 cycles: period 1.0, 0.3 and 8 times as uncertain without what averaging leaves of
//	                   a line (TestCombIsTheMean, TestHumAgainstMatrices)
//	steps of means     half as much again as is drawn without it (TestStepsOfMeans)
//	cells of averages  2500 cycles that creep by 0.7 of a cell: high time 1.2, 4.7 (TestLongTrainThatCreeps)
//	local noise        small random walk, 500 cycles: high time 1.0, 1.4 (TestSmallWalkBreaksRoundingUp)
//	steady trains      nearly commensurate: times 0.7, 3.7 (TestNearlyCommensurateNeedsTheCells)
//	their white noise  small white jitter: times 1.2, 1.5
//	their walk         small random walk: period 1.2, 2.1 (TestWalkBelowTheCells)
//	what they hide     drift: high time 1.1, 1.9 (TestDriftHidesInTheCells); hum 1.5, 13 (TestHumHidesInTheCells)
//	codes              slopes without noise: high time 1.2, 5.5 without the lattice of amplitude steps (TestAmplitudeStepsRecur)
//	rounded one by one durations of 40 cycles that hardly scatter: period 1.0, 18 (TestDurationsRoundedEachByItself)
//	locked trains      commensurate periods: times 1.2, 1.4 (TestLockedTrain in fit/cell)
//
// A look at the first cycles before all of them, and a limit to how few points may close the box along the lesser noise, showed in none
// of 3,300 records of those classes and of strange trains.
//
// # What does not average
//
// Hum of the supply moves the edges by a line of the mains, 50 or 60 Hz, and twice it. Rising and falling edges each have a
// sine and a cosine of both lines, eight columns more beside H and L in the same filter, and the frequency is one more by its
// derivative, within the 1 % that mains keep to. A line is believed from a gain of 32 in twice the log likelihood on, and if
// it moves the edges by more than rounding to samples can. It is then taken off, everything else is fitted anew, and its own
// covariance C under each way's noise adds (w'Z) C (Z'w) to the budget, w being the weights of H and L and Z the columns: by the theorem
// of Frisch and Waugh (Econometrica 1, 1933) that is the joint fit. The mean of a period modulated by the relative a differs in second
// order from that of its frequency, a²/2; that is in the budget too. In a record shorter than two periods of the mains a line
// is all but a slope, and the result says that it can't be seen.
//
// Flicker and a random walk of the period (fractional frequency noise of slope 1/f and 1/f²) have no mean to come near to. They
// show in the slow bends of the edges: the 20 lowest cosines over the record, made orthogonal to a steady train. Edge times
// with such noise are intrinsic random functions of order one (Matheron, Advances in Applied Probability 5, 1973), whose
// contrasts have the generalised covariances of distance h, in periods,
//
//	white frequency  -h/2 · q     Allan variance over n periods  q/n
//	flicker          h² ln h · a                                 4 a ln 2
//	random walk      h³/12 · s                                   s n/3
//
// for an Allan variance is half the square of the second difference of times n apart, over n², with variance
// 6 G(0) - 8 G(n) + 2 G(2n). Sizes are averaged over a log-uniform prior, either kind having the odds that one more unknown
// costs, and only as far as the record favours a size over none. What is added to the variance of the mean is the Allan
// variance over the whole record: how far the means of two such records in a row differ, which for white frequency noise is
// the variance of the mean itself (power-law noises and their bias: Barnes, NBS Technical Note 375, 1969).
//
// Last, the record's own Allan deviation at its longest time is held against all noise found. What chance does not explain is
// added as white frequency noise. So the uncertainty is never below what that deviation allows.
package noise
