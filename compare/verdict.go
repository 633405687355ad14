package compare

// Cause is one explanation with its probability.
type Cause struct {
	Cause       string   `json:"cause"` // a name of package cause
	Parts       []string `json:"parts"`
	Probability float64  `json:"probability"`
	Value       *float64 `json:"value,omitempty"` // the moved part's likely value, the leak in ohm, the control ratio …
	Unit        string   `json:"unit,omitempty"`
	Detail      string   `json:"detail"`
	Brief       string   `json:"-"`          // Detail in fewer words, for the head of a screen
	PriorOdds   float64  `json:"prior_odds"` // against nothing = 1
}

// Verdict is the decision against the target.
type Verdict struct {
	Result   string            `json:"result"` // pass, fail, undecided, no target
	Quantity string            `json:"quantity,omitempty"`
	Rule     string            `json:"rule,omitempty"`
	Each     []QuantityVerdict `json:"each,omitempty"`
}

// QuantityVerdict is the decision on one quantity of the target.
type QuantityVerdict struct {
	Quantity      string     `json:"quantity"`
	Result        string     `json:"result"`
	Value         float64    `json:"value"`
	Uncertainty   float64    `json:"standard_uncertainty"`
	Limits        [2]float64 `json:"limits"`
	Freedom       float64    `json:"degrees_of_freedom,omitempty"` // effective, of the uncertainty; absent: so many that it is normal
	GuardBand     float64    `json:"guard_band"`
	ProbabilityIn float64    `json:"probability_in_limits"`
}
