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
	name      string
	tolerance float64
}{
	{"E12", 0.10}, {"E24", 0.05}, {"E48", 0.02}, {"E96", 0.01}, {"E192", 0.005},
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
	trimmerSeries    = "E3"
	trimmerTolerance = 0.20
	settability      = 0.005
)

// preferred is a component of the series of that tier in place of, or beside, a part of the design: it is bought
// no worse than the design's part and no worse than its series stands for.
func preferred(p fit.Part, value float64, tier int) component {
	t := tiers[tier].tolerance
	return component{value: value, minus: min(p.Minus, t), plus: min(p.Plus, t), rank: tier}
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
		all, err := series.Between(wanted/2, wanted*2, tiers[tier].name)
		if err != nil {
			continue
		}
		var here []component
		for _, v := range all {
			here = append(here, preferred(p, v, tier))
		}
		for _, c := range around(here, wanted, 1) {
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

// pairs are the two-part combinations nearest a wanted value, a few of E12, of E24 and of the stock.
func (t *tuner) pairs(part int, wanted float64) []move {
	p := t.parts[part]
	var out []move
	for tier := range coarse {
		names := []string{tiers[tier].name}
		combinations, err := series.Nearest(wanted, p.Kind, series.Options{Names: names, Count: 6, Low: wanted / 50, High: wanted * 50})
		if err != nil {
			continue
		}
		for _, c := range combinations {
			if len(c.Parts) == 2 && usablePair(p, c.Topology) {
				out = append(out, move{part, replace, c.Topology, []component{preferred(p, c.Parts[0], tier), preferred(p, c.Parts[1], tier)}})
			}
		}
	}
	return append(out, t.stockPairs(part, wanted)...)
}

// usablePair says whether a part may be made of two so joined: electrolytics in series share their voltage by
// their leaks.
func usablePair(p fit.Part, how series.Topology) bool {
	return p.Kind == fit.Resistor || how == series.Parallel || p.Class != "electrolytic"
}

// stockPairs are the three nearest pairs of either topology from stock.
func (t *tuner) stockPairs(part int, wanted float64) []move {
	p := t.parts[part]
	all := t.drawer(p, false)
	var out []move
	for _, how := range []series.Topology{series.Series, series.Parallel} {
		var here []move
		for i, a := range all {
			for k, b := range all[:i+1] {
				if i == k && t.options.Stock[a.stock-1].Count == 1 || !usablePair(p, how) {
					continue
				}
				first, second := a, b
				if (p.Kind == fit.Resistor) == (how == series.Parallel) { // the larger share of the value first
					first, second = b, a
				}
				here = append(here, move{part, replace, how, []component{first, second}})
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
	all, err := series.Between(wanted/20, wanted, trimmerSeries)
	for _, v := range all {
		if err == nil && !slices.ContainsFunc(travels, func(o component) bool { return same(o.value, v) }) {
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
