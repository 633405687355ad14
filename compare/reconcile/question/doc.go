// Package question poses what the back-solve answers: a board's design, its captures by the conditions they were taken
// under, and its readings become hypotheses and data. It asks what the board is, or what has moved since a baseline.
package question
