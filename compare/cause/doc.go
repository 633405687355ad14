// Package cause lists what can be wrong with a board, each cause one file: its prior forms as data for the
// back-solve (package posterior), its name, and how its parameter reads in words. The prior odds stand in
// odds.go.
package cause
