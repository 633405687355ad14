// Package comparetest is the independent reference for the probabilities that the back-solve states. It works
// by brute force from the documented prior forms and a closed form of its own, and imports nothing of the
// code it checks.
//
//  1. problem.go: a Problem is a design, its measured times, the priors of the timer's terms and the listed causes.
//  2. prior.go: each prior form as a density; draw.go: the same form as a random draw, written apart from it.
//  3. forward.go: high and low time of a network in closed form, checked against fittest's integration.
//  4. hypothesis.go: a cause becomes a list of independent parameters, each with its density.
//  5. ruledout.go: hypotheses that come nowhere near the times are left out. importance.go: long importance sampling of
//     each other's evidence; any proposal gives the right answer in the limit, only the error depends on it.
//  6. reference.go, mixture.go: as many draws as the wanted error needs, and the mixture with its standard errors.
//  7. board.go: random boards with a known truth, measured by integrating their circuit.
//
// Two other routes check the reference in this package's tests: plain averaging of the likelihood over draws from
// the prior (no proposal at all), and dense quadrature over the two groups with the prior of each group found by
// numerical convolution.
//
// Where the prior forms leave a choice, this is what is taken here:
//
//   - A part is the place on the board: with the resistors exchanged, R1 is what sits at R1, and it counts as out of tolerance by the
//     limits that the design gives R1. A fitted other value counts as out of tolerance only where it is outside the nominal's limits.
//   - A weak discharge switch is a resistance in series with the switch's own on-resistance and saturation voltage.
//   - A moved control pin replaces the timer's own upper threshold; the ratio of the lower one to it keeps its spread, and the
//     other terms stay.
//   - Unexplained times are normal about the prediction with every part at its nominal and every term at its mean; the variance of the
//     measurement adds to that of the misfit.
//   - The clock stretches all times by one factor, whose logarithm is uniform within the limit, or normal where the clock is the cause.
//   - A normal measurement error of relative size u is one of size u of the logarithm.
//   - A board that does not run has likelihood 0; priors are not normalised anew for it.
package comparetest
