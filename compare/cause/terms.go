package cause

import (
	"math"

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
	all := []Case{b.with(said, first), b.with(said, second), b.with(said, first, second)}
	all[0].Share, all[1].Share, all[2].Share = 0.4, 0.3, 0.3
	return all
}

// with is a board, its parts in tolerance, with these quantities of a fault.
func (b *Board) with(said []*Parameter, own ...posterior.Variable) Case {
	return Case{Hypothesis: posterior.Hypothesis{Prior: b.Loose(), Override: own}, Parameters: said}
}

// logUniform is a quantity whose logarithm lies evenly between these limits.
func logUniform(slot circuit.Slot, low, high float64) posterior.Variable {
	return posterior.Variable{Slot: slot, Log: true, Density: posterior.Uniform(math.Log(low), math.Log(high))}
}

// logEven is logUniform of a quantity of either sign: as itself, since one below zero has no logarithm.
func logEven(slot circuit.Slot, low, high float64) posterior.Variable {
	d := posterior.Uniform(low, high).Times(low, high, func(x float64) float64 { return -math.Log(math.Abs(x)) })
	return posterior.Variable{Slot: slot, Density: d.Normalised()}
}
