package reconcile

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// Sizes of the shares: samples is how many boards are taken apart, and least the share below which a part or a term is
// counted with the rest of the timer.
const (
	deviationSamples = 64
	leastDeviation   = 1e-5
	measuredNoise    = 1e-3
)

// deviation shares out what each target is missed by, or the nominal frequency where there is no target: the boards that
// explain the times are taken from nominal to what they are one quantity at a time, forth and back again in the reverse
// order, and the mean of the two steps is that quantity's (the Shapley value over two orders: the steps of each order add
// up to the whole by construction). What the boards do not make up of the measured value is the unexplained rest.
func (s *solved) deviation(f *compare.Finding, d *fit.Design) []compare.Deviation {
	if s.Changed != nil || len(s.result.Samples) == 0 || f.Measured.High == nil {
		return nil
	}
	targets := d.Targets
	if len(targets) == 0 {
		targets = []fit.Target{{Quantity: "frequency"}}
		if s.Board.Circuit.OnePulse {
			targets[0].Quantity = "high_time"
		}
	}
	out := []compare.Deviation{}
	for _, t := range targets {
		out = append(out, s.shareOut(f, t)...)
	}
	return out
}

// shareOut does it for one target; one without a value is the nominal.
func (s *solved) shareOut(f *compare.Finding, t fit.Target) []compare.Deviation {
	m := f.Measured.Each()[compare.PlaceOf(t.Quantity)]
	base := s.Problem.Base
	nominal, ok := lnQuantity(s.Board.Circuit, t.Quantity, &base)
	if !ok || m == nil || !(m.Value > 0) {
		return nil
	}
	shares := map[string]float64{}
	whole := math.Log(m.Value) - nominal
	if t.Value > 0 {
		shares["design"] = nominal - math.Log(t.Value)
		whole += shares["design"]
	}
	count, sums := 0.0, map[string]float64{}
	for _, q := range s.result.Comb(deviationSamples, 0.5) {
		steps, ok := s.steps(t.Quantity, q)
		if !ok {
			continue
		}
		count++
		for name, x := range steps {
			sums[name] += x
		}
	}
	for name, x := range sums {
		shares[name] = x / count
	}
	rest := whole
	var out []compare.Deviation
	for _, name := range slices.Sorted(maps.Keys(shares)) { // in one order: the same input gives the same bits
		x := shares[name]
		if math.Abs(x) >= leastDeviation {
			out = append(out, compare.Deviation{Quantity: t.Quantity, Of: name, Value: x})
			rest -= x
		}
	}
	slices.SortFunc(out, func(a, b compare.Deviation) int {
		return cmp.Or(cmp.Compare(math.Abs(b.Value), math.Abs(a.Value)), cmp.Compare(a.Of, b.Of))
	})
	// What is as small as the measurement's own error goes to the largest share, so that all add up.
	if math.Abs(rest) < measuredNoise && len(out) > 0 {
		out[0].Value += rest
		return out
	}
	return append(out, compare.Deviation{Quantity: t.Quantity, Of: cause.Unexplained, Value: rest})
}

// steps takes a board apart.
func (s *solved) steps(quantity string, q *posterior.Sample) (map[string]float64, bool) {
	k := &s.Cases[q.Hypothesis]
	base := s.Problem.Base
	if k.Base != nil {
		base = *k.Base
	}
	var slots []int
	for i := range base {
		if base[i] != q.Values[i] {
			slots = append(slots, i)
		}
	}
	out := map[string]float64{}
	walk := func() bool {
		v := base
		last, ok := lnQuantity(s.Board.Circuit, quantity, &v)
		if !ok {
			return false
		}
		for _, i := range slots {
			v[i] = q.Values[i]
			next, ok := lnQuantity(s.Board.Circuit, quantity, &v)
			if !ok {
				return false
			}
			out[s.nameOf(circuit.Slot(i), k)] += (next - last) / 2
			last = next
		}
		if k.See != nil || k.Circuit != nil {
			out[k.Cause] += (seenQuantity(s.Board.Circuit, quantity, &v, k) - last) / 2
		}
		return true
	}
	forth := walk()
	slices.Reverse(slots)
	return out, forth && walk()
}

// nameOf is whose a slot is under a case: a part's, a cause's, the supply's, or the timer's own.
func (s *solved) nameOf(slot circuit.Slot, k *cause.Case) string {
	if int(slot) < len(s.Board.Parts) {
		return s.Board.Parts[slot].Name
	}
	for _, v := range k.Override {
		if v.Slot == slot {
			return k.Cause
		}
	}
	switch slot {
	case circuit.Supply:
		return "supply"
	case circuit.Clock:
		return "clock"
	}
	return "timer"
}

// lnQuantity is the logarithm of a quantity of a board.
func lnQuantity(c *circuit.Circuit, quantity string, v *circuit.Values) (float64, bool) {
	high, low, ok := c.Times(v)
	return question.LnOf(quantity, high, low), ok
}

// seenQuantity is the same as the case's captures show it.
func seenQuantity(c *circuit.Circuit, quantity string, v *circuit.Values, k *cause.Case) float64 {
	high, low, _ := k.Times(c, v)
	return question.LnOf(quantity, high, low)
}
