// Package retune says what to fit so that a board meets its target.
//
//  1. draw.go: the posterior's weighted samples become equally likely boards, the instrument's clock put right.
//  2. plan.go: which parts change and how: a new part or pair in its place, one more beside it, a trimmer.
//  3. solve.go: the values a plan wants, by least squares on the mean logarithms of the target's quantities.
//  4. component.go: preferred values (IEC 60063) and stock near those.
//  5. judge.go: each candidate is fitted to every drawn board, with its own tolerance, and the board predicted; the
//     share that meets the whole target is the candidate's probability.
//  6. run.go: ranks them.
//
// A part that is taken out takes what was known about it along; one that stays keeps it, with everything that
// the times pin down about it and its neighbours together.
package retune
