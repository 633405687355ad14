package circuit

import "math"

// segment is a first-order run of the capacitor's voltage toward target with time constant tau. A resistance in series
// with the capacitor keeps its node nearer to the target than it is itself: share of the way.
type segment struct {
	target float64 // V
	tau    float64 // s
	share  float64
}

// node gives the segment of a capacitor c fed from source through r, with the constant current and the conductance that v
// draws from its node: c du/dt = (source - v)/r - bias - leak v, v - u = contact times that current (Kirchhoff). charging
// is the resistance that the leak and the contact are ratios to.
func (v *Values) node(source, r, c, charging float64) segment {
	g := 1 + r*v.leak(charging)
	c += v[Stray]
	s := segment{(source - r*v[Bias]) / g, r * c / g, 1}
	if contact := v[Contact] * charging; contact > 0 {
		s.tau += contact * c
		s.share = r / (r + contact*g)
	}
	return s
}

// inside is the capacitor's voltage while its node is at v.
func (s segment) inside(v float64) float64 {
	if s.share == 1 {
		return v
	}
	return s.target - (s.target-v)/s.share
}

// outside is the node's voltage while the capacitor is at u.
func (s segment) outside(u float64) float64 { return s.target - (s.target-u)*s.share }

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
	top, bottom := charge.inside(up), discharge.inside(down)
	peak := charge.after(top, v[DelayFall])
	valley := discharge.after(bottom, v[DelayRise])
	high = v.stretch(charge.until(valley, top) + v[DelayFall])
	low = v.stretch(discharge.until(peak, bottom) + v[DelayRise])
	return high, low, runs(high) && runs(low) && charge.target > up && discharge.target < down && valley < top && peak > bottom
}

// runs says whether t is a time that a running circuit can have.
func runs(t float64) bool { return t > 0 && t < math.Inf(1) }
