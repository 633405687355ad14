package retune

import (
	"cmp"
	"math"
	"slices"

	"offbeat/compare/series"
	"offbeat/fit"
)

// tiers are the series that values are taken from, each with the tolerance that goes with it (IEC 60063:2015
// clause 4 for E12 and E24; the finer ones by common practice).
var tiers = []struct {
	series    series.Series
	tolerance float64
}{
	{series.E12, 0.10}, {series.E24, 0.05}, {series.E48, 0.02}, {series.E96, 0.01}, {series.E192, 0.005},
}

// coarse is how many tiers parts that need no fine value come from: pairs and parts added. Capacitors are made in
// these alone (common practice).
const coarse = 2

// fine is how many tiers a kind of part is made in.
func fine(kind fit.PartKind) int {
	if kind == fit.Capacitor {
		return coarse
	}
	return len(tiers)
}

// Trimmers come in the series E3 (common practice), within a fifth of their travel, and a setting holds to a half
// percent of the travel (common practice for a single turn).
const (
	trimmerTolerance = 0.20
	settability      = 0.005
)

// preferred are the components of the series of that tier in place of, or beside, a part of the design: each is bought
// no worse than the design's part and no worse than its series stands for.
func preferred(p fit.Part, tier int, low, high float64) (out []component) {
	t := tiers[tier].tolerance
	for _, v := range tiers[tier].series.Between(low, high) {
		out = append(out, component{value: v, minus: min(p.Minus, t), plus: min(p.Plus, t), rank: tier})
	}
	return out
}

// stocked is the component that a stock item is.
func (t *tuner) stocked(p fit.Part, i int) component {
	it := t.options.Stock[i]
	c := component{value: it.Value, minus: it.Minus, plus: it.Plus, stock: i + 1}
	if it.Minus == 0 && it.Plus == 0 {
		c.minus, c.plus = p.Minus, p.Plus
	}
	return c
}

// drawer lists the stock items of a part's kind, trimmers or fixed parts.
func (t *tuner) drawer(p fit.Part, trimmers bool) []component {
	var out []component
	for i, it := range t.options.Stock {
		if it.Kind == p.Kind && it.Trimmer == trimmers {
			out = append(out, t.stocked(p, i))
		}
	}
	slices.SortStableFunc(out, func(a, b component) int { return cmp.Compare(a.value, b.value) })
	return out
}

// singles are the components nearest a wanted value: from each of the first tiers the neighbour on either side, and
// the nearest two on either side from stock. A value of several tiers counts to the coarsest.
func (t *tuner) singles(p fit.Part, wanted float64, most int) []component {
	out := around(t.drawer(p, false), wanted, 2)
	for tier := range tiers[:most] {
		for _, c := range around(preferred(p, tier, wanted/2, wanted*2), wanted, 1) {
			if !slices.ContainsFunc(out, func(o component) bool { return same(o.value, c.value) }) {
				out = append(out, c)
			}
		}
	}
	return out
}

func same(a, b float64) bool { return math.Abs(a/b-1) < 1e-6 }

// around gives up to n components below wanted and as many from there up; all is ascending.
func around(all []component, wanted float64, n int) []component {
	i, _ := slices.BinarySearchFunc(all, wanted, func(c component, w float64) int { return cmp.Compare(c.value, w) })
	return slices.Clone(all[max(0, i-n):min(len(all), i+n)])
}

// pairs are two-part combinations near a wanted value, of E12, of E24 and of the stock.
func (t *tuner) pairs(part int, wanted float64) (out []move) {
	p := t.parts[part]
	for tier := range coarse {
		out = append(out, t.paired(part, wanted, preferred(p, tier, wanted/50, wanted*50))...)
	}
	return append(out, t.paired(part, wanted, t.drawer(p, false))...)
}

// paired are the three pairs of either topology nearest a wanted value; all is ascending. Electrolytics in series share their
// voltage by their leaks: there are none such.
func (t *tuner) paired(part int, wanted float64, all []component) (out []move) {
	p := t.parts[part]
	for _, how := range []topology{inSeries, inParallel} {
		if p.Kind == fit.Capacitor && how == inSeries && p.Class == "electrolytic" {
			continue
		}
		adds := how.adds(p.Kind)
		var here []move
		for _, a := range all { // the larger share of the value first
			rest := wanted - a.value
			if !adds {
				rest = a.value * wanted / (a.value - wanted)
			}
			for _, b := range around(all, rest, 2) {
				twice := a.stock > 0 && a.stock == b.stock && t.options.Stock[a.stock-1].Count == 1
				if !twice && (a.value == b.value && a.stock <= b.stock || a.value != b.value && adds == (a.value > b.value)) {
					here = append(here, move{part, replace, how, []component{a, b}})
				}
			}
		}
		off := func(m move) float64 {
			return math.Abs(math.Log(join(p.Kind, how, m.parts[0].value, m.parts[1].value) / wanted))
		}
		slices.SortStableFunc(here, func(a, b move) int { return cmp.Compare(off(a), off(b)) })
		out = append(out, here[:min(3, len(here))]...)
	}
	return out
}

// trimmers are a fixed part and a trimmer that reach the wanted value near the middle of the travel. The travels run
// from a twentieth of the value to the whole of it.
func (t *tuner) trimmers(part int, wanted float64) []move {
	p := t.parts[part]
	travels := t.drawer(p, true)
	for _, v := range series.E3.Between(wanted/20, wanted) {
		if !slices.ContainsFunc(travels, func(o component) bool { return same(o.value, v) }) {
			travels = append(travels, component{value: v, minus: trimmerTolerance, plus: trimmerTolerance})
		}
	}
	var out []move
	for _, travel := range travels {
		rest := wanted - travel.value/2
		if rest < wanted/20 || travel.value < wanted/20 {
			continue
		}
		for _, fixed := range around(t.sorted(t.singles(p, rest, 1)), rest, 1) {
			out = append(out, move{part: part, how: trim, parts: []component{fixed, travel}})
		}
	}
	return out
}

func (t *tuner) sorted(c []component) []component {
	slices.SortStableFunc(c, func(a, b component) int { return cmp.Compare(a.value, b.value) })
	return c
}

// fittings are the moves with real components that come near a plan's wanted value (its logarithm x).
func (t *tuner) fittings(m move, x float64) []move {
	p, wanted := t.parts[m.part], math.Exp(x)
	var out []move
	add := func(c component) { out = append(out, move{part: m.part, how: m.how, parts: []component{c}}) }
	switch m.how {
	case trim:
		return t.trimmers(m.part, wanted)
	case turn:
		r := t.parts[m.part].Track
		spread := max(r.Half, 2*r.Standard) / r.Value
		return []move{{part: m.part, how: turn, parts: []component{{}, {value: r.Value, minus: spread, plus: spread}}}}
	case replace:
		for _, c := range t.singles(p, wanted, fine(p.Kind)) {
			add(c)
		}
		return append(out, t.pairs(m.part, wanted)...)
	}
	for _, c := range t.singles(p, wanted, coarse) {
		add(c)
	}
	return out
}
