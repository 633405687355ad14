package comparetest

import (
	"math"
	"math/rand/v2"
	"slices"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/fittest"
)

// Strange is a kind of fault that no listed cause holds: what it does to a sound board, and which parts it is right to
// name (nil: none of them is at fault).
type Strange struct {
	Name     string
	Circuits []string
	Change   func(rng *rand.Rand, n *fittest.Network)
	Guilty   []string
}

var (
	timers    = []string{fittest.Astable, fittest.AstableDiode, fittest.AstableOutput}
	toAndFro  = append(slices.Clone(timers), fittest.Schmitt, fittest.Comparator)
	withDrive = []string{fittest.AstableOutput, fittest.Schmitt, fittest.Comparator}
)

// between draws evenly.
func between(rng *rand.Rand, low, high float64) float64 { return low + (high-low)*rng.Float64() }

// Kinds are the strange faults, with figures from common practice where no remark names a source.
var Kinds = []Strange{
	{"forgotten diode", []string{fittest.AstableDiode}, func(_ *rand.Rand, n *fittest.Network) { n.Circuit = fittest.Astable }, []string{"D1"}},
	{"diode too many", []string{fittest.Astable}, func(rng *rand.Rand, n *fittest.Network) {
		n.Circuit, n.Diode = fittest.AstableDiode, between(rng, 0.45, 0.75)
	}, nil},
	// One maker's typical ratios are 0.65 and 0.31 (Philips ICM7555 p. 339); others spread further.
	{"another maker's thresholds", timers, func(rng *rand.Rand, n *fittest.Network) {
		n.Upper, n.Lower = between(rng, 0.58, 0.75), between(rng, 0.24, 0.42)
	}, nil},
	{"triggers too early", timers, func(rng *rand.Rand, n *fittest.Network) { n.Lower *= between(rng, 1.1, 1.5) }, nil},
	{"triggers too late", timers, func(rng *rand.Rand, n *fittest.Network) { n.Lower *= between(rng, 0.5, 0.9) }, nil},
	{"constant current drawn", toAndFro, func(rng *rand.Rand, n *fittest.Network) {
		n.Bias = n.Supply / charging(n) / 3 * between(rng, 0.03, 0.5)
	}, []string{"C1"}},
	{"constant current from the supply", toAndFro, func(rng *rand.Rand, n *fittest.Network) {
		n.Bias = -n.Supply / charging(n) / 3 * between(rng, 0.03, 0.5)
	}, nil},
	{"high saturation voltage", []string{fittest.Astable, fittest.AstableDiode}, func(rng *rand.Rand, n *fittest.Network) {
		n.Saturation = n.Supply * between(rng, 0.05, 0.25)
	}, nil},
	{"slow comparator", toAndFro, func(rng *rand.Rand, n *fittest.Network) {
		n.DelayFall, n.DelayRise = charging(n)*n.C*between(rng, 0.02, 0.3), charging(n)*n.C*between(rng, 0.02, 0.3)
	}, nil},
	{"sagging output", withDrive, func(rng *rand.Rand, n *fittest.Network) { n.OutputHigh = n.Supply * between(rng, 0.75, 0.95) }, nil},
	{"loaded low output", withDrive, func(rng *rand.Rand, n *fittest.Network) { n.OutputLow = n.Supply * between(rng, 0.05, 0.2) }, nil},
	{"every resistor up", timers, func(rng *rand.Rand, n *fittest.Network) {
		n.R1, n.R2 = n.R1*between(rng, 1.1, 1.5), n.R2*between(rng, 1.1, 1.5)
	}, []string{"R1", "R2"}},
	{"thresholds moved and a leak", timers, func(rng *rand.Rand, n *fittest.Network) {
		k := between(rng, 0.8, 1.15)
		n.Upper, n.Lower, n.Leak = n.Upper*k, n.Lower*k, charging(n)*between(rng, 6, 40)
	}, []string{"C1"}},
	{"weak switch and slow comparator", []string{fittest.Astable, fittest.AstableDiode}, func(rng *rand.Rand, n *fittest.Network) {
		n.Weak, n.DelayFall = n.R2*between(rng, 0.02, 0.3), charging(n)*n.C*between(rng, 0.02, 0.2)
	}, nil},
	{"contact and leak", toAndFro, func(rng *rand.Rand, n *fittest.Network) {
		n.Contact, n.Leak = charging(n)*between(rng, 0.05, 0.4), charging(n)*between(rng, 6, 40)
	}, []string{"C1"}},
}

// StrangeBoard is a sound board of a design of its own that the fault has changed, measured by integration. A board that
// does not run is drawn anew.
func StrangeBoard(rng *rand.Rand, k *Strange, family string) (Board, error) {
	for {
		w := Find(pick(rng, k.Circuits...))
		b, err := randomDesign(rng, w, family)
		if err != nil {
			return b, err
		}
		for i := range b.Design.Parts {
			b.Design.Parts[i].Class = ""
		}
		h, err := b.hypothesis(recipe{cause: Nothing}, b.Design.Family, 1)
		if err != nil {
			return b, err
		}
		b.drawn(rng, h, false)
		n := b.network(b.Truth.state)
		k.Change(rng, &n)
		b.Truth.Cause, b.Truth.Parts = k.Name, k.Guilty
		high, low, err := fittest.Integrate(n)
		stretch := math.Exp(b.Truth.state.v[circuit.Clock])
		if err == nil && ordinary(b.Design.Parts) {
			b.measure(rng, high*stretch, low*stretch, Sharp)
			return b, nil
		}
	}
}

// charging is the resistance that charges the capacitor.
func charging(n *fittest.Network) float64 {
	if n.Circuit == fittest.Astable {
		return n.R1 + n.R2
	}
	return n.R1
}

// ordinary says whether the tolerances are such as people buy, so that a fault shows.
func ordinary(parts []fit.Part) bool {
	return !slices.ContainsFunc(parts, func(p fit.Part) bool { return p.Plus > 0.1 || p.Kind == fit.Resistor && p.Plus > 0.05 })
}
