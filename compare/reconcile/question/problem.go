package question

import (
	"math"
	"slices"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// problem turns a board and what was measured of it into what all hypotheses share, and says which leaks may follow the
// temperature.
func problem(b *cause.Board, set []Setting, facts []posterior.Fact) (*posterior.Problem, []follows, error) {
	d := b.Design
	standing, err := stills(b.Circuit, d, firstClock(set))
	if err != nil {
		return nil, nil, err
	}
	if err := hang(b, set, standing); err != nil {
		return nil, nil, err
	}
	base, err := b.Circuit.Typical(d)
	if err != nil {
		return nil, nil, err
	}
	waves, _, err := WaveFacts(d, b.Circuit, &base, set, len(facts))
	if err != nil {
		return nil, nil, err
	}
	nodes, err := nodeFacts(b.Circuit, d, false)
	if err != nil {
		return nil, nil, err
	}
	p := &posterior.Problem{Circuit: b.Circuit, Base: base, Facts: slices.Concat(facts, nodes, waves)}
	if p.Nuisance, err = beliefs(b, d); err != nil {
		return nil, nil, err
	}
	if s := supply(d); s != nil && (len(p.Nuisance) > 0 || len(waves) > 0) {
		p.Nuisance = append(p.Nuisance, posterior.Variable{Slot: circuit.Supply, Density: *s})
	}
	clock := firstClock(set)
	if clock > 0 {
		p.Nuisance = append(p.Nuisance, posterior.Variable{Slot: circuit.Clock, Density: posterior.Uniform(-clock, clock)})
	}
	known := &bench{board: b}
	for i := range set {
		datum := datum(b.Circuit, set[i].Merged)
		datum.Adjust, datum.Odd = known.adjust(&set[i], clock), set[i].odd
		p.Data = append(p.Data, datum)
	}
	for i := range standing {
		p.Bounds = append(p.Bounds, posterior.Bound{Still: d.Stills[i].Seconds, State: d.Stills[i].State, Coarse: d.Stills[i].Interval, Adjust: known.adjust(&standing[i], clock)})
	}
	known.enter(p)
	return p, known.follows(), nil
}

// stills are the settings in which the output stood still, each in the design's place.
func stills(c *circuit.Circuit, d *fit.Design, clock float64) ([]Setting, error) {
	var out []Setting
	for i := range d.Stills {
		conditions, err := checked(c, d.Stills[i].Conditions)
		if err != nil {
			return nil, err
		}
		out = append(out, Setting{Conditions: conditions, Clock: clock})
	}
	return out, nil
}

// beliefs are the second-order terms of a design's family, the control pin's reading taken in.
func beliefs(b *cause.Board, d *fit.Design) ([]posterior.Variable, error) {
	priors, err := b.Circuit.Beliefs(d)
	var out []posterior.Variable
	for _, q := range priors {
		v := posterior.Variable{Slot: q.Slot, Density: density(q)}
		if q.Slot == circuit.Upper {
			v.Density = b.ReadControl(v.Density)
		}
		out = append(out, v)
	}
	return out, err
}

// firstClock is the limit of the design's own instrument's clock: that of the first setting that names no other.
func firstClock(set []Setting) float64 {
	for i := range set {
		if !set[i].otherClock() {
			return set[i].Clock
		}
	}
	return 0
}

// density turns a term's prior into the back-solve's form.
func density(q circuit.Prior) posterior.Density {
	if q.Form == circuit.Normal {
		return posterior.Normal(q.A, q.B)
	}
	return posterior.Uniform(q.A, q.B)
}

// supply is the prior of the supply's voltage, its direct reading taken in; nil where it is exactly known. What the
// reading says against the prior is the same under every hypothesis, so it is left out.
func supply(d *fit.Design) *posterior.Density {
	s := spread(d.Supply)
	if s == nil {
		return nil
	}
	for _, r := range d.Readings {
		if r.Name == "supply" {
			read := cause.ReadPlain(*s, r).Normalised()
			s = &read
		}
	}
	return s
}

// datum takes the logarithms of a measurement's times, which are positive.
func datum(c *circuit.Circuit, m *fit.Measurement) posterior.Datum {
	var d posterior.Datum
	relative := func(e fit.Estimate) float64 { return max(e.Uncertainty/e.Value, leastRelative) }
	h := relative(m.High)
	d.LnHigh, d.High = math.Log(m.High.Value), h*h
	if c.OnePulse {
		d.OnePulse = true
		return d
	}
	l := relative(m.Low)
	d.LnLow, d.Low = math.Log(m.Low.Value), l*l
	d.Covariance = min(max(m.Covariance/(m.High.Value*m.Low.Value), -0.9999*h*l), 0.9999*h*l)
	return d
}

// Adjusted is a design's circuit under conditions, and what these do to its values; what is known of them counts as exact.
func Adjusted(d *fit.Design, conditions []fit.Condition) (*circuit.Circuit, func(v *circuit.Values), error) {
	b, err := cause.NewBoard(d)
	if err != nil {
		return nil, nil, err
	}
	checked, err := checked(b.Circuit, conditions)
	if err != nil {
		return nil, nil, err
	}
	known, set := &bench{board: b}, []Setting{{Conditions: checked}}
	if err := hang(b, set); err != nil {
		return nil, nil, err
	}
	act := known.adjust(&set[0], 0)
	extra := make([]float64, len(known.all))
	for i, u := range known.all {
		extra[i] = u.reading.Value
	}
	return b.Circuit, func(v *circuit.Values) { act(v, extra) }, nil
}
