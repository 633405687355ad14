package reconcile

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/compare/cause"
	"offbeat/compare/nextreading"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
	"offbeat/fit/waveform"
)

// Observation is one capture of the board with what was special about it.
type Observation struct {
	Measurement *fit.Measurement
	Conditions  []fit.Condition  // none: the design's own
	Facts       []posterior.Fact // what else was read of the board
	Waveform    *waveform.Result // its capacitor's waveform in the same capture; nil: none
}

// setting is one set of conditions with all captures taken under it, as one measurement.
type setting struct {
	conditions []fit.Condition
	loads      int     // the number of the set of loads that the conditions hang on the board, from 1; 0: none
	clock      float64 // relative limit of the instrument's clock
	captures   []*fit.Measurement
	waves      []*waveform.Result // of those captures that show the capacitor
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
		if o.Waveform != nil && !o.Waveform.Inverted {
			out[k].waves = append(out[k].waves, o.Waveform)
		}
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
		ofPart := k.Kind >= fit.Warmed && k.Kind <= fit.Bypassed
		once := k.Kind < fit.InSeries || k.Kind >= fit.HeldAt
		switch {
		case ofPart && !known:
			return nil, fmt.Errorf("%q: the %s circuit has no part %q; expected one of %s", k.Text, c.Name, k.Part, strings.Join(partNames(c), ", "))
		case k.Kind == fit.Bypassed && !c.Has(circuit.LeakRatio):
			return nil, fmt.Errorf("%q: what a resistor across %s does in the %s circuit is not known", k.Text, k.Part, c.Name)
		case k.Kind == fit.ControlAt && !c.Has(circuit.Upper):
			return nil, fmt.Errorf("%q: the %s circuit has no control pin", k.Text, c.Name)
		case k.Kind != fit.Temperature && k.Kind != fit.Warmed && k.Kind != fit.HeldAt && !(k.Known.Value > 0):
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

// act puts one condition into the values; extra are the problem's extra quantities from the bench's first.
type act func(v *circuit.Values, extra []float64)

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

// leak is the slot of the leakage across a capacitor; false where its voltage never changes, and of a resistor.
func (k *bench) leak(part circuit.Slot) (circuit.Slot, bool) {
	return k.board.Circuit.Leak(k.board.Parts[part].Name)
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

// follows is what may or may not make a leak follow the temperature: the slot of its exponent, and those of the leak.
type follows struct {
	exponent circuit.Slot
	leaks    []circuit.Slot
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

// joined adds two values, or their reciprocals.
func joined(add bool, a, b float64) float64 {
	if add {
		return a + b
	}
	return a * b / (a + b)
}

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

// adjust makes the function that puts a setting's conditions in; nil where there are none. first is the limit of the
// design's own instrument's clock.
func (k *bench) adjust(s *setting, first float64) func(v *circuit.Values, extra []float64) {
	conditions := s.conditions
	if s.clock != first && !s.otherClock() {
		// A clock of another class is another instrument.
		conditions = append(slices.Clone(conditions), fit.Condition{Kind: fit.OtherClock, Known: fit.Reading{Value: s.clock}})
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

// enter gives the problem the extra quantities, each with its uncertainty.
func (k *bench) enter(p *posterior.Problem) {
	for i, u := range k.all {
		p.Extra = append(p.Extra, u.reading.Value)
		if d := spread(u.reading); d != nil {
			p.Nuisance = append(p.Nuisance, posterior.Variable{Slot: posterior.Extra(i), Density: *d})
		}
	}
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
