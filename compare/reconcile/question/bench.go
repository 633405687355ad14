package question

import (
	"slices"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// unknown is an extra quantity: what it is, and its value with its uncertainty.
type unknown struct {
	key       string // of a condition: empty
	condition fit.Condition
	reading   fit.Reading
	leak      circuit.Slot // whose exponent it is; 0: none's
}

// bench collects the extra quantities of a problem, such as the values of added and swapped parts.
type bench struct {
	board *cause.Board
	all   []unknown
}

// place finds the place of an extra quantity, a new one if need be.
func (k *bench) place(u unknown) int {
	at := slices.IndexFunc(k.all, func(o unknown) bool { return o.key == u.key && same(o.condition, u.condition) })
	if at < 0 {
		at = len(k.all)
		k.all = append(k.all, u)
	}
	return at
}

// leak is the slot of the leakage across a capacitor; false where its voltage never changes, and of a resistor.
func (k *bench) leak(part circuit.Slot) (circuit.Slot, bool) {
	return k.board.Circuit.Leak(k.board.Parts[part].Name)
}

// enter gives the problem the extra quantities, each with its uncertainty.
func (k *bench) enter(p *posterior.Problem) {
	for i, u := range k.all {
		p.Extra = append(p.Extra, u.reading.Value)
		if d := spread(u.reading); d != nil {
			p.Nuisance = append(p.Nuisance, posterior.Variable{Slot: posterior.Extra(i), Density: *d})
		}
	}
}

// spread is the density of a value with limits or a standard uncertainty; nil where it is exact.
func spread(r fit.Reading) *posterior.Density {
	var d posterior.Density
	switch {
	case r.Standard > 0:
		d = posterior.Normal(r.Value, r.Standard)
	case r.Half > 0:
		d = posterior.Uniform(r.Value-r.Half, r.Value+r.Half)
	default:
		return nil
	}
	return &d
}

// follows is what may or may not make a leak follow the temperature: the slot of its exponent, and those of the leak.
type follows struct {
	exponent circuit.Slot
	leaks    []circuit.Slot
}

// follows lists what makes leaks follow the temperature.
func (k *bench) follows() (out []follows) {
	for i, u := range k.all {
		if u.leak != 0 {
			out = append(out, follows{posterior.Extra(i), []circuit.Slot{u.leak}})
		}
	}
	return out
}

// still splits each case of a leak that was warmed in two, each of half its odds: the leak follows the temperature, or it
// does not, as nextreading.LeakExponent says; no lattice meets a single value.
func still(cases []cause.Case, all []follows) []cause.Case {
	for _, f := range all {
		for i := range cases {
			k := &cases[i]
			if !slices.ContainsFunc(k.Override, func(v posterior.Variable) bool { return slices.Contains(f.leaks, v.Slot) }) {
				continue
			}
			k.Odds /= 2
			k.Hypothesis.Odds = k.Odds
			other := *k
			if k.Alike != "" {
				other.Alike += " as warm as cold"
			}
			other.Fixed = append(slices.Clone(k.Fixed), posterior.Fixed{Slot: f.exponent})
			cases = append(cases, other)
		}
	}
	return cases
}

// act puts one condition into the values; extra are the problem's extra quantities from the bench's first.
type act func(v *circuit.Values, extra []float64)
