package posterior

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/circuit"
)

// A pulse more than four times too long can be a leak, if the threshold happens to be high as well: the capacitor then
// creeps up to it. At the medians the leak hardly shows, the board does not reach the threshold beside the solution,
// and the parts can't make up the rest. The reference is plain Monte Carlo over all but the capacitor, which the
// time then gives, with v = V k/(1+k) (1 - exp(-t / (RC k/(1+k)))) for a leak of k times R.
func TestLeakAtTheEndOfItsPrior(t *testing.T) {
	const r, c, pulse = 510e3, 4.7e-6, 12.0
	k, err := circuit.Lookup("monostable")
	if err != nil {
		t.Fatal(err)
	}
	v := circuit.Ideal(12)
	v[0], v[1] = r, c
	p := &Problem{Circuit: k, Base: v, Data: []Datum{{LnHigh: math.Log(pulse), High: 1e-9, OnePulse: true}}}
	got, err := Run(p, []Hypothesis{{
		Odds:  1,
		Prior: []Density{UniformValue(0.95*r, 1.05*r), UniformValue(0.8*c, 1.2*c)},
		Override: []Variable{
			{Slot: circuit.LeakRatio, Log: true, Density: Uniform(math.Log(2.2), math.Log(300))},
			{Slot: circuit.Upper, Density: Normal(2./3, 0.01)},
		},
	}})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 5))
	var sum, squares float64
	const n = 1 << 20
	for range n {
		leak := math.Exp(math.Log(2.2) + rng.Float64()*math.Log(3/2.2)) // one of 3 times R and more leaves the pulse too short
		share := leak / (1 + leak)
		charge := r * (0.95 + 0.1*rng.Float64()) * share * math.Log(share/(share-2./3-0.01*rng.NormFloat64()))
		if x := pulse / charge; x > 0.8*c && x < 1.2*c {
			w := x / (0.4 * c)
			sum += w
			squares += w * w
		}
	}
	want, relative := math.Log(sum/n*math.Log(3/2.2)/math.Log(300/2.2)), math.Sqrt(squares)/sum
	if e := got.Outcomes[0].LogEvidence; !(math.Abs(e-want) <= 0.1+3*relative) {
		t.Errorf("log evidence %.3f; plain Monte Carlo says %.3f ± %.3f", e, want, relative)
	}
}
