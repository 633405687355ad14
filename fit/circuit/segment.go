package circuit

import "math"

// segment is a first-order run of the capacitor's voltage toward target with time constant tau.
type segment struct {
	target float64 // V
	tau    float64 // s
}

// node gives the segment of a capacitor c fed from source through r, with a constant current bias drawn
// from its node and a conductance leak across it: c dv/dt = (source - v)/r - bias - leak v (Kirchhoff).
func node(source, r, c, bias, leak float64) segment {
	g := 1 + r*leak
	return segment{(source - r*bias) / g, r * c / g}
}

// until is the time from v0 to the threshold; NaN or negative where the segment never gets there.
func (s segment) until(v0, threshold float64) float64 {
	return s.tau * math.Log((s.target-v0)/(s.target-threshold))
}

// after is the voltage reached from v0 when the segment runs for t.
func (s segment) after(v0, t float64) float64 {
	if t == 0 {
		return v0
	}
	return s.target - (s.target-v0)*math.Exp(-t/s.tau)
}

// cycle closes a chain of two phases between the timer's own thresholds.
func (v *Values) cycle(charge, discharge segment) (high, low float64, ok bool) {
	return v.between(v.lower(), v.upper(), charge, discharge)
}

// between closes a chain of two phases: charge runs up to the threshold up and on for the fall delay,
// discharge down to the threshold down and on for the rise delay. Both times are positive and finite when ok.
func (v *Values) between(down, up float64, charge, discharge segment) (high, low float64, ok bool) {
	peak := charge.after(up, v[DelayFall])
	valley := discharge.after(down, v[DelayRise])
	high = v.stretch(charge.until(valley, up) + v[DelayFall])
	low = v.stretch(discharge.until(peak, down) + v[DelayRise])
	return high, low, runs(high) && runs(low) && charge.target > up && discharge.target < down
}

// runs says whether t is a time that a running circuit can have.
func runs(t float64) bool { return t > 0 && t < math.Inf(1) }
