package compare

import "offbeat/acquire"

// Session is what was met while a stream was heard, beside what was measured in it.
type Session struct {
	Stream acquire.StreamCounts `json:"stream"`
	Marks  []Mark               `json:"marks,omitempty"`
}

// Mark is an instant the user marked, with the steps fitted there.
type Mark struct {
	Number int         `json:"mark"` // from 1
	Time   float64     `json:"time"` // s, from the first reading
	Text   string      `json:"text"`
	High   *MarkStep   `json:"high_time,omitempty"`
	Low    *MarkStep   `json:"low_time,omitempty"`
	Parts  []PartMoved `json:"parts,omitempty"` // which part's change would explain the steps, best first
	Note   string      `json:"note,omitempty"`  // why there is no step
}

// MarkStep is the relative step of a time: 0.01 is 1 % up.
type MarkStep struct {
	Relative    float64 `json:"relative"`
	Uncertainty float64 `json:"standard_uncertainty"`
	Settling    float64 `json:"settling_time"` // s, likely time constant of the response
}

// PartMoved is one part's change that would explain the steps of both times by itself.
type PartMoved struct {
	Name        string   `json:"name"`
	Relative    float64  `json:"relative"`
	Uncertainty float64  `json:"standard_uncertainty"`
	Fit         *float64 `json:"probability_of_fit,omitempty"` // that steps so far from it arise by chance; none for a single pulse
}
