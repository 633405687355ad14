package compare

import "slices"

// Family is what follows if the timer is of that family, where the design does not say it.
type Family struct {
	Family      string   `json:"family"`
	Probability float64  `json:"probability"`
	Cause       string   `json:"cause"` // the likeliest then
	Parts       []string `json:"parts"`
	Of          float64  `json:"probability_of_cause"` // then
}

// Capture says what was read.
type Capture struct {
	Source    string           `json:"source"`
	SHA256    string           `json:"sha256,omitempty"` // of the file
	Record    int              `json:"record"`           // number of the record in the source, from 1
	Shape     string           `json:"shape"`
	Rows      int64            `json:"rows"`
	Skipped   int64            `json:"skipped"`
	Cycles    int              `json:"cycles"`
	Measured  *Times[Measured] `json:"measured,omitempty"`  // of this capture alone
	Waveform  *Waveform        `json:"waveform,omitempty"`  // likewise, in volts
	Stability *Stability       `json:"stability,omitempty"` // likewise
	Guess     string           `json:"guess,omitempty"`     // what the times rest on that the source does not say
	Notes     []string         `json:"notes"`
	Evidence  []string         `json:"evidence,omitempty"` // what was recognised and why
}

// HumUnseen says whether any of the captures is too short to show mains hum.
func HumUnseen(captures []Capture) bool {
	return slices.ContainsFunc(captures, func(c Capture) bool {
		return c.Stability != nil && c.Stability.Period != nil && c.Stability.Period.HumUnseen
	})
}
