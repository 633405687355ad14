// Package circuit holds the timing laws. Every timed interval is a chain of first-order segments: the
// capacitor runs from v0 toward its target with time constant tau until it meets a threshold,
//
//	t = tau * ln((target - v0) / (target - threshold)),
//
// and the comparator's delay lets it run on past the threshold, so the next segment starts from the
// overshoot. A circuit is one file: the table row that names its parts and the function that builds the
// segments from them. Registry lists them all.
//
// Signs and meanings of the second-order terms stand beside their slots in values.go; the priors by timer
// family in family.go. With the terms of the ideal family every law is the first-order formula of the
// timer data sheets (SLFS022I p. 11).
package circuit
