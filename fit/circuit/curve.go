package circuit

// Curve is the timing capacitor's voltage: it runs toward one target until it meets the upper threshold, and toward
// the other until it meets the lower one. Times are as the instrument's clock reads them.
type Curve struct {
	Upper, Lower      float64 // V, the thresholds; of a single pulse Lower is where it starts
	Peak, Valley      float64 // V, where it turns: a comparator's delay lets it run on past the threshold
	Charge, Discharge Run     // of a single pulse Discharge is zero: no resistor of the circuit sets it
}

// Run is a first-order run.
type Run struct {
	Target float64 // V, its asymptote
	Tau    float64 // s, its time constant
}

// seen is a segment by the instrument's clock.
func (v *Values) seen(s segment) Run { return Run{s.target, v.stretch(s.tau)} }
