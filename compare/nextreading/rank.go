package nextreading

import (
	"cmp"
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
	return compare.Next{Reading: t.name, Kind: t.kind, Part: t.part, Information: bits, Effort: t.effort, Caution: t.caution, Enter: t.enter}
}

// Rank lists the readings worth taking, the best first: most information a minute. explanation names, for each
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
	for _, t := range b.tests() {
		bits := e.information(&t)
		if bits >= worthwhile {
			out = append(out, t.next(bits))
		}
	}
	slices.SortStableFunc(out, func(a, b compare.Next) int {
		return cmp.Compare(b.Information/b.Effort, a.Information/a.Effort)
	})
	return out[:min(count, len(out))]
}
