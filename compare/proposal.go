package compare

// Proposal is one way to bring a board on target, checked by predicting the board as it would then be.
type Proposal struct {
	Changes   []Change    `json:"changes"` // empty: leave the board as it is
	Predicted Times[Band] `json:"predicted"`
	// InTarget is the probability that every quantity of the target lies in its limits, rounded down to a percent,
	// above 99 % to a tenth of one: what the Monte Carlo can tell apart.
	InTarget float64 `json:"probability_in_target"`
	// Foretold is the share of what the board may be over which Predicted is taken: the rest no listed cause explains, or the board
	// would not run with the change, or the trimmer would not reach.
	Foretold float64 `json:"probability_foretold"`
	NewParts int     `json:"new_parts"` // components to fit
	InStock  *bool   `json:"in_stock,omitempty"`
	Caution  string  `json:"caution,omitempty"`
	AsDrawn  bool    `json:"as_drawn,omitempty"` // the repair: what the likeliest cause blames, fitted as it is drawn
}

// Change is what to fit in the place of one part.
type Change struct {
	Part    string   `json:"part"`
	Fit     string   `json:"fit"`   // "48.7k", "47k + 1.5k" in series, "100k || 91k" in parallel; "R2 + 1.5k" keeps the part
	Value   float64  `json:"value"` // ohm or farad, the whole of it
	Unit    string   `json:"unit"`
	Setting *float64 `json:"setting,omitempty"` // of a trimmer: the expected part of its travel
}

// Band is a predicted quantity with its central 95 %.
type Band struct {
	Value float64 `json:"value"` // median
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}
