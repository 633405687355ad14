package nextreading

import (
	"cmp"
	"math"
	"slices"

	"offbeat/compare"
	"offbeat/fit/posterior"
)

// worthwhile is the information in bits below which a reading is not worth a trip to the bench.
const worthwhile = 0.02

// Direct lists the readings of the parts themselves, the quickest first: where no listed cause explains the times, no
// reading can be ranked by what it tells between them.
func Direct(b *Bench) []compare.Next {
	var out []compare.Next
	for _, t := range b.tests() {
		if t.kind == Resistance || t.kind == Capacitance {
			out = append(out, t.next(0))
		}
	}
	slices.SortStableFunc(out, func(a, b compare.Next) int { return cmp.Compare(a.Effort, b.Effort) })
	return out
}

// next is the reading as a finding lists it.
func (t *test) next(bits float64) compare.Next {
	return compare.Next{Reading: t.name, Kind: t.kind, Part: t.part, Information: bits, Effort: math.Ceil(t.effort - 0.1), Caution: t.caution, Enter: t.enter}
}

// perMinute is what readings are ranked by: the share that they tell, in whole percent, a whole minute, as both are printed.
func perMinute(n *compare.Next) float64 { return math.Round(100*n.Tells) / n.Effort }

// Rank lists the looks and readings worth taking, the best first: what tells most a minute. explanation names, for each
// hypothesis of the result, the explanation it belongs to.
func Rank(b *Bench, r *posterior.Result, explanation []string, count int) []compare.Next {
	out := []compare.Next{}
	if len(r.Samples) == 0 {
		return out
	}
	e := b.estimator(r, explanation)
	if e.before < worthwhile {
		return out
	}
	add := func(t test, bits float64) {
		n := t.next(bits)
		n.Tells = min(bits/e.before, 1)
		if bits >= worthwhile && math.Round(100*n.Tells) > 0 {
			out = append(out, n)
		}
	}
	group, groups := numbered(explanation)
	for _, l := range b.looks() {
		add(l.next(b), b.informationOf(l, r, group, groups))
	}
	for _, t := range b.tests() {
		add(t, e.information(&t))
	}
	slices.SortStableFunc(out, func(a, b compare.Next) int {
		return cmp.Or(cmp.Compare(perMinute(&b), perMinute(&a)), cmp.Compare(b.Information, a.Information))
	})
	return out[:min(count, len(out))]
}
