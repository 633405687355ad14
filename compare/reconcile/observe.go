package reconcile

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// Observation is one capture of the board with what was special about it.
type Observation struct {
	Measurement *fit.Measurement
	Conditions  []fit.Condition  // none: the design's own
	Facts       []posterior.Fact // what else was read of the board: its capacitor's waveform
}

// setting is one set of conditions with all captures taken under it, as one measurement.
type setting struct {
	conditions []fit.Condition
	clock      float64 // relative limit of the instrument's clock
	captures   []*fit.Measurement
	merged     *fit.Measurement
}

// plain says whether the setting is the design's own, by whatever instrument.
func (s *setting) plain() bool {
	return !slices.ContainsFunc(s.conditions, func(c fit.Condition) bool { return c.Kind != fit.OtherClock })
}

// otherClock says whether the setting names an instrument of its own.
func (s *setting) otherClock() bool {
	return slices.ContainsFunc(s.conditions, func(c fit.Condition) bool { return c.Kind == fit.OtherClock })
}

// same says whether two conditions are one thing.
func same(a, b fit.Condition) bool {
	a.Text, b.Text = "", ""
	return a == b
}

// settings sorts the observations by their conditions, in the order in which they first appear, and merges those
// of one setting. The notes say where captures of one setting disagree.
func settings(c *circuit.Circuit, obs []Observation) (out []setting, notes []string, err error) {
	for i := range obs {
		o := &obs[i]
		conditions, err := checked(c, o.Conditions)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", o.Measurement.Source, err)
		}
		if err := usable(c, o.Measurement); err != nil {
			return nil, nil, err
		}
		k := slices.IndexFunc(out, func(s setting) bool {
			return s.clock == o.Measurement.Clock && slices.EqualFunc(s.conditions, conditions, same)
		})
		if k < 0 {
			k = len(out)
			out = append(out, setting{conditions: conditions, clock: o.Measurement.Clock})
		}
		out[k].captures = append(out[k].captures, o.Measurement)
	}
	for k := range out {
		var note string
		out[k].merged, note = merge(out[k].captures, c.OnePulse)
		if note != "" {
			notes = append(notes, note)
		}
	}
	return out, notes, nil
}

// usable refuses times that no board has.
func usable(c *circuit.Circuit, m *fit.Measurement) error {
	good := func(x float64) bool { return x > 0 && !math.IsInf(x, 1) }
	if !good(m.High.Value) || !c.OnePulse && !good(m.Low.Value) {
		return fmt.Errorf("%s: no usable times (high %g s, low %g s); expected both positive: a circuit that does not run has none to compare, so see first that its output switches", m.Source, m.High.Value, m.Low.Value)
	}
	return nil
}

// checked sorts conditions by the order in which they take effect and refuses those that make no sense.
func checked(c *circuit.Circuit, conditions []fit.Condition) ([]fit.Condition, error) {
	out := slices.Clone(conditions)
	slices.SortStableFunc(out, func(a, b fit.Condition) int { return int(a.Kind - b.Kind) })
	for i, k := range out {
		_, known := c.Slot(k.Part)
		ofPart := k.Kind >= fit.Fraction && k.Kind <= fit.InParallel
		once := k.Kind != fit.InSeries && k.Kind != fit.InParallel
		switch {
		case ofPart && !known:
			return nil, fmt.Errorf("%q: the %s circuit has no part %q; expected one of %s", k.Text, c.Name, k.Part, strings.Join(partNames(c), ", "))
		case k.Kind == fit.ControlAt && !c.Has(circuit.Upper):
			return nil, fmt.Errorf("%q: the %s circuit has no control pin", k.Text, c.Name)
		case k.Kind != fit.Temperature && !(k.Known.Value > 0):
			return nil, fmt.Errorf("%q: expected a value above zero", k.Text)
		case k.Kind == fit.Fraction && k.Known.Value > 1:
			return nil, fmt.Errorf("%q: expected a fraction of at most 1", k.Text)
		case once && i > 0 && out[i-1].Kind == k.Kind && out[i-1].Part == k.Part:
			return nil, fmt.Errorf("%q and %q contradict each other; expected one of them", out[i-1].Text, k.Text)
		}
	}
	return out, nil
}

func partNames(c *circuit.Circuit) []string {
	names := make([]string, len(c.Parts))
	for i, p := range c.Parts {
		names[i] = p.Name
	}
	return names
}

// acts say what each kind of condition does to the values, x being what is known.
var acts = map[fit.ConditionKind]func(b *cause.Board, part circuit.Slot, v *circuit.Values, x float64){
	fit.SupplyAt: func(_ *cause.Board, _ circuit.Slot, v *circuit.Values, x float64) { v[circuit.Supply] = x },
	fit.ControlAt: func(_ *cause.Board, _ circuit.Slot, v *circuit.Values, x float64) {
		v[circuit.Upper] = x / v[circuit.Supply]
	},
	fit.OtherClock: func(_ *cause.Board, _ circuit.Slot, v *circuit.Values, x float64) {
		v[circuit.Clock] = x
	},
	fit.Temperature: func(b *cause.Board, _ circuit.Slot, v *circuit.Values, x float64) {
		for i, p := range b.Parts {
			v[i] *= 1 + p.Tempco*(x-fit.ReferenceTemperature)
		}
	},
	fit.Fraction: func(b *cause.Board, part circuit.Slot, v *circuit.Values, x float64) {
		b.Circuit.Change(v, func(v *circuit.Values) { v[part] *= x })
	},
	fit.Swapped: func(b *cause.Board, part circuit.Slot, v *circuit.Values, x float64) {
		b.Circuit.Change(v, func(v *circuit.Values) {
			v[part] = x
			if b.Parts[part].Kind == fit.Capacitor {
				v[circuit.LeakRatio] = 0
			}
		})
	},
	fit.InSeries: func(b *cause.Board, part circuit.Slot, v *circuit.Values, x float64) {
		b.Circuit.Change(v, func(v *circuit.Values) { v[part] = joined(b.Parts[part].Kind == fit.Resistor, v[part], x) })
	},
	fit.InParallel: func(b *cause.Board, part circuit.Slot, v *circuit.Values, x float64) {
		b.Circuit.Change(v, func(v *circuit.Values) { v[part] = joined(b.Parts[part].Kind == fit.Capacitor, v[part], x) })
	},
}

// joined adds two values, or their reciprocals.
func joined(add bool, a, b float64) float64 {
	if add {
		return a + b
	}
	return a * b / (a + b)
}

// bench collects what is known of added and swapped parts: one extra quantity of the problem each.
type bench struct {
	board *cause.Board
	known []fit.Condition
}

// adjust makes the function that puts a setting's conditions in; nil where there are none.
func (k *bench) adjust(s *setting, first float64) func(v *circuit.Values, extra []float64) {
	type step struct {
		act  func(b *cause.Board, part circuit.Slot, v *circuit.Values, x float64)
		part circuit.Slot
		at   int // of the extra quantity
	}
	conditions := s.conditions
	if s.clock != first && !s.otherClock() {
		// A clock of another class is another instrument.
		conditions = append(slices.Clone(conditions), fit.Condition{Kind: fit.OtherClock, Known: fit.Reading{Value: s.clock}})
	}
	var steps []step
	for _, c := range conditions {
		at := slices.IndexFunc(k.known, func(o fit.Condition) bool { return same(o, c) })
		if at < 0 {
			at = len(k.known)
			k.known = append(k.known, c)
		}
		slot, _ := k.board.Circuit.Slot(c.Part)
		steps = append(steps, step{acts[c.Kind], slot, at})
	}
	if len(steps) == 0 {
		return nil
	}
	b := k.board
	return func(v *circuit.Values, extra []float64) {
		for i := range steps {
			steps[i].act(b, steps[i].part, v, extra[steps[i].at])
		}
	}
}

// enter gives the problem the extra quantities, each with its uncertainty.
func (k *bench) enter(p *posterior.Problem) {
	for i, c := range k.known {
		r := c.Known
		if c.Kind == fit.OtherClock {
			r = fit.Reading{Half: c.Known.Value}
		}
		p.Extra = append(p.Extra, r.Value)
		if d := spread(r); d != nil {
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

var errNothing = errors.New("nothing measured; expected at least one capture with whole cycles")
