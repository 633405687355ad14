package step

import (
	"math"
	"testing"

	"offbeat/fit"
	"offbeat/fit/fittest"
)

// lamp is the harbour's astable with an ideal timer: high (R1+R2) C ln 2, low R2 C ln 2 (the first-order
// law). Its sensitivities by hand, with R1 = 10k and R2 = 47k: of the high time 10/57, 47/57 and 1; of the
// low time 0, 1 and 1.
var lamp = &fit.Design{Circuit: "astable", Family: fit.Ideal, Supply: fit.Reading{Value: 5}, Parts: []fit.Part{
	{Name: "R1", Nominal: 10e3, Minus: 0.01, Plus: 0.01},
	{Name: "R2", Nominal: 47e3, Minus: 0.01, Plus: 0.01},
	{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1},
}}

func TestPartsOfALamp(t *testing.T) {
	const u = 1e-5
	for _, c := range []struct {
		name      string
		high, low float64 // relative steps
		right     string
		change    float64
	}{
		{"C1 down 1 %", -0.01, -0.01, "C1", -0.01},
		{"R2 up 0.5 %", 0.005 * 47 / 57, 0.005, "R2", 0.005},
		{"R1 up 2 %", 0.02 * 10 / 57, 0, "R1", 0.02},
	} {
		parts, err := Parts(lamp, Step{Value: c.high, Uncertainty: u}, Step{Value: c.low, Uncertainty: u}, 0)
		if err != nil || len(parts) != 3 {
			t.Fatalf("%v, %d parts", err, len(parts))
		}
		for _, p := range parts {
			if p.Name == c.right {
				// The steps given are exact to first order, and so is the linearised law.
				if !(math.Abs(p.Change-c.change) <= 1e-7) || p.Fit < 0.99 {
					t.Errorf("%s: %s %+v, want %g and a perfect fit", c.name, p.Name, p, c.change)
				}
			} else if p.Fit > 1e-6 {
				t.Errorf("%s: %s fits with probability %g", c.name, p.Name, p.Fit)
			}
		}
	}
}

// The uncertainty of C1's change, by hand: both times have sensitivity 1, so the change is their mean, with a
// variance of (1+ρ) u²/2.
func TestPartsUncertainty(t *testing.T) {
	for _, rho := range []float64{-0.6, 0, 0.5} {
		parts, err := Parts(lamp, Step{Value: 2e-4, Uncertainty: 1e-5}, Step{Value: 2.2e-4, Uncertainty: 1e-5}, rho)
		if err != nil {
			t.Fatal(err)
		}
		c1 := parts[2]
		if want := 1e-5 * math.Sqrt((1+rho)/2); c1.Name != "C1" || !(math.Abs(c1.Uncertainty/want-1) <= 1e-6) || !(math.Abs(c1.Change-2.1e-4) <= 1e-9) {
			t.Errorf("correlation %g: %+v, want 2.1e-4 with %g", rho, c1, want)
		}
	}
}

func TestPartsOfASinglePulse(t *testing.T) {
	d := &fit.Design{Circuit: "monostable", Family: fit.Ideal, Supply: fit.Reading{Value: 5}, Parts: []fit.Part{
		{Name: "R1", Nominal: 36e3, Minus: 0.01, Plus: 0.01}, {Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1},
	}}
	parts, err := Parts(d, Step{Value: 0.003, Uncertainty: 1e-4}, Step{}, 0)
	if err != nil || len(parts) != 2 {
		t.Fatalf("%v, %+v", err, parts)
	}
	for _, p := range parts { // R·C·ln 3: sensitivity 1 to either
		if !(math.Abs(p.Change-0.003) <= 1e-8) || !(math.Abs(p.Uncertainty-1e-4) <= 1e-10) || !math.IsNaN(p.Fit) {
			t.Errorf("%+v", p)
		}
	}
}

func TestPartsNeedsACircuit(t *testing.T) {
	if _, err := Parts(&fit.Design{Circuit: "none"}, Step{}, Step{}, 0); err == nil {
		t.Error("no error")
	}
}

// A jump of a tenth on a quiet record is far sharper than the typical board's bias and on-resistance: the part that made it is
// named all the same, and the others are not. The board is integrated from Kirchhoff's law.
func TestPartsOfASharpJump(t *testing.T) {
	d := *lamp
	d.Family = fit.Bipolar
	of := func(r1 float64) (high, low float64) {
		high, low, err := fittest.Integrate(fittest.Network{Circuit: "astable", R1: r1, R2: 47.2e3, C: 98e-9, Supply: 5, OnResistance: 40, Saturation: 0.02, Bias: 1.5e-7})
		if err != nil {
			t.Fatal(err)
		}
		return high, low
	}
	h0, l0 := of(10e3)
	h1, l1 := of(11.2e3)
	parts, err := Parts(&d, Step{Value: math.Log(h1 / h0), Uncertainty: 2e-6}, Step{Value: math.Log(l1 / l0), Uncertainty: 2e-6}, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range parts {
		if (p.Name == "R1") != (p.Fit > 0.01) || p.Name == "R1" && !(math.Abs(p.Change-math.Log(1.12)) <= 0.01) {
			t.Errorf("%+v", p)
		}
	}
}
