package comparetest

import (
	"math"
	"math/rand/v2"
	"slices"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/fittest"
)

// Pinned is a kind of unlisted fault of a third world: sound boards of shipped and of other wirings, drawn from the families'
// own terms, with parts of every class, and a fault at a pin, a rail, a part or in what measures. Figures are common practice
// where no source is named.
type Pinned struct {
	Name    string
	Wirings []string
	Change  func(rng *rand.Rand, w *pinned)
	Guilty  []string // parts that it is right to name
}

// pinned is a board as it stands, with what a fault needs to know of it.
type pinned struct {
	*fittest.Board
	node        string
	supply      float64
	ohm, tau    float64 // what the node charges through, and with its capacitor, s
	scale, late float64 // of what is measured: a factor, and the share of the period by which the fall shows late
}

func (w *pinned) resistor(a, b string, ohm float64) {
	w.Resistors = append(w.Resistors, fittest.Two{A: a, B: b, Value: ohm})
}

func (w *pinned) capacitor(a, b string, farad float64) {
	w.Capacitors = append(w.Capacitors, fittest.Two{A: a, B: b, Value: farad})
}

// behind puts a node of its own between an element's first end and where that was.
func behind(e *fittest.Two, node string) (from string) {
	from, e.A = e.A, node
	return from
}

var (
	withPin  = []string{"astable", "astable-diode", "trimmer in series", "two diodes"}
	fromOut  = []string{"astable-output", "schmitt", "op-amp on two supplies", "comparator on one supply"}
	allPins  = slices.Concat(withPin, fromOut)
	plainPin = []string{"astable", "trimmer in series"}
)

// PinnedKinds are its faults; those at odd places are kept apart from whoever mends a prior.
var PinnedKinds = []Pinned{
	// 1 Mohm and about 110 pF, 90 to 110 pF/m of cable (makers' pages on passive probes).
	{"probe at one to one on the node", allPins, func(rng *rand.Rand, w *pinned) {
		w.resistor(w.node, "ground", 1e6)
		w.capacitor(w.node, "ground", between(rng, 90e-12, 150e-12))
	}, nil},
	{"capacitance from the output", allPins, func(rng *rand.Rand, w *pinned) {
		w.capacitor("output", w.node, w.tau/w.ohm*even(rng, 0.01, 0.15))
	}, nil},
	{"leak to a node in the middle", allPins, func(rng *rand.Rand, w *pinned) {
		w.Held["leaking"] = w.supply * between(rng, 0.4, 0.7)
		w.resistor(w.node, "leaking", w.ohm*even(rng, 2, 40))
	}, nil},
	{"upper threshold alone", allPins, func(rng *rand.Rand, w *pinned) {
		w.FallWhen[0].RightBy *= pick(rng, between(rng, 0.8, 0.97), between(rng, 1.03, 1.15))
	}, nil},
	{"late to rise", allPins, func(rng *rand.Rand, w *pinned) { w.Delay += w.tau * even(rng, 0.02, 0.3) }, nil},
	{"damaged input", allPins, func(rng *rand.Rand, w *pinned) { // it conducts from a junction's drop on
		w.Diodes = append(w.Diodes, fittest.Two{A: w.node, B: "inside", Value: between(rng, 0.5, 1.2)})
		w.resistor("inside", "ground", w.ohm*even(rng, 2.5, 30))
	}, nil},
	{"worn electrolytic with resistance", allPins, func(rng *rand.Rand, w *pinned) {
		c := &w.Capacitors[0]
		c.Value *= between(rng, 0.4, 0.9)
		w.resistor(behind(c, "foil"), "foil", w.ohm*even(rng, 0.02, 0.3))
		w.resistor(w.node, "ground", w.ohm*even(rng, 5, 100))
	}, []string{"C1"}},
	{"resistance in the supply", withPin, func(rng *rand.Rand, w *pinned) { // thresholds follow the rail, and so does what charges
		for i := range w.Resistors {
			if w.Resistors[i].A == "supply" {
				behind(&w.Resistors[i], "rail")
			}
		}
		w.resistor("supply", "rail", w.ohm*even(rng, 0.01, 0.15))
		w.resistor("rail", "ground", w.ohm*even(rng, 0.5, 5)) // what else it feeds
		for _, t := range []*fittest.Test{&w.FallWhen[0], &w.RiseWhen[0]} {
			if t.Right == "" {
				t.Right, t.RightBy = "rail", t.RightBy/w.supply
			} else if t.Left == "" {
				t.Left, t.LeftBy = "rail", t.LeftBy/w.supply
			}
		}
	}, nil},
	{"charged from another rail", withPin, func(rng *rand.Rand, w *pinned) {
		w.Held["other"] = w.supply * pick(rng, between(rng, 0.8, 0.95), between(rng, 1.05, 1.8))
		for i := range w.Resistors {
			if w.Resistors[i].A == "supply" {
				behind(&w.Resistors[i], "other")
			}
		}
	}, nil},
	{"indicator at the discharge pin", withPin, func(rng *rand.Rand, w *pinned) {
		w.Diodes = append(w.Diodes, fittest.Two{A: "lamp", B: "discharge", Value: between(rng, 1.6, 2.4)})
		w.resistor("supply", "lamp", w.ohm*even(rng, 0.2, 10))
	}, nil},
	{"capacitor across the discharge", withPin, func(rng *rand.Rand, w *pinned) {
		w.capacitor("discharge", w.node, w.tau/w.ohm*even(rng, 0.02, 0.3))
	}, nil},
	{"capacitor at the discharge pin", withPin, func(rng *rand.Rand, w *pinned) {
		w.capacitor("discharge", "ground", w.tau/w.ohm*even(rng, 0.02, 0.3))
	}, nil},
	{"another kind of diode", []string{"astable-diode", "two diodes"}, func(rng *rand.Rand, w *pinned) {
		for i := range w.Diodes {
			w.Diodes[i].Value = pick(rng, between(rng, 0.15, 0.4), between(rng, 1.0, 2.0))
		}
	}, []string{"D1", "D2"}},
	{"leaking diode", []string{"astable-diode", "two diodes"}, func(rng *rand.Rand, w *pinned) {
		w.resistor(w.Diodes[0].A, w.Diodes[0].B, w.ohm*even(rng, 2, 50))
	}, []string{"D1"}},
	// A hex inverter of the 4000 series has 455 ohm typically at 5 V, 222 at 10 V (National TL/F/5985 p. 3).
	{"weak output", fromOut, func(rng *rand.Rand, w *pinned) { w.inFeedback(w.ohm*even(rng, 0.03, 0.4), false) }, nil},
	{"pull-up in the charge", fromOut, func(rng *rand.Rand, w *pinned) { w.inFeedback(w.ohm*even(rng, 0.03, 0.5), true) }, nil},
	{"output swings less", fromOut, func(rng *rand.Rand, w *pinned) {
		lost := (w.High - w.Low) * between(rng, 0.03, 0.2)
		w.High, w.Low = w.High-lost*rng.Float64(), w.Low+lost
	}, nil},
	{"slow optocoupler", allPins, func(rng *rand.Rand, w *pinned) { w.late = even(rng, 0.005, 0.08) }, nil},
	{"time base far off", allPins, func(rng *rand.Rand, w *pinned) {
		w.scale = 1 + pick(rng, -1., 1)*between(rng, 0.03, 0.25)
	}, nil},
	{"control pin tied to the output", withPin, func(rng *rand.Rand, w *pinned) {
		k := between(rng, 0.02, 0.2)
		w.FallWhen[0].RightBy *= 1 + k/2
		w.RiseWhen[0].LeftBy *= 1 - k
	}, nil},
	{"reversed electrolytic", allPins, func(rng *rand.Rand, w *pinned) {
		w.Diodes = append(w.Diodes, fittest.Two{A: w.node, B: "oxide", Value: between(rng, 0.8, 2)})
		w.resistor("oxide", "ground", w.ohm*even(rng, 2.5, 20))
	}, []string{"C1"}},
	{"resistor at the wrong end", plainPin, func(_ *rand.Rand, w *pinned) {
		for i := range w.Resistors {
			if r := &w.Resistors[i]; r.A == "supply" {
				r.B = w.node
			}
		}
	}, []string{"R1"}},
	{"current out of a pin", allPins, func(rng *rand.Rand, w *pinned) { // 250 nA at most into a bipolar threshold pin, 500 nA of an amplifier's
		w.Draws[w.node] += pick(rng, -1., 1) * max(w.supply/w.ohm/3*even(rng, 0.01, 0.2), 100e-9)
	}, nil},
	{"everything warm", allPins, func(rng *rand.Rand, w *pinned) {
		for i := range w.Capacitors {
			w.Capacitors[i].Value *= 1 + between(rng, -0.15, 0.1)
		}
		for i := range w.Resistors {
			w.Resistors[i].Value *= 1 + between(rng, -0.005, 0.02)
		}
		w.Draws[w.node] += w.supply / w.ohm / 3 * even(rng, 0.003, 0.05)
	}, []string{"C1"}},
}

// inFeedback puts a resistance between the output and what hangs on it, in the charge alone or in both halves.
func (w *pinned) inFeedback(ohm float64, chargeAlone bool) {
	for i := range w.Resistors {
		if r := &w.Resistors[i]; r.A == "output" && r.B == w.node {
			w.resistor(behind(r, "driven"), "driven", ohm)
			break
		}
	}
	if chargeAlone {
		w.Diodes = append(w.Diodes, fittest.Two{A: "driven", B: "output"})
	}
}

// PinnedBoard is a sound board of a design of its own that the fault has changed, measured by integration; the family is left
// out of every third.
func PinnedBoard(rng *rand.Rand, k *Pinned) (*Board, error) {
	for {
		w := Find(pick(rng, k.Wirings...))
		families := slices.DeleteFunc(slices.Clone(w.Families), func(f string) bool { return f == fit.Ideal })
		b, err := randomDesign(rng, w, pick(rng, families...))
		if err != nil {
			return nil, err
		}
		b.Design.Odds = nil
		h, err := b.hypothesis(recipe{cause: Nothing}, b.Design.Family, 1)
		if err != nil || !ordinary(b.Design.Parts) {
			continue
		}
		b.drawn(rng, h, false)
		s := b.Truth.state
		p := &pinned{Board: h.onBench(s, w.Shares), node: w.Node, supply: s.v[circuit.Supply], ohm: ohms(b.legs(w.Charging, h.circuit), s), scale: 1}
		slices.SortStableFunc(p.Capacitors, func(x, y fittest.Two) int { return rankOf(x, w.Node) - rankOf(y, w.Node) })
		p.tau = p.ohm * p.Capacitors[0].Value
		k.Change(rng, p)
		b.Truth.Cause, b.Truth.Parts = k.Name, k.Guilty
		high, low, err := p.Cycle(false)
		late := p.late * (high + low)
		high, low = high+late, low-late
		if err != nil || !(high > 0 && low > 0) {
			continue
		}
		stretch := math.Exp(s.v[circuit.Clock]) * p.scale
		b.measure(rng, high*stretch, low*stretch, Sharp)
		if suits := h.circuit.Suits; len(suits) > 1 && rng.IntN(3) == 0 {
			b.Design.AnyFamily, b.Design.Family = true, h.circuit.Default
		}
		return &b, nil
	}
}

// rankOf puts the capacitors on the timing node first.
func rankOf(c fittest.Two, node string) int {
	if c.A == node {
		return 0
	}
	return 1
}
