package fittest

import (
	"math"
	"testing"
)

// A trace turns where Integrate says, and between the turns it is the exponential that Kirchhoff's law has in closed
// form for a leaking capacitor: toward Supply Leak/(R1+R2+Leak) with time constant C times the two in parallel.
func TestTrace(t *testing.T) {
	n := Network{Circuit: Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9, Leak: 1e6}
	high, low, err := Integrate(n)
	if err != nil {
		t.Fatal(err)
	}
	const step, late, rows = 37.3e-6, 1.1e-3, 2000
	output, node, err := Trace(n, late, step, rows)
	if err != nil {
		t.Fatal(err)
	}
	const r, end = 57e3 * 1e6 / 1.057e6, 5 * 1e6 / 1.057e6
	for i := range rows {
		within := math.Mod(late+float64(i)*step, high+low)
		if want := within < high; (output[i] > 2.5) != want {
			t.Fatalf("row %d, %.9f s into the cycle of %.9f s high: output %v V", i, within, high, output[i])
		}
		if within < high {
			if want := end + (5./3-end)*math.Exp(-within/(r*100e-9)); !(math.Abs(node[i]-want) <= 5e-8) { // straight lines between the points of a curve: 3.3 V (0.6/2000)²/8
				t.Fatalf("row %d: node at %.12f V, want %.12f", i, node[i], want)
			}
		}
	}
	if _, _, err := Trace(Network{Circuit: Monostable, Supply: 5, R1: 1e4, C: 1e-7}, 0, step, 10); err == nil {
		t.Error("a monostable has no free-running trace")
	}
}
