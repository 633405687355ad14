package posterior

import (
	"offbeat/fit/circuit"
)

// Problem is what is known before the hypotheses part ways.
type Problem struct {
	Circuit  *circuit.Circuit
	Base     circuit.Values // supply, nominal parts, typical terms: whatever no variable overrides
	Nuisance []Variable     // second-order terms and whatever else is uncertain under every hypothesis
	Data     []Datum        // one a capture
}

// Datum is one capture's times, as natural logarithms of seconds.
type Datum struct {
	LnHigh, LnLow float64
	High, Low     float64                 // variances of LnHigh and LnLow
	Covariance    float64                 // of the two
	OnePulse      bool                    // LnHigh alone counts
	Adjust        func(v *circuit.Values) // this capture's own conditions (a part added, another supply); nil: none
}

// Variable is one unknown: a slot of the circuit and its prior.
type Variable struct {
	Slot    circuit.Slot
	Log     bool // the density is over the logarithm of the slot's value
	Density Density
}

// Fixed sets a slot to a value under one hypothesis.
type Fixed struct {
	Slot  circuit.Slot
	Value float64
}

// Hypothesis is one explanation as data.
type Hypothesis struct {
	Odds        float64    // prior odds, on any scale that all hypotheses share
	Prior       []Density  // one a part of the circuit, over the logarithm of its value
	Override    []Variable // in place of the nuisance of the same slot, or beside them
	Fixed       []Fixed    // in place of the nuisance of the same slot
	LogFactor   float64    // logarithm of a further factor of the evidence, such as a reading of what is fixed here
	Unexplained bool       // the logarithms of the times are only known to lie about the prediction, standard deviation 1
}

// Sample is one weighted point of the posterior.
type Sample struct {
	Hypothesis int     // index into the hypotheses
	Weight     float64 // all samples' weights sum to one
	Values     circuit.Values
}

// Outcome is what became of one hypothesis.
type Outcome struct {
	Probability   float64
	StandardError float64 // numerical, of the probability
	LogEvidence   float64 // natural logarithm of the mean likelihood under its prior, -Inf where it cannot be
	Effective     float64 // effective sample size (Kish) behind it
	Points        int
}

// Result is the answer: one outcome a hypothesis, in their order, and the weighted samples.
type Result struct {
	Outcomes []Outcome
	Samples  []Sample
	Status   Status
}

// Status says how a run ended.
type Status struct {
	Impossible  bool // every hypothesis has evidence nought: the readings contradict all of them
	Evaluations int  // of the timing law
}
