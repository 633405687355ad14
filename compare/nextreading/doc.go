// Package nextreading ranks what to measure next: by how much a reading is expected to lower the entropy over the
// causes (Lindley 1956, the expected information of an experiment), for the minutes it takes.
//
//  1. test.go: the readings that a bench offers for a circuit, each with its effort and the safe way to take it, and
//     what it would show as a function of the board's true values.
//     look.go: the cheap looks of package cause, whose odds of telling are exact sums.
//  2. information.go: the mutual information of the cause and what the reading shows, over the posterior's samples.
//  3. rank.go: the best few.
package nextreading
