package question

import (
	"math"
	"slices"

	"offbeat/compare/cause"
	"offbeat/compare/nextreading"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// acts make the acts of each kind of condition; at is the place of what is known, part the slot of the part concerned.
var acts = map[fit.ConditionKind]func(k *bench, at int, part circuit.Slot) act{
	fit.SupplyAt: func(_ *bench, at int, _ circuit.Slot) act {
		return func(v *circuit.Values, extra []float64) { v[circuit.Supply] = extra[at] }
	},
	fit.ControlAt: func(_ *bench, at int, _ circuit.Slot) act {
		return func(v *circuit.Values, extra []float64) { v[circuit.Upper] = extra[at] / v[circuit.Supply] }
	},
	fit.OtherClock: func(_ *bench, at int, _ circuit.Slot) act {
		return func(v *circuit.Values, extra []float64) { v[circuit.Clock] = extra[at] }
	},
	fit.Temperature: func(k *bench, at int, _ circuit.Slot) act {
		var all []act
		for i := range k.board.Parts {
			all = append(all, k.warm(at, circuit.Slot(i)))
		}
		return func(v *circuit.Values, extra []float64) {
			for _, a := range all {
				a(v, extra)
			}
		}
	},
	fit.Warmed: (*bench).warm,
	fit.Fraction: func(k *bench, at int, part circuit.Slot) act {
		p := k.board.Parts[part]
		switch {
		case p.Track.Value == 0: // no potentiometer: a fraction of what the part is
			return k.part(func(v *circuit.Values, extra []float64) { v[part] *= extra[at] })
		case p.Position.Value == 0: // nobody knows where it stands in the design
			track := k.place(unknown{key: "track " + p.Name, reading: p.Track})
			return k.part(func(v *circuit.Values, extra []float64) { v[part] = extra[track] * extra[at] })
		}
		position := k.place(unknown{key: "position " + p.Name, reading: p.Position})
		return k.part(func(v *circuit.Values, extra []float64) { v[part] *= extra[at] / extra[position] })
	},
	fit.Swapped: func(k *bench, at int, part circuit.Slot) act {
		return k.part(func(v *circuit.Values, extra []float64) {
			v[part] = extra[at]
			k.board.Circuit.Sound(v, part)
		})
	},
	fit.InSeries: func(k *bench, at int, part circuit.Slot) act {
		add := k.board.Parts[part].Kind == fit.Resistor
		return k.part(func(v *circuit.Values, extra []float64) { v[part] = joined(add, v[part], extra[at]) })
	},
	fit.Bypassed: bypass,
	fit.InParallel: func(k *bench, at int, part circuit.Slot) act {
		add := k.board.Parts[part].Kind == fit.Capacitor
		return k.part(func(v *circuit.Values, extra []float64) { v[part] = joined(add, v[part], extra[at]) })
	},
}

// bypass puts a resistor across a capacitor, beside its own leak.
func bypass(k *bench, at int, part circuit.Slot) act {
	c := k.board.Circuit
	leak, ok := k.leak(part)
	return func(v *circuit.Values, extra []float64) {
		if !ok {
			return // one that lies between sources: nothing comes of it
		}
		charging := c.Charging(v)
		conductance := 1 / extra[at]
		if v[leak] != 0 {
			conductance += 1 / (v[leak] * charging)
		}
		v[leak] = 1 / (conductance * charging)
	}
}

// part makes an act on a part that leaves the faults their ohms.
func (k *bench) part(do act) act {
	c := k.board.Circuit
	return func(v *circuit.Values, extra []float64) {
		c.Change(v, func(v *circuit.Values) { do(v, extra) })
	}
}

// warm makes the act of a part at the temperature at that place. Its temperature coefficient is known only so well.
func (k *bench) warm(at int, part circuit.Slot) act {
	p := k.board.Parts[part]
	coefficient := k.place(unknown{key: "temperature coefficient " + p.Name, reading: fit.Reading{Value: p.Tempco, Half: cause.TempcoSpread(p)}})
	leak, leaks := k.leak(part)
	if !leaks {
		return k.part(func(v *circuit.Values, extra []float64) {
			v[part] *= 1 + extra[coefficient]*(extra[at]-fit.ReferenceTemperature)
		})
	}
	exponent := k.place(unknown{key: "leak's exponent " + p.Name, reading: fit.Reading{Value: 0.5, Half: 0.5}, leak: leak})
	return k.part(func(v *circuit.Values, extra []float64) {
		warmer := extra[at] - fit.ReferenceTemperature
		v[part] *= 1 + extra[coefficient]*warmer
		v[leak] *= math.Pow(nextreading.LeakPerTen, extra[exponent]*warmer/10)
	})
}

// joined adds two values, or their reciprocals.
func joined(add bool, a, b float64) float64 {
	if add {
		return a + b
	}
	return a * b / (a + b)
}

// adjust makes the function that puts a setting's conditions in; nil where there are none. first is the limit of the
// design's own instrument's clock.
func (k *bench) adjust(s *Setting, first float64) func(v *circuit.Values, extra []float64) {
	conditions := s.Conditions
	if s.Clock != first && !s.otherClock() {
		// A clock of another class is another instrument.
		conditions = append(slices.Clone(conditions), fit.Condition{Kind: fit.OtherClock, Known: fit.Reading{Value: s.Clock}})
	}
	var all []act
	loads := 0
	for _, c := range conditions {
		r := c.Known
		if c.Kind == fit.OtherClock {
			r = fit.Reading{Half: c.Known.Value}
		}
		at := k.place(unknown{condition: c, reading: r})
		if _, ok := loadKinds[c.Kind]; ok {
			all = append(all, k.load(at, loads, c))
			if _, own := source(c, k.board.Circuit); !own {
				loads++
			}
			continue
		}
		slot, _ := k.board.Circuit.Slot(c.Part)
		all = append(all, acts[c.Kind](k, at, slot))
	}
	if loads > 0 {
		all = append(all, func(v *circuit.Values, _ []float64) { v[circuit.Loads] = float64(s.loads) })
	}
	if len(all) == 0 {
		return nil
	}
	return func(v *circuit.Values, extra []float64) {
		for _, a := range all {
			a(v, extra)
		}
	}
}
