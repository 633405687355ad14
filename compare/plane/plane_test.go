package plane_test

import (
	"math"
	"testing"

	"offbeat/compare/plane"
	"offbeat/compare/report/document"
	"offbeat/compare/report/reporttest"
	"offbeat/fit/fittest"
)

// lamp is reporttest's, solved once: what changes it puts it back.
func lamp(t *testing.T) *document.Basis {
	if solved == nil {
		solved = reporttest.LampBasis(t)
	}
	return solved
}

var solved *document.Basis

// nominal is reporttest.LampBasis' board as drawn, in the terms of the integration: the CMOS timer's typical terms.
func nominalNetwork() fittest.Network {
	return fittest.Network{Circuit: fittest.Astable, R1: 10e3, R2: 47e3, C: 100e-9, Supply: 5,
		OnResistance: 27.5, DelayFall: 0.2e-6, DelayRise: 0.2e-6, Bias: 0.5e-9}
}

// ratio integrates a board from Kirchhoff's law and sets it against the nominal one.
func ratio(t *testing.T, change func(n *fittest.Network)) [2]float64 {
	t.Helper()
	base, n := nominalNetwork(), nominalNetwork()
	change(&n)
	h0, l0, err := fittest.Integrate(base)
	if err != nil {
		t.Fatal(err)
	}
	h, l, err := fittest.Integrate(n)
	if err != nil {
		t.Fatal(err)
	}
	return [2]float64{math.Log(h / h0), math.Log(l / l0)}
}

// distance is how far a point lies from a curve.
func distance(k plane.Curve, p [2]float64) float64 {
	best := math.Inf(1)
	for i := range k.Points {
		if k.Dots {
			best = min(best, math.Hypot(k.Points[i][0]-p[0], k.Points[i][1]-p[1]))
			continue
		}
		if i == 0 {
			continue
		}
		a, b := k.Points[i-1], k.Points[i]
		d := [2]float64{b[0] - a[0], b[1] - a[1]}
		s := ((p[0]-a[0])*d[0] + (p[1]-a[1])*d[1]) / (d[0]*d[0] + d[1]*d[1])
		s = min(max(s, 0), 1)
		best = min(best, math.Hypot(a[0]+s*d[0]-p[0], a[1]+s*d[1]-p[1]))
	}
	return best
}

// Each cause's curve goes where the integration says that the fault leads, and no other one does.
func TestCurvesAgainstKirchhoff(t *testing.T) {
	p := lamp(t)
	at := plane.Of(p.Finding, p.Evidence)
	for _, row := range []struct {
		curve  string
		change func(n *fittest.Network)
	}{
		{"C1 out of tolerance", func(n *fittest.Network) { n.C *= 1.31 }},
		{"C1 out of tolerance", func(n *fittest.Network) { n.C *= 0.8 }},
		{"R1 out of tolerance", func(n *fittest.Network) { n.R1 *= 1.5 }},
		{"R2 out of tolerance", func(n *fittest.Network) { n.R2 *= 0.7 }},
		{"leakage across C1", func(n *fittest.Network) { n.Leak = 5 * (n.R1 + n.R2) }},
		{"weak discharge output", func(n *fittest.Network) { n.Weak = 0.1 * n.R2 }},
		{"thresholds moved", func(n *fittest.Network) { n.Upper, n.Lower = 0.75, 0.375 }},
		{"R1 and R2 exchanged", func(n *fittest.Network) { n.R1, n.R2 = n.R2, n.R1 }},
		{"other values", func(n *fittest.Network) { n.R2 = 56e3 }},
	} {
		x := ratio(t, row.change)
		found := false
		for _, k := range at.Curves {
			if k.Name != row.curve {
				continue
			}
			found = true
			// A chord of a curve of 97 places departs from it by an eighth of its step squared, below 1e-3; the
			// median of another value's tolerance lies within 1e-4 of its middle.
			if d := distance(k, x); d > 1e-3 {
				t.Errorf("%s: the integrated board lies %.2g from the curve", row.curve, d)
			}
		}
		if !found {
			t.Errorf("no curve %q", row.curve)
		}
	}
}

// The region's corners are the boards with every part at a limit, by integration.
func TestRegionAgainstKirchhoff(t *testing.T) {
	p := lamp(t)
	at := plane.Of(p.Finding, p.Evidence)
	for corner := range 8 {
		x := ratio(t, func(n *fittest.Network) {
			for i, f := range []*float64{&n.R1, &n.R2, &n.C} {
				tolerance := []float64{0.01, 0.01, 0.1}[i]
				*f *= 1 + tolerance*float64(2*(corner>>i&1)-1)
			}
		})
		// Just inside belongs to it, a tenth further out from the middle does not where the corner is an outer one.
		if !within(at.Region, [2]float64{x[0] * 0.999, x[1] * 0.999}) {
			t.Errorf("corner %03b at %.4f lies outside the region", corner, x)
		}
		if outer := corner == 0 || corner == 7; outer && within(at.Region, [2]float64{x[0] * 1.02, x[1] * 1.02}) {
			t.Errorf("beyond corner %03b is called in tolerance", corner)
		}
	}
	// The measured point is the recorded board, 118 nF in place of 100 nF, and the recording's own error.
	x := ratio(t, func(n *fittest.Network) {
		*n = fittest.Network{Circuit: fittest.Astable, R1: 10.03e3, R2: 46.9e3, C: 118e-9, Supply: 5}
	})
	if d := math.Hypot(at.Measured[0]-x[0], at.Measured[1]-x[1]); d > 2e-3 {
		t.Errorf("measured at %.4f, integrated %.4f", at.Measured, x)
	}
}

// within is the winding test, which the drawing does not use.
func within(polygon [][2]float64, q [2]float64) bool {
	odd := false
	for i := range polygon {
		a, b := polygon[i], polygon[(i+1)%len(polygon)]
		if (a[1] > q[1]) != (b[1] > q[1]) && q[0] < a[0]+(q[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			odd = !odd
		}
	}
	return odd
}

// The ring about the measured point is as wide as the timer's priors move the times: here the two threshold
// ratios alone count, and their effects on ln high and ln low follow from t = tau ln((1-l)/(1-u)) and tau ln(u/l)
// with u = 2/3 and l = u k, k = 1/2: d ln high = (3 du - 3/2 (du/2 + 2/3 dk)) / ln 2, d ln low = -2 dk / ln 2.
func TestSpread(t *testing.T) {
	p := lamp(t)
	s := plane.Of(p.Finding, p.Evidence).Spread
	const du, dk = 0.010, 0.0125
	high := math.Hypot((3-0.75)*du, 1*dk) / math.Ln2
	low := 2 * dk / math.Ln2
	if !(math.Abs(math.Sqrt(s[0][0])/high-1) <= 0.05) || !(math.Abs(math.Sqrt(s[1][1])/low-1) <= 0.05) {
		t.Errorf("spread of ln high %.4f, ln low %.4f; by hand %.4f, %.4f", math.Sqrt(s[0][0]), math.Sqrt(s[1][1]), high, low)
	}
}
