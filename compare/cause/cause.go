package cause

import "offbeat/fit/posterior"

// Cause is one kind of explanation, with everything about it.
type Cause struct {
	Name    string // in JSON
	Key     string // in the design's [odds]
	Parts   int    // how many parts each of its explanations names
	Passing bool   // it is no state of the board: at a later visit it need not be so again
	Blind   bool   // what was measured is not the output as it is, so that no target can be judged by it
	Odds    []Row  // default odds of each explanation; the first row of the part's class counts, else the one of any
	Shows   []Show // what it shows in a look
	Words
	Cases func(b *Board) []Case
}

// Case is one hypothesis of a cause. Cases that share Cause and Parts are alternatives of one explanation.
type Case struct {
	Cause  string
	Parts  []string
	Family string  // of the timer, where the design does not say it; empty: the design's
	Share  float64 // of the explanation's odds; 0: all
	Preset float64 // default odds of this explanation, in place of the cause's; 0: those
	Odds   float64 // against nothing = 1
	Shifts []int   // the parts that have left their tolerance
	Fitted []int   // the parts in whose place one about another value sits
	Silent bool    // it shows no pulse, whatever the board does
	posterior.Hypothesis
	// Parameters read off a sample what the cause is about: the moved part's value, the leak … The first is the JSON's value.
	Parameters []*Parameter
}
