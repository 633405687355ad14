package compare

import "offbeat/fit/latch"

// Latch is how a bistable kept its truth table. Set and reset presses are those of its inputs.
type Latch struct {
	Inputs       string       `json:"inputs"` // active low, active high
	Table        []latch.Row  `json:"table"`
	Sets         int          `json:"sets"`          // presses that changed the output
	Resets       int          `json:"resets"`        // likewise
	MissedSets   int          `json:"missed_sets"`   // set presses that left the output low
	FalseSets    int          `json:"false_sets"`    // rises of the output without a set
	FailedResets int          `json:"failed_resets"` // resets during which the output was not low
	FalseResets  int          `json:"false_resets"`  // falls of the output without a reset
	Bounces      int          `json:"bounces"`       // repeated presses of one input, of both
	SetBounces   int          `json:"set_bounces"`
	ResetBounces int          `json:"reset_bounces"`
	Shortest     *Measured    `json:"shortest_set,omitempty"` // s, the shortest press that set the output; none: no press did
	Settling     float64      `json:"settling_allowed"`       // s that the output was allowed to take
	UnknownRows  int64        `json:"unknown_rows"`           // rows with a channel neither high nor low, left out
	Events       []LatchEvent `json:"events"`                 // the faults in order; the list may stop before the counts do
	Advice       []Advice     `json:"advice"`                 // where to look, one a kind of fault
}

// Advice is where to look next, and how to do it safely.
type Advice struct {
	Look    string `json:"look"`
	Caution string `json:"caution"`
}

// LatchEvent is one fault of a latch.
type LatchEvent struct {
	Source string  `json:"source"`
	Time   float64 `json:"time"` // s
	What   string  `json:"what"`
}
