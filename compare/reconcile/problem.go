package reconcile

import (
	"fmt"
	"math"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// leastRelative is the smallest relative uncertainty of a time that the back-solve takes at its word.
const leastRelative = 1e-7

// problem turns a board and its measurements into what all hypotheses share.
func problem(b *cause.Board, ms []*fit.Measurement) (*posterior.Problem, error) {
	d := b.Design
	base, err := b.Circuit.Typical(d)
	if err != nil {
		return nil, err
	}
	priors, err := b.Circuit.Beliefs(d)
	if err != nil {
		return nil, err
	}
	p := &posterior.Problem{Circuit: b.Circuit, Base: base}
	for _, q := range priors {
		v := posterior.Variable{Slot: q.Slot, Density: density(q)}
		if q.Slot == circuit.Upper {
			v.Density = b.ReadControl(v.Density)
		}
		p.Nuisance = append(p.Nuisance, v)
	}
	if s := supply(d); s != nil && len(priors) > 0 {
		p.Nuisance = append(p.Nuisance, posterior.Variable{Slot: circuit.Supply, Density: *s})
	}
	for i, m := range ms {
		datum, err := datum(b.Circuit, m)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", m.Source, err)
		}
		p.Data = append(p.Data, datum)
		if i == 0 && m.Clock > 0 {
			p.Nuisance = append(p.Nuisance, posterior.Variable{Slot: circuit.Clock, Density: posterior.Uniform(-m.Clock, m.Clock)})
		}
	}
	return p, nil
}

// density turns a term's prior into the back-solve's form.
func density(q circuit.Prior) posterior.Density {
	if q.Form == circuit.Normal {
		return posterior.Normal(q.A, q.B)
	}
	return posterior.Uniform(q.A, q.B)
}

// supply is the prior of the supply's voltage; nil where it is exactly known.
func supply(d *fit.Design) *posterior.Density {
	var s posterior.Density
	switch {
	case d.Supply.Standard > 0:
		s = posterior.Normal(d.Supply.Value, d.Supply.Standard)
	case d.Supply.Half > 0:
		s = posterior.Uniform(d.Supply.Value-d.Supply.Half, d.Supply.Value+d.Supply.Half)
	default:
		return nil
	}
	return &s
}

// datum takes the logarithms of a measurement's times.
func datum(c *circuit.Circuit, m *fit.Measurement) (posterior.Datum, error) {
	var d posterior.Datum
	if !(m.High.Value > 0) || (!c.OnePulse && !(m.Low.Value > 0)) {
		return d, fmt.Errorf("no usable times (high %g s, low %g s); expected both positive", m.High.Value, m.Low.Value)
	}
	relative := func(e fit.Estimate) float64 { return max(e.Uncertainty/e.Value, leastRelative) }
	h := relative(m.High)
	d.LnHigh, d.High = math.Log(m.High.Value), h*h
	if c.OnePulse {
		d.OnePulse = true
		return d, nil
	}
	l := relative(m.Low)
	d.LnLow, d.Low = math.Log(m.Low.Value), l*l
	d.Covariance = min(max(m.Covariance/(m.High.Value*m.Low.Value), -0.999*h*l), 0.999*h*l)
	return d, nil
}
