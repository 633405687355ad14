package circuit

import "math"

// segment is a first-order run of the capacitor's voltage toward target with time constant tau.
type segment struct {
	target float64 // V
	tau    float64 // s
}

// node gives the segment of a capacitor c fed from source through r, with a constant current bias drawn from its node:
// c dv/dt = (source - v)/r - bias (Kirchhoff).
func node(source, r, c, bias float64) segment { return segment{source - r*bias, r * c} }

// drifts says whether nothing but a constant current moves the capacitor.
func (s segment) drifts() bool { return !(s.tau < math.Inf(1)) }

// until is the time from v0 to the threshold; NaN or negative where the segment never gets there.
func (s segment) until(v0, threshold float64) float64 {
	return s.tau * math.Log((s.target-v0)/(s.target-threshold))
}

// after is the voltage reached from v0 when the segment runs for t.
func (s segment) after(v0, t float64) float64 {
	y := t / s.tau
	switch {
	case t == 0:
		return v0
	case y < 0.004:
		// 1 - exp(-y) by its series: a comparator's delay is short against most time constants.
		return v0 + (s.target-v0)*y*(1-y*(1./2)*(1-y*(1./3)*(1-y*(1./4)*(1-y*(1./5)*(1-y*(1./6))))))
	}
	return s.target - (s.target-v0)*math.Exp(-y)
}

// runs says whether t is a time that a running circuit can have.
func runs(t float64) bool { return t > 0 && t < math.Inf(1) }

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
