package comparetest

import (
	"math"
	"math/rand/v2"
	"slices"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/fittest"
)

// Strange is a kind of fault that the causes do not hold as it is: what it does to a sound board, wired node by node, and which
// parts, or which cause, it is right to name (nil: no part is at fault). Its world says who has looked at it: no prior was looked at with
// the kinds of Apart and Last. Figures are common practice where no remark names a source.
type Strange struct {
	World, Name string
	Wirings     []string
	Change      func(rng *rand.Rand, w *bench)
	Guilty      []string
}

// The worlds.
const Known, HeldOut, Third, Apart, Last = "known", "held out", "third", "third, kept apart", "last"

// Worlds lists them.
var Worlds = []string{Known, HeldOut, Third, Apart, Last}

// bench is a board as it stands, with what a fault needs to know of it.
type bench struct {
	*fittest.Board
	node        string
	supply      float64
	ohm, tau    float64 // what the node charges through, and with its capacitor, s
	scale, late float64 // of what is measured: a factor, and the share of the period by which the fall shows late
}

func (w *bench) resistor(a, b string, ohm float64) {
	w.Resistors = append(w.Resistors, fittest.Two{A: a, B: b, Value: ohm})
}

func (w *bench) capacitor(a, b string, farad float64) {
	w.Capacitors = append(w.Capacitors, fittest.Two{A: a, B: b, Value: farad})
}

// junction is a diode from a node, with a resistance behind it, to another.
func (w *bench) junction(from, to string, drop, ohm float64) {
	w.Diodes = append(w.Diodes, fittest.Two{A: from, B: "inside", Value: drop})
	w.resistor("inside", to, ohm)
}

// farads is the timing capacitor's value.
func (w *bench) farads() float64 { return w.Capacitors[0].Value }

// leak hangs a resistance of some times the charging one on the timing node.
func (w *bench) leak(rng *rand.Rand, to string, least, most float64) {
	w.resistor(w.node, to, w.ohm*even(rng, least, most))
}

// upper is the threshold that ends the high state, lower that which ends the low one.
func (w *bench) upper() *float64 { return &w.FallWhen[0].RightBy }
func (w *bench) lower() *float64 { return &w.RiseWhen[0].LeftBy }

// move puts the two thresholds where they are times these factors, and further apart by these volts.
func (w *bench) move(upper, lower, volts float64) {
	*w.upper(), *w.lower() = *w.upper()*upper+volts, *w.lower()*lower-volts
}

// lag draws a delay against the time constant.
func (w *bench) lag(rng *rand.Rand, least, most float64) float64 {
	return w.tau * even(rng, least, most)
}

// fed puts a node in the supply's place where resistors hang on that.
func (w *bench) fed(from string) {
	for i := range w.Resistors {
		if w.Resistors[i].A == "supply" {
			behind(&w.Resistors[i], from)
		}
	}
}

// behind puts a node of its own between an element's first end and where that was.
func behind(e *fittest.Two, node string) (from string) {
	from, e.A = e.A, node
	return from
}

// contact puts a resistance in series with the timing capacitor.
func (w *bench) contact(ohm float64) { w.resistor(behind(&w.Capacitors[0], "foil"), "foil", ohm) }

// soak hangs a slow capacitance on the timing node, as shares of the capacitor and of the time constant.
func (w *bench) soak(share, lag float64) {
	w.capacitor("soaked", "ground", share*w.farads())
	w.resistor(w.node, "soaked", lag*w.tau/(share*w.farads()))
}

// inFeedback puts a resistance between the output and what hangs on it: in both halves, or in one alone, which a diode
// beside it sees to.
func (w *bench) inFeedback(ohm float64, half string) {
	for i := range w.Resistors {
		if r := &w.Resistors[i]; r.A == "output" && r.B == w.node {
			w.resistor(behind(r, "driven"), "driven", ohm)
			break
		}
	}
	switch half {
	case "charge":
		w.Diodes = append(w.Diodes, fittest.Two{A: "driven", B: "output"})
	case "discharge":
		w.Diodes = append(w.Diodes, fittest.Two{A: "output", B: "driven"})
	}
}

func (w *bench) everyResistor(factor func() float64) {
	for i := range w.Resistors {
		w.Resistors[i].Value *= factor()
	}
}

// either draws from one of two ranges.
func either(rng *rand.Rand, a, b, c, d float64) float64 {
	return pick(rng, between(rng, a, b), between(rng, c, d))
}

// between draws evenly.
func between(rng *rand.Rand, low, high float64) float64 { return low + (high-low)*rng.Float64() }

// StrangeBoard is a sound board of a design of its own that the fault has changed, drawn from the family's own terms and parts of
// every class, measured by integration; the family is left out of every third. A board that does not run is drawn anew.
func StrangeBoard(rng *rand.Rand, k *Strange) (*Board, error) {
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
		p := &bench{Board: h.onBench(s, w.Shares), node: w.Node, supply: s.v[circuit.Supply], ohm: ohms(b.legs(w.Charging, h.circuit), s), scale: 1}
		slices.SortStableFunc(p.Capacitors, func(x, y fittest.Two) int { return rankOf(x, w.Node) - rankOf(y, w.Node) })
		p.tau = p.ohm * p.farads()
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

// ordinary says whether the tolerances are such as people buy, so that a fault shows.
func ordinary(parts []fit.Part) bool {
	return !slices.ContainsFunc(parts, func(p fit.Part) bool { return p.Plus > 0.1 || p.Kind == fit.Resistor && p.Plus > 0.05 })
}
