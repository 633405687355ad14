package circuit

import "offbeat/fit"

// bistable: a set-reset latch. It has no timing part and no law; package latch checks its truth table.
var bistable = Circuit{
	Name:     "bistable",
	Title:    "bistable, a set-reset latch: its truth table is checked, no part is timed",
	Latch:    true,
	means:    &means{},
	Default:  fit.Bipolar,
	Families: map[string][]Prior{fit.Bipolar: nil, fit.CMOS: nil},
}
