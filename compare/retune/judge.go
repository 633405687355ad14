package retune

import (
	"math"
	"slices"

	"offbeat/compare"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

// outcome is what a candidate comes to over the drawn boards.
type outcome struct {
	inTarget float64 // share of the boards that meet the whole target
	foretold float64 // share of the boards that run with it, as far as anybody can say
	miss     float64 // mean squared miss of the target, in half-widths, over the boards that run: splits ties
	setting  float64 // median of the trimmer's setting; NaN: none
}

// judge fits the candidate to each board and counts.
func (t *tuner) judge(view []board, k *candidate, keep func(q [5]float64)) outcome {
	in, n := 0, 0
	var o outcome
	var settings []float64
	for i := range view {
		q, setting, ok := t.predict(&view[i], k)
		if !ok {
			continue
		}
		if setting >= 0 {
			settings = append(settings, setting)
		}
		n++
		o.miss += t.miss(q)
		if t.meets(q) {
			in++
		}
		if keep != nil {
			keep(q)
		}
	}
	o.inTarget = float64(in) / float64(len(view))
	o.foretold = float64(n) / float64(len(view))
	o.miss /= float64(max(n, 1))
	o.setting = middle(settings)
	return o
}

func (t *tuner) meets(q [5]float64) bool {
	for _, g := range t.targets {
		if x := q[g.quantity]; x < g.low || x > g.high {
			return false
		}
	}
	return true
}

func (t *tuner) miss(q [5]float64) float64 {
	var s float64
	for _, g := range t.targets {
		r := math.Log(q[g.quantity]/g.value) / g.half
		s += min(r*r, 100)
	}
	return s
}

// predict gives the true quantities of a board with the candidate in. setting is the trimmer's part of its travel,
// -1 where there is none. Not ok: nobody can say, it would not run, or the trimmer does not reach.
func (t *tuner) predict(b *board, k *candidate) (q [5]float64, setting float64, ok bool) {
	if b.unmodelled {
		return b.measured, -1, len(k.moves) == 0 && !k.exchange
	}
	v := &t.work
	t.after(v, b, k)
	if t.changesResistor(k) && t.limits.overloads(v) {
		return q, -1, false
	}
	for i := range k.moves {
		if m := &k.moves[i]; m.adjusts() {
			return t.adjusted(v, m, b.chance[i*perMove:])
		}
	}
	v[circuit.Clock] = 0
	q, ok = predict.Of(t.circuit, v)
	return q, -1, ok && (len(k.moves) == 0 && !k.exchange || t.holds(&q))
}

// holds says whether the timer keeps such a train.
func (t *tuner) holds(q *[5]float64) bool { return t.circuit.OnePulse || !t.limits.tooFast(q[3]) }

// ends are the parts of a trimmer's travel that a setting keeps away from.
const ends = 0.02

// adjusted turns the trimmer until the instrument, with the error of its clock, shows the first quantity of the
// target, and gives what is then true. The setting stays as exact as a hand can make it.
func (t *tuner) adjusted(v *circuit.Values, m *move, chance []float64) (q [5]float64, setting float64, ok bool) {
	fixed, travel := m.parts[0].drawn(chance[0]), m.parts[1].drawn(chance[1])
	g := t.targets[0]
	set := func(s float64) ([5]float64, bool) {
		t.circuit.Change(v, func(v *circuit.Values) { v[m.part] = fixed + s*travel })
		return predict.Of(t.circuit, v)
	}
	shown := func(s float64) (float64, bool) {
		q, ok := set(s)
		return math.Log(q[g.quantity] / g.value), ok
	}
	low, high := ends, 1-ends
	a, okA := shown(low)
	b, okB := shown(high)
	if !okA || !okB || a*b > 0 {
		return q, -1, false
	}
	// The quantities are monotonic and nearly straight in the resistance: regula falsi with the Illinois weights.
	for range 30 {
		s := (low*b - high*a) / (b - a)
		x, ok := shown(s)
		if !ok {
			return q, -1, false
		}
		if setting = s; math.Abs(x) < 1e-5 {
			break
		}
		if x*b < 0 {
			low, a = high, b
		} else {
			a /= 2
		}
		high, b = s, x
	}
	if t.limits.overloads(v) {
		return q, -1, false
	}
	v[circuit.Clock] = 0
	q, ok = set(setting + settability*(2*chance[2]-1))
	return q, setting, ok && t.holds(&q)
}

// bands are the median and the central 95 % of each quantity over the boards.
func (t *tuner) bands(view []board, k *candidate) (compare.Times[compare.Band], outcome) {
	var all [5][]float64
	o := t.judge(view, k, func(q [5]float64) {
		for i := range q {
			all[i] = append(all[i], q[i])
		}
	})
	return compare.TimesOf(t.circuit.OnePulse, func(i int) *compare.Band {
		x := all[i]
		if len(x) == 0 {
			return nil
		}
		slices.Sort(x)
		return &compare.Band{Value: x[len(x)/2], Low: x[len(x)*25/1000], High: x[len(x)*975/1000]}
	}), o
}
