// Package comparetest is the independent reference for the probabilities that the back-solve states: the evidence of a
// hypothesis is the average of the likelihood over draws from its prior, and nothing else. It imports neither the causes nor
// the back-solve.
//
//  1. problem_test.go: a board as it is wired, its design, and the times measured. Wirings lists the boards.
//  2. odds_test.go: the default prior odds, forms_test.go: each prior form as a draw, both as the program's own help states them.
//  3. cards_test.go: a fault is done to the board's drawing: a card more, or left out, its nodes joined or turned.
//  4. hypothesis_test.go: the causes that a board can have; each draws its parts, terms, supply, clock and fault in turn.
//  5. average_test.go: the averages, eight times over with draws of their own; their scatter is the error.
//  6. board_test.go: random boards with a known truth; bench_test.go: measured by integrating them from Kirchhoff's law.
//
// Plain averages meet a likelihood that is not narrow: times good to some percent take 10^5 draws or so. What the back-solve
// does with sharper ones is left to the calibration, whose truth is drawn here too.
//
// The law is the program's own: package circuit's, which integration and a circuit simulator check to 1e-8 there, and boards
// of every cause here. The priors of the timers' terms are package circuit's data.
//
// Where the prior forms leave a choice, this is what is taken here:
//
//   - A part is the place on the board: with two exchanged, R1 is what sits at R1, and it counts as out of tolerance by the
//     limits that the design gives R1. A fitted other value counts as out of tolerance only where it is outside them.
//   - What the capacitor charges through is what a lasting current meets while the output is high; leaks of other capacitors
//     count from it too.
//   - A weak discharge output is a resistance between the pin and its node, the switch's own beside it in series.
//   - A moved control pin replaces the timer's own upper threshold; the ratio of the lower one to it keeps its spread.
//   - Unexplained times are normal about the prediction with every part at its nominal and every term at its mean.
//   - The clock stretches all times by one factor, whose logarithm is uniform within the limit, or normal where it is the cause.
//   - A board that does not run has likelihood 0; priors are not normalised anew for it.
package comparetest
