package comparetest

import (
	"math"
	"math/rand/v2"
	"slices"

	"offbeat/fit"
	"offbeat/fit/fittest"
)

// Board is a problem whose true cause is known.
type Board struct {
	Problem Problem
	Truth   Truth
}

// Truth is what was drawn.
type Truth struct {
	Cause   Cause           // one of Problem.Causes
	Network fittest.Network // the real parts and terms
	LnClock float64         // ln of the instrument's factor
	View    view            // what the capture is of
}

// Value of a part by name.
func (t *Truth) Value(part string) float64 {
	n := &t.Network
	return map[string]float64{"R1": n.R1, "R2": n.R2, "R3": n.R2 * n.Feedback / (1 - n.Feedback), "C1": n.C, "C2": n.C2}[part]
}

// Circuits that the reference knows.
var Circuits = []string{fittest.Astable, fittest.AstableDiode, fittest.AstableOutput, fittest.Monostable,
	fittest.Schmitt, fittest.Multivibrator, fittest.Comparator}

// Parts of each circuit, resistors R and capacitors C.
var Parts = map[string][]string{
	fittest.Astable: {"R1", "R2", "C1"}, fittest.AstableDiode: {"R1", "R2", "C1"},
	fittest.AstableOutput: {"R1", "C1"}, fittest.Monostable: {"R1", "C1"}, fittest.Schmitt: {"R1", "C1"},
	fittest.Multivibrator: {"R1", "C1", "R2", "C2"}, fittest.Comparator: {"R1", "C1", "R2", "R3"},
}

// Ordinary are the causes of a board with one fault of its own parts, timer or instrument; Every are all.
var (
	Ordinary = []string{Nothing, Shifted, OtherValue, Exchanged, Leakage, Thresholds, Discharge, Clock, Unexplained}
	Every    = append(slices.Clone(Ordinary), Aged, Contact, Stray, WrongSignal)
)

// AllCauses lists every cause of those names that a circuit with these parts can have, each part and each pair of parts
// apart, all with odds 1. Two parts that are alike are not listed as exchanged.
func AllCauses(circuit string, parts []fit.Part, names []string) []Cause {
	causes := []Cause{{Nothing, nil, 1}}
	for i, a := range parts {
		causes = append(causes, Cause{Shifted, []string{a.Name}, 1}, Cause{OtherValue, []string{a.Name}, 1})
		for _, b := range parts[:i] {
			causes = append(causes, Cause{Shifted, []string{b.Name, a.Name}, 1})
		}
	}
	for i, a := range parts {
		for _, b := range parts[:i] {
			if a.Kind == b.Kind && (a.Nominal != b.Nominal || a.Minus != b.Minus || a.Plus != b.Plus) {
				causes = append(causes, Cause{Exchanged, []string{b.Name, a.Name}, 1})
			}
		}
	}
	for _, name := range []string{Leakage, Thresholds, Discharge, Clock, Unexplained, Aged, Contact, Stray, WrongSignal} {
		if !Possible(circuit, name) || name == Stray && mostStray < 0.02*capacitor(parts).Nominal {
			continue
		}
		c := Cause{Name: name, Odds: 1}
		if slices.Contains([]string{Aged, Contact}, name) {
			c.Parts = []string{capacitor(parts).Name}
		}
		causes = append(causes, c)
	}
	return slices.DeleteFunc(causes, func(c Cause) bool { return !slices.Contains(names, c.Name) })
}

// capacitor is the first one.
func capacitor(parts []fit.Part) fit.Part {
	return parts[slices.IndexFunc(parts, func(p fit.Part) bool { return p.Kind == fit.Capacitor })]
}

// sitsAt is the part that sits in the place of the one named.
func sitsAt(d *fit.Design, c Cause, name string) fit.Part {
	if c.Name == Exchanged {
		switch name {
		case c.Parts[0]:
			return *d.Part(c.Parts[1])
		case c.Parts[1]:
			return *d.Part(c.Parts[0])
		}
	}
	return *d.Part(name)
}

// RandomBoard draws a design, odds, and a board whose cause is drawn too, by the odds, where cause is nil, or else is a
// random one of those that cause accepts; the board is "measured" by integrating its network from Kirchhoff's law, with
// noise and a clock error. A board that doesn't run is drawn anew, cause and all. terms are the second-order priors; none:
// the ideal family; names are the causes that there are.
func RandomBoard(rng *rand.Rand, circuit string, terms []Term, names []string, cause func(Cause) bool) Board {
	for {
		b := Board{Problem: randomDesign(rng, circuit, names)}
		p := &b.Problem
		p.Terms = terms
		if cause != nil && !slices.ContainsFunc(p.Causes, cause) {
			continue // this design has no such cause
		}
		b.Truth.Cause = drawCause(rng, p.Causes, cause)
		s := drawState(rng, p, b.Truth.Cause)
		b.Truth.Network, b.Truth.LnClock, b.Truth.View = s.n, s.lnClock, s.view
		if measure(rng, &b) {
			read(rng, &b)
			return b
		}
	}
}

// pick draws one of the values.
func pick[T any](rng *rand.Rand, values ...T) T { return values[rng.IntN(len(values))] }

// logUniform draws between low and high.
func logUniform(rng *rand.Rand, low, high float64) float64 {
	return low * math.Pow(high/low, rng.Float64())
}

// randomDesign draws nominals, tolerances, supply, clock class and odds.
func randomDesign(rng *rand.Rand, circuit string, names []string) Problem {
	var p Problem
	nominal := func(low, high float64) float64 {
		v := logUniform(rng, low, high)
		return pick(rng, e24...) * math.Pow(10, math.Floor(math.Log10(v)))
	}
	tolerance := func() float64 { return pick(rng, 0.001, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2) }
	part := func(name string, kind fit.PartKind, value float64) {
		t := tolerance()
		p.Design.Parts = append(p.Design.Parts, fit.Part{Name: name, Kind: kind, Nominal: value, Minus: t, Plus: t})
	}
	p.Design.Circuit = circuit
	for _, name := range Parts[circuit] {
		switch {
		case name == "R3": // the feedback's other half, within a decade of R2
			part(name, fit.Resistor, nominal(p.Design.Parts[2].Nominal/10, p.Design.Parts[2].Nominal*10))
		case name[0] == 'R':
			part(name, fit.Resistor, nominal(1e3, 1e6))
		default:
			part(name, fit.Capacitor, nominal(1e-9, 1e-5))
		}
	}
	p.Design.Supply = fit.Reading{Name: "supply", Value: pick(rng, 5., 9, 12)}
	p.Design.Supply.Half = pick(rng, 0, 0.02, 0.05) * p.Design.Supply.Value
	p.Measured.Clock = pick(rng, 50e-6, 50e-6, 5e-3, 0.02)
	pair := map[string]float64{}
	for i, c := range AllCauses(circuit, p.Design.Parts, names) {
		if i > 0 {
			c.Odds = logUniform(rng, 0.003, 0.5)
		}
		if len(c.Parts) == 2 { // each pair has the first one's odds
			if pair[c.Name] == 0 {
				pair[c.Name] = c.Odds
			}
			c.Odds = pair[c.Name]
		}
		p.Causes = append(p.Causes, c)
	}
	return p
}

// drawCause draws by the odds, or evenly among the wanted ones.
func drawCause(rng *rand.Rand, causes []Cause, wanted func(Cause) bool) Cause {
	weight := func(c Cause) float64 {
		switch {
		case wanted == nil:
			return c.Odds
		case wanted(c):
			return 1
		}
		return 0
	}
	total := 0.
	for _, c := range causes {
		total += weight(c)
	}
	u := rng.Float64() * total
	for _, c := range causes {
		if u -= weight(c); u < 0 {
			return c
		}
	}
	return causes[0]
}

// measure fills in the times that the instrument shows; false if the board doesn't run.
func measure(rng *rand.Rand, b *Board) bool {
	n := b.Truth.Network
	m := &b.Problem.Measured
	if b.Truth.Cause.Name == Unexplained {
		for _, part := range b.Problem.Design.Parts {
			s := state{n: n}
			partSetters[part.Name](&s, math.Log(part.Nominal))
			n = s.n
		}
	}
	high, low, err := fittest.Integrate(n)
	if b.Truth.View == ofTheNode && err == nil {
		high, low, err = fittest.Midway(n)
	}
	if b.Truth.View == inverted {
		high, low = low, high
	}
	if err != nil {
		return false
	}
	if b.Truth.Cause.Name == Unexplained {
		misfit := pick(rng, misfits...)
		high *= math.Exp(misfit * rng.NormFloat64())
		low *= math.Exp(misfit * rng.NormFloat64())
	}
	// The errors of high and low time are correlated through a third, common one.
	uHigh, uLow, common := logUniform(rng, 1e-5, 3e-3), logUniform(rng, 1e-5, 3e-3), pick(rng, 0, 0.5, -0.5)
	first, second := rng.NormFloat64(), rng.NormFloat64()
	clock := math.Exp(b.Truth.LnClock)
	high *= clock * math.Exp(uHigh*first)
	low *= clock * math.Exp(uLow*(common*first+math.Sqrt(1-common*common)*second))
	m.High = fit.Estimate{Value: high, Uncertainty: uHigh * high, Count: 100}
	m.Cycles = 100
	if low > 0 {
		m.Low = fit.Estimate{Value: low, Uncertainty: uLow * low, Count: 100}
		m.Covariance = common * uHigh * uLow * high * low
	}
	return true
}

// read takes direct readings, none on half of the boards.
func read(rng *rand.Rand, b *Board) {
	if rng.IntN(2) == 0 {
		return
	}
	n := &b.Truth.Network
	reading := func(name string, value float64) {
		if rng.IntN(3) > 0 {
			return
		}
		r := fit.Reading{Name: name}
		size := value * logUniform(rng, 1e-3, 2e-2)
		if rng.IntN(2) == 0 {
			r.Half = size
			r.Value = value + size*(2*rng.Float64()-1)
		} else {
			r.Standard = size / 2
			r.Value = value + size/2*rng.NormFloat64()
		}
		b.Problem.Design.Readings = append(b.Problem.Design.Readings, r)
	}
	for _, part := range b.Problem.Design.Parts {
		reading(part.Name, b.Truth.Value(part.Name))
	}
	reading("supply", n.Supply)
	if Possible(b.Problem.Design.Circuit, Thresholds) {
		reading("control", n.Upper*n.Supply)
	}
}
