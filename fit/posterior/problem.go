package posterior

import (
	"context"

	"offbeat/fit/circuit"
)

// Problem is what is known before the hypotheses part ways.
type Problem struct {
	Circuit  *circuit.Circuit
	Base     circuit.Values // supply, nominal parts, typical terms: whatever no variable overrides
	Nuisance []Variable     // second-order terms and whatever else is uncertain under every hypothesis
	Data     []Datum        // one a capture
	Facts    []Fact         // what else was read of the board
	Bounds   []Bound        // how long its output stood still
	// Context ends the work before its time, with its error: looked at before each point. nil: nothing does.
	Context context.Context
	Seed    uint64 // of the shifts of the lattices
	// Extra are further quantities that no circuit has, such as a part added for one capture: their values unless a
	// variable of slot Extra(k) overrides. Only Adjust and Present see them.
	Extra []float64
	// Present turns what the variables say into the board as it is now, for facts and samples; nil: it is that already.
	Present func(v *circuit.Values, extra []float64)
}

// Ended is why the work is to end, nil while it is not.
func (p *Problem) Ended() error {
	if p.Context == nil {
		return nil
	}
	return p.Context.Err()
}

// Extra is the slot of the k-th extra quantity.
func Extra(k int) circuit.Slot { return circuit.Slot(len(circuit.Values{}) + k) }

// Datum is one capture's times, as natural logarithms of seconds.
type Datum struct {
	LnHigh, LnLow float64
	High, Low     float64 // variances of LnHigh and LnLow
	Covariance    float64 // of the two
	OnePulse      bool    // LnHigh alone counts
	// Adjust puts this capture's own conditions in (a part added, another supply); nil: none.
	Adjust func(v *circuit.Values, extra []float64)
	// Settled says that the board is as it was here: of the problem's own circuit, seen as it is, and explained even where the
	// hypothesis explains nothing, which brings that evidence as LogFactor.
	Settled bool
	// Odd is the logarithm of the density of its times on a board that nothing explains, where its own waveform says what they are; nil:
	// the misfit's.
	Odd *float64
}

// Fact is a number read off the board besides its times: Of the board lies about Value by an error that is rectangular
// with half-width Half or, where Standard > 0, normal. Of and Value are logarithms or ratios.
type Fact struct {
	Of func(v *circuit.Values) float64
	// On gives Of on a circuit of the hypothesis's own, nil where it has no such number, so that it cannot be; nil: Of.
	On             func(c *circuit.Circuit) func(v *circuit.Values) float64
	Value          float64
	Half, Standard float64
	Under          int // number in Data, from 1, of the capture whose conditions held; 0: the board as it is
	// Odd is the logarithm of the density of the errors of this fact and of those after it, Odds in all, on a board that nothing
	// explains; nil: that of this one alone, normal with standard deviation 1.
	Odd  func(errors []float64) float64
	Odds int
}

// Variable is one unknown: a slot of the circuit, or Extra(k), and its prior.
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
	Odds      float64         // prior odds, on any scale that all hypotheses share
	Prior     []Density       // one a part of the circuit, over the logarithm of its value
	Override  []Variable      // in place of the nuisance of the same slot, or beside them
	Fixed     []Fixed         // in place of the nuisance of the same slot
	Base      *circuit.Values // in place of the problem's; nil: that
	Nuisance  []Variable      // likewise, where Base is not nil
	LogFactor float64         // logarithm of a further factor of the evidence, such as a reading of what is fixed here
	// Alike is a text that hypotheses share which have the same evidence by construction: those are computed once. Empty: none.
	Alike string
	// Circuit is the board's own where it is another than the problem's, with the same slots; nil: the problem's.
	Circuit *circuit.Circuit
	// Tie does to a board what the fault does to more than one of its quantities, after its own quantities are drawn; nil: nothing.
	Tie func(v *circuit.Values)
	// See turns the times of the board into those that its captures show; nil: they show it as it is.
	See         func(v *circuit.Values, high, low float64) (seenHigh, seenLow float64, ok bool)
	Unexplained bool     // the logarithms of the times are only known to lie about the prediction
	Misfit      []Misfit // by one of these
	Known       *Outcome // of this hypothesis on this problem, which then is not computed and brings no samples; nil: it is not
}

// Misfit is a form in which the logarithms of a board's times are normal about the prediction: its share, and the standard
// deviations of what moves the high time alone, the low time alone, and both alike.
type Misfit struct {
	Share, High, Low, Both float64
	Alike                  float64 // the share of these variances that is the same in all captures; the rest is each one's own
	// See turns the predicted times, s, into those about which the form lies; nil: they are it. A pulse that is timed alone comes as both.
	See func(high, low float64) (seenHigh, seenLow float64)
}

// Times are those that a board of the hypothesis shows; c is the problem's circuit.
func (h *Hypothesis) Times(c *circuit.Circuit, v *circuit.Values) (high, low float64, ok bool) {
	if h.Circuit != nil {
		c = h.Circuit
	}
	high, low, ok = c.Times(v)
	if ok && h.See != nil {
		high, low, ok = h.See(v, high, low)
	}
	return high, low, ok
}

// Sample is one weighted point of the posterior.
type Sample struct {
	Hypothesis int             // index into the hypotheses
	Weight     float64         // all samples' weights sum to one
	Values     *circuit.Values // samples of hypotheses that are alike share them: not to be written to
	Extra      []float64       // nil where the problem has none
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
	values   []circuit.Values // those of the samples
}

// Comb takes n samples by an even comb over their weights, each as often as teeth fall on it; first is where the first tooth
// stands, as a share of the room of one.
func (r *Result) Comb(n int, first float64) []*Sample {
	total, sum := 0.0, 0.0
	for i := range r.Samples {
		total += r.Samples[i].Weight
	}
	out := make([]*Sample, 0, n)
	for i := range r.Samples {
		for sum += r.Samples[i].Weight / total * float64(n); first < sum && len(out) < n; first++ {
			out = append(out, &r.Samples[i])
		}
	}
	return out
}

// Status says how a run ended.
type Status struct {
	Impossible  bool // every hypothesis has evidence nought: the readings contradict all of them
	Evaluations int  // of the timing law
}

// Bound is an output that stood still for a time, in s, under conditions of its own: a pulse that does not end is a bound on
// its time. Unexplained boards bring its likelihood as LogFactor.
type Bound struct {
	Still  float64
	State  int                                      // at which it stood: wiring.StandsHigh, wiring.StandsLow, or 0 where that is not known
	Coarse float64                                  // s between samples that showed no steady train; 0: the output stood still
	Adjust func(v *circuit.Values, extra []float64) // as a Datum's; nil: none
}
