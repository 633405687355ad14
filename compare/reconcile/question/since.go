package question

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// moved is the mean of the exponential by which a part that has moved differs from what it was, as a logarithm; either
// sign is equally likely. It is the excess of a shifted part with no tolerance to leave first.
const moved = 0.25

// least and most bound which of the earlier causes count: the likeliest few.
const (
	leastEarlier = 0.02
	mostEarlier  = 3
)

// faultsOf are the slots that may differ now: those of every circuit, and the leakages of its further capacitors.
func faultsOf(b *cause.Board) []circuit.Slot {
	out := []circuit.Slot{circuit.Upper, circuit.Half, circuit.LeakRatio, circuit.WeakRatio, circuit.Clock, circuit.Contact, circuit.Stray,
		circuit.DelayFall, circuit.DelayRise, circuit.OutputDrop, circuit.OutputLow, circuit.Bias, circuit.OtherBias, circuit.SwitchVoltage, circuit.Surplus}
	for _, p := range b.Parts {
		if slot, ok := b.Circuit.Leak(p.Name); ok && !slices.Contains(out, slot) {
			out = append(out, slot)
		}
	}
	return out
}

// extra are the quantities' values where nothing has changed.
func (c Changed) extra() []float64 {
	x := make([]float64, c.term(len(c.terms)))
	for i := range x {
		if i >= c.n && i < c.term(0) {
			x[i] = math.NaN()
		}
	}
	return x
}

// present makes the function that turns the board as it was into the board as it is.
func (c Changed) present(k *circuit.Circuit) func(v *circuit.Values, extra []float64) {
	return func(v *circuit.Values, extra []float64) {
		k.Change(v, func(v *circuit.Values) {
			for i := range c.n {
				extra[c.was(i)] = math.Log(v[i])
				if x := extra[c.fresh(i)]; !math.IsNaN(x) {
					v[i] = math.Exp(x)
				} else {
					v[i] *= math.Exp(extra[c.move(i)])
				}
			}
		})
		for i, slot := range c.terms {
			if v[slot] += extra[c.term(i)]; slot != circuit.Bias && slot != circuit.OtherBias {
				v[slot] = max(v[slot], 0)
			}
		}
		for i, slot := range c.faults {
			if x := extra[c.fault(i)]; !math.IsNaN(x) {
				v[slot] = x
			}
		}
	}
}

// Since poses the question of what has moved: for each of the earlier finding's likely causes, everything that may
// have happened to the board after.
func Since(ctx context.Context, b *cause.Board, set []Setting, facts []posterior.Fact, earlier *compare.Finding) (*Question, error) {
	then, err := earlierDatum(b.Circuit, earlier)
	if err != nil {
		return nil, err
	}
	old, now, err := thenAndNow(b.Design)
	if err != nil {
		return nil, err
	}
	facts, err = readFacts(b.Circuit, b.Design, facts)
	if err != nil {
		return nil, err
	}
	c := Changed{n: len(b.Parts), faults: faultsOf(b)}
	p, leaks, err := problem(old, set, facts)
	if err != nil {
		return nil, err
	}
	now.Circuit, p.Context = old.Circuit, ctx
	c.enter(p, b, firstClock(set), then)
	cases, err := c.cases(p, old, now, earlier)
	if err != nil {
		return nil, err
	}
	for i := range leaks { // one from before, or a new one
		f := &leaks[i]
		f.exponent += circuit.Slot(len(c.extra()))
		f.leaks = append(f.leaks, posterior.Extra(c.fault(slices.Index(c.faults, f.leaks[0]))))
	}
	return &Question{Board: b, Problem: p, Cases: still(cases, leaks), Changed: &c}, nil
}

// thenAndNow are the board as it was, of which nothing was read, and what may happen to a board that worked.
func thenAndNow(d *fit.Design) (old, now *cause.Board, err error) {
	unread := *d
	unread.Readings, unread.Looks = nil, nil
	if old, err = cause.NewBoard(&unread); err != nil {
		return nil, nil, err
	}
	worked := unread
	worked.History, worked.Looks = fit.Worked, d.Looks
	now, err = cause.NewBoard(&worked)
	return old, now, err
}

// earlierDatum takes the times of an earlier finding. Their uncertainties hold its instrument's clock, which the joint
// uncertainty of high and low time recovers from the period's.
func earlierDatum(c *circuit.Circuit, f *compare.Finding) (posterior.Datum, error) {
	high, low, period := f.Measured.High, f.Measured.Low, f.Measured.Period
	if high == nil || !c.OnePulse && (low == nil || period == nil) {
		return posterior.Datum{}, errors.New("the baseline has no measured times; expected the JSON of an earlier result of this board")
	}
	m := fit.Measurement{Source: "the baseline", High: fit.Estimate{Value: high.Value, Uncertainty: high.Uncertainty}}
	if !c.OnePulse {
		m.Low = fit.Estimate{Value: low.Value, Uncertainty: low.Uncertainty}
		m.Covariance = (sq(period.Uncertainty) - sq(low.Uncertainty) - sq(high.Uncertainty)) / 2
	}
	if err := usable(c, &m); err != nil {
		return posterior.Datum{}, err
	}
	d := datum(c, &m)
	d.Settled = true
	return d, nil
}

// readFacts adds the design's direct readings, of the board as it is now.
func readFacts(c *circuit.Circuit, d *fit.Design, facts []posterior.Fact) ([]posterior.Fact, error) {
	out, err := nodeFacts(c, d, true)
	for _, r := range d.Readings {
		if slot, part := c.Slot(r.Name); part {
			out = append(out, posterior.Fact{Of: func(v *circuit.Values) float64 { return math.Log(v[slot]) },
				Value: math.Log(r.Value), Half: r.Half / r.Value, Standard: r.Standard / r.Value})
		}
	}
	return slices.Concat(facts, out), err
}

// enter puts the extra quantities before those of the captures' conditions, and the earlier times after the new ones.
func (c *Changed) enter(p *posterior.Problem, b *cause.Board, clock float64, then posterior.Datum) {
	var gains []posterior.Variable
	c.terms, gains = departures(p, b)
	own := c.extra()
	for k := range gains {
		gains[k].Slot = posterior.Extra(c.term(k))
	}
	shift := len(own)
	p.Extra = append(own, p.Extra...)
	for i := range p.Nuisance {
		if p.Nuisance[i].Slot >= posterior.Extra(0) {
			p.Nuisance[i].Slot += circuit.Slot(shift)
		}
		if p.Nuisance[i].Slot == circuit.Clock { // the clock of the new captures; the earlier one is in its uncertainties
			p.Nuisance[i].Slot = posterior.Extra(c.fault(slices.Index(c.faults, circuit.Clock)))
		}
	}
	for i, part := range b.Parts {
		p.Nuisance = append(p.Nuisance, posterior.Variable{Slot: posterior.Extra(c.move(i)), Density: posterior.Normal(0, cause.Drift(part))})
	}
	p.Nuisance = append(p.Nuisance, gains...)
	p.Present = c.present(b.Circuit)
	present := p.Present
	now := func(conditions *func(v *circuit.Values, extra []float64)) {
		own := *conditions
		*conditions = func(v *circuit.Values, extra []float64) {
			present(v, extra)
			if own != nil {
				own(v, extra[shift:])
			}
		}
	}
	for i := range p.Data {
		now(&p.Data[i].Adjust)
	}
	for i := range p.Bounds {
		now(&p.Bounds[i].Adjust)
	}
	p.Data = append(p.Data, then)
}

// leastGain is the relative change of a time below which a term's departure is left out.
const leastGain = 3e-6

// departures are the second-order terms that may differ from visit to visit by so much that it shows, and by how much.
func departures(p *posterior.Problem, b *cause.Board) (slots []circuit.Slot, gains []posterior.Variable) {
	high, low, ok := b.Circuit.Times(&p.Base)
	for _, q := range p.Nuisance {
		sd := cause.Departure(b.Circuit, b.Design.Family, q.Slot)
		if sd == 0 || !ok {
			continue
		}
		v := p.Base
		v[q.Slot] += sd
		h, l, ran := b.Circuit.Times(&v)
		if ran && math.Abs(h/high-1) < leastGain && (b.Circuit.OnePulse || math.Abs(l/low-1) < leastGain) {
			continue
		}
		slots, gains = append(slots, q.Slot), append(gains, posterior.Variable{Density: posterior.Normal(0, sd)})
	}
	return slots, gains
}

// cases crosses the earlier causes with what may have happened since.
func (c Changed) cases(p *posterior.Problem, old, now *cause.Board, earlier *compare.Finding) ([]cause.Case, error) {
	before := likely(old.Cases(), earlier)
	if len(before) == 0 {
		return nil, errors.New("the baseline explains its own times by no cause of this board; expected an earlier result of the same board and design")
	}
	at := *p // the earlier times alone
	at.Data, at.Facts, at.Bounds, at.Present = p.Data[len(p.Data)-1:], nil, nil, nil
	alone, err := posterior.Run(&at, Hypotheses(before))
	if err != nil {
		return nil, fmt.Errorf("the baseline: %w", err)
	}
	after := now.Cases()
	var out []cause.Case
	total := 0.0
	for _, then := range before {
		total += then.Odds
	}
	for i, then := range before {
		for _, what := range after {
			if what.Tie != nil || what.Cause == cause.Unexplained && !what.Unexplained {
				continue // a wrong reading is asked of one visit alone; or it says how the design's board is off, not how one that has drifted was
			}
			if what.Circuit != nil && slices.ContainsFunc(then.Override, func(v posterior.Variable) bool { return now.Circuit.Relative(v.Slot) }) {
				continue // an earlier fault counts from what the wiring of the design charges through
			}
			k := what
			k.Odds = then.Odds / total * what.Odds
			k.Hypothesis = posterior.Hypothesis{Odds: k.Odds, Prior: then.Prior,
				Override: slices.Clone(then.Override), Fixed: slices.Clone(then.Fixed), LogFactor: then.LogFactor + now.Looked(&what), Tie: then.Tie, See: what.See, Circuit: what.Circuit}
			if what.Unexplained {
				k.Unexplained, k.Misfit = true, what.Misfit
				k.LogFactor += alone.Outcomes[i].LogEvidence
			}
			c.happen(&k, &what, now)
			out = append(out, k)
		}
	}
	return out, nil
}

// likely are the cases of the earlier finding's likeliest causes that a board can be built on.
func likely(cases []cause.Case, earlier *compare.Finding) []cause.Case {
	var out []cause.Case
	n := 0
	for _, e := range earlier.Causes {
		if e.Probability < leastEarlier || n == mostEarlier || cause.Of(e.Cause, e.Parts).Passing {
			continue
		}
		n++
		for _, k := range cases {
			if cause.Key(k.Cause, k.Parts) == cause.Key(e.Cause, e.Parts) {
				out = append(out, k)
			}
		}
	}
	return out
}

// happen turns what a cause says of a board into what it says of a change.
func (c Changed) happen(k, what *cause.Case, b *cause.Board) {
	for _, i := range what.Shifts {
		k.Override = append(k.Override, posterior.Variable{Slot: posterior.Extra(c.move(i)), Density: posterior.OutsideValue(1, 1, moved, cause.Up(b.Parts[i]))})
	}
	for _, i := range what.Fitted {
		k.Override = append(k.Override, posterior.Variable{Slot: posterior.Extra(c.fresh(i)), Density: what.Prior[i]})
	}
	for _, v := range what.Override {
		v.Slot = posterior.Extra(c.fault(slices.Index(c.faults, v.Slot)))
		k.Override = append(k.Override, v)
	}
	for _, f := range what.Fixed {
		f.Slot = posterior.Extra(c.fault(slices.Index(c.faults, f.Slot)))
		k.Fixed = append(k.Fixed, f)
	}
}
