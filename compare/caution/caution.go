// Package caution holds the safety texts, in one place. offbeat advises; it certifies nothing.
package caution

// The usual cautions of bench practice (common practice); local codes and a licensed or qualified person
// decide on mains-connected or safety-related equipment.
const (
	// Off precedes any reading or change of a part.
	Off = "Power off and discharge the capacitor first; lift one leg, since an in-circuit reading sees parallel paths."
	// Polarity concerns a capacitor that is taken out or put in.
	Polarity = "An electrolytic goes back with its polarity and voltage rating respected."
	// Live precedes a reading on the running board.
	Live = "The board is live: clip the probe's ground to the board's own ground only, never to a mains-derived rail, and keep a finger off the pins; a probe loads the node."
	// Supply concerns the timer's supply.
	Supply = "Stay below the timer's absolute maximum supply (its data sheet; often 16 … 18 V)."
	// Add concerns a part added in parallel.
	Add = "Power off and discharge the capacitor before a part goes in or out."
	// Warm concerns warming or cooling one part of a running board.
	Warm = "The board is live: warm with moving air or cool with a gentle spray, one part at a time, no further than the part's rated temperature, and keep metal and fingers off the pins."
	// Look precedes a look at the board.
	Look = "Power off and discharge the capacitor before you bend a part aside or touch it."
	// Change precedes taking a part out or putting one in.
	Change = "Power off and discharge the capacitor before you change the part."
	// Qualified closes every report.
	Qualified = "Mains or safety: local codes and licensed people decide; this certifies nothing."
)
