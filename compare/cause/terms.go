package cause

import (
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// term makes the parameter that reads one of the device's terms.
func term(name, unit string, slot circuit.Slot) *Parameter {
	return &Parameter{name, unit, 0, func(v *circuit.Values) float64 { return v[slot] }}
}

// ofSupply is a voltage anywhere between these shares of the supply.
func (b *Board) ofSupply(slot circuit.Slot, low, high float64) posterior.Variable {
	swing := b.Design.Supply.Value - b.Design.Minus.Value
	return posterior.Variable{Slot: slot, Density: posterior.Uniform(low*swing, high*swing)}
}

// oneOrBoth are the cases of a fault of two of the device's terms: the first alone in 0.4 of the odds, the second alone in 0.3, or
// both (common practice).
func (b *Board) oneOrBoth(first, second posterior.Variable, said ...*Parameter) []Case {
	of := func(share float64, own ...posterior.Variable) Case {
		return Case{Share: share, Hypothesis: posterior.Hypothesis{Prior: b.Loose(), Override: own}, Parameters: said}
	}
	return []Case{of(0.4, first), of(0.3, second), of(0.3, first, second)}
}
