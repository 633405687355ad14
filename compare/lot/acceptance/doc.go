// Package acceptance decides on a lot from a sample: by attributes (ISO 2859-1 single sampling) and by variables (the
// MIL-STD-414 standard-deviation method), under normal, tightened or reduced inspection, follows the switching rules
// between these, and gives each plan's operating characteristic.
package acceptance

// Result of a decision.
type Result string

const (
	Accept    Result = "accept"
	Reject    Result = "reject"
	Undecided Result = "undecided"
)
