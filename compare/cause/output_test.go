package cause

import (
	"math"
	"testing"

	"offbeat/fit/circuit"
)

// The output of a weak pair lies below half the supply while the current of its base, that of the resistor and what the other
// collector brings through the capacitor, holds it there: traced in small steps, the capacitor charging through that collector's resistor.
func TestOutputAtHalfTheSupply(t *testing.T) {
	const supply, drop, base = 6.0, 0.1, 0.65
	for _, c := range []struct{ r, c, rc, swing, other float64 }{
		{47e3, 100e-9, 1500, 0.42, 0.9}, {68e3, 47e-9, 2200, 0.3, 0.6}, {33e3, 1e-6, 1000, 0.48, 1},
	} {
		v := circuit.Ideal(supply)
		v[0], v[1], v[circuit.Collector], v[circuit.BaseEmitter], v[circuit.SwitchVoltage] = c.r, c.c, c.rc, base, drop
		v[circuit.OutputDrop], v[circuit.OutputLow] = supply-drop-c.swing*supply, supply-drop-c.other*supply
		const steps = 200_000
		full, step := supply/c.r*(supply-base)/supply, 20*c.rc*c.c/steps
		rise, below := 0.0, 0.0
		for range steps { // the other collector rises through its resistor, and what flows there flows into the base
			brought := (c.other*supply - rise) / c.rc
			if supply-c.swing*supply*(full+brought)/full < supply/2 {
				below += step
			}
			rise += step * brought / c.c
		}
		high, low, ok := atHalf(&v, 50e-3, 40e-3)
		if !ok || !(math.Abs(low-below) < 1e-3*below) || !(math.Abs(high+low-90e-3) < 1e-12) {
			t.Errorf("%+v: %v, low %.4g, traced %.4g, in all %.4g", c, ok, low, below, high+low)
		}
	}
	v := circuit.Ideal(supply)
	v[circuit.Collector] = 1500
	if high, low, ok := atHalf(&v, 5e-3, 4e-3); !ok || high != 5e-3 || low != 4e-3 {
		t.Errorf("a full swing: %g and %g", high, low)
	}
}
