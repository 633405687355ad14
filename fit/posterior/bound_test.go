package posterior

import (
	"math"
	"testing"

	"offbeat/fit/circuit"
)

// An output that stood still counts as the chance that a board of the hypothesis shows no edge so long, against a plain
// average over boards drawn on a grid: two alternatives whose capacitor under the condition is 1 … 3 and 8 … 12 times what
// it was, watched for the ten-fold high time.
func TestStandingStillCounts(t *testing.T) {
	c, err := circuit.Lookup("astable")
	if err != nil {
		t.Fatal(err)
	}
	base := circuit.Ideal(5)
	base[0], base[1], base[2] = 10e3, 47e3, 100e-9
	high, low, _ := c.Times(&base)
	factors := [][2]float64{{1, 3}, {8, 12}, {400, 500}}
	still := 6 * high
	p := &Problem{Circuit: c, Base: base, Extra: []float64{1},
		Data: []Datum{{LnHigh: math.Log(high), LnLow: math.Log(low), High: 1e-8, Low: 1e-8}},
		Bounds: []Bound{{Still: still, Adjust: func(v *circuit.Values, extra []float64) {
			if v[2] *= extra[0]; extra[0] > 100 {
				v[circuit.LeakRatio] = 1 // it does not run
			}
		}}}}
	var all []Hypothesis
	var want []float64
	total := 0.0
	for _, f := range factors {
		var prior []Density
		for i := range 3 {
			prior = append(prior, UniformValue(0.99*base[i], 1.01*base[i]))
		}
		all = append(all, Hypothesis{Odds: 1, Prior: prior, Override: []Variable{{Slot: Extra(0), Density: Uniform(f[0], f[1])}}})
		sum := 0.0
		const n = 2000
		for i := range n {
			k := f[0] + (f[1]-f[0])*(float64(i)+0.5)/n
			if k > 100 {
				sum++
			} else {
				sum += (max(k*high-still, 0) + max(k*low-still, 0)) / (k * (high + low))
			}
		}
		want = append(want, sum/n)
		total += sum / n
	}
	r, err := Run(p, all)
	if err != nil {
		t.Fatal(err)
	}
	for i := range all {
		if got := r.Outcomes[i].Probability; !(math.Abs(got-want[i]/total) <= 0.01+4*r.Outcomes[i].StandardError) {
			t.Errorf("factors %v: probability %.4f ± %.4f, want %.4f", factors[i], got, r.Outcomes[i].StandardError, want[i]/total)
		}
	}
}

// Nothing is ruled out by its ends where a part may lie beyond a factor of three, or is supposed to have moved by more since; what else may be wide
// (a diode's drop, or what is asked beside) is monotonic.
func TestWidePartsRuleNothingOut(t *testing.T) {
	c, err := circuit.Lookup("astable")
	if err != nil {
		t.Fatal(err)
	}
	vars := []Variable{{Slot: 0}, {Slot: circuit.Upper}, {Slot: Extra(0)}, {Slot: Extra(1)}}
	for _, own := range []int{0, 1, 2} {
		for wide := range vars {
			for _, width := range []float64{1, 1.1} {
				s := &system{circuit: c, vars: vars, own: own, from: make([]float64, len(vars)), to: make([]float64, len(vars))}
				s.to[wide] = width
				if got, want := s.narrow(), width == 1 || wide == 1 || wide > 1 && wide < len(vars)-own; got != want {
					t.Errorf("%d of its own, unknown %d over exp %g: narrow %v", own, wide, width, got)
				}
			}
		}
	}
}
