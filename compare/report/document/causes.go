package document

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/plane"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
)

// causeFloor is the probability below which a cause is only counted.
const causeFloor = 0.01

// causes lists the causes with why, beside the plane of times.
func (b *Basis) causes() Section {
	f := b.Finding
	s := Section{ID: "causes", Heading: "Causes"}
	if len(f.Causes) == 0 {
		return s
	}
	if b.Evidence != nil {
		s.Layout = Pair
		s.draw(always(func(id string) picture.Picture {
			p := plane.Of(f, b.Evidence)
			p.Likely = likeliest(f.Causes)
			return picture.Plane(id, &p)
		}))
	}
	s.table(causeTable(f.Causes), Always)
	s.labelled(Sentence, "Why", f.Reasoning)
	s.labelled(Sentence, "Fixed by the times", fixed(f.Groups))
	if len(f.Deviation) > 0 {
		s.add(Block{Kind: Sentence, Label: "Against the target", Text: sharedOut(f.Deviation), Show: Detail})
	}
	s.points(beyondTheList(f.Confounded)...)
	for _, c := range f.Causes {
		s.Records = append(s.Records, Record{Kind: "cause", Name: strings.Join(append([]string{c.Cause}, c.Parts...), " "), Unit: c.Unit, Value: c.Value, Probability: &c.Probability, Detail: c.Detail})
	}
	for _, g := range f.Groups {
		s.Records = append(s.Records, Record{Kind: "group", Name: g.Group, Unit: g.Unit, Nominal: &g.Nominal, Value: &g.Value, Uncertainty: &g.Uncertainty})
	}
	return s
}

// sharedOut says what each quantity misses by, and of what.
func sharedOut(all []compare.Deviation) string {
	var out []string
	for len(all) > 0 {
		n, whole := 0, 0.0
		var parts []string
		for ; n < len(all) && all[n].Quantity == all[0].Quantity; n++ {
			whole += all[n].Value
			if math.Abs(all[n].Value) < 5e-4 {
				continue
			}
			parts = append(parts, fmt.Sprintf("%s %s", all[n].Of, factor(all[n].Value)))
		}
		out = append(out, fmt.Sprintf("%s %s: %s.", words.Spaced(all[0].Quantity), factor(whole), strings.Join(parts[:min(len(parts), 5)], ", ")))
		all = all[n:]
	}
	return words.Sentence(strings.Join(out, " "))
}

// factor writes a logarithm as a relative change.
func factor(ln float64) string { return words.Signed(1, 100*math.Expm1(ln)) + " %" }

// causeTable lists causes, the likeliest first; small ones are only counted.
func causeTable(causes []compare.Cause) *Table {
	t := &Table{Heads: Detail, Caption: "Prior odds are against nothing being wrong = 1.", Columns: []Column{{Head: "probability", Number: true}, {Head: "cause", Name: true}, {Head: "prior odds", Number: true, Show: Detail}}}
	small, rest := 0, 0.0
	row := func(p float64, text, odds string) {
		t.Rows = append(t.Rows, []Cell{{Text: words.Percent(p), Share: p}, {Text: text}, {Text: odds}})
	}
	for i := range causes {
		c := &causes[i]
		if c.Probability < causeFloor && i > 0 {
			small, rest = small+1, rest+c.Probability
			continue
		}
		row(c.Probability, c.Detail, words.Short(c.PriorOdds))
	}
	if small > 0 {
		row(rest, words.Plural(small, "other")+", each below 1 %", "")
	}
	return t
}

// fixed are the products and ratios that the times fix with no assumption about any part.
func fixed(groups []compare.Group) string {
	var all []string
	for _, g := range groups {
		u := words.Units[g.Unit]
		value, nominal := quantity.PlusMinus(g.Value, g.Uncertainty, u), quantity.Format(g.Nominal, u)
		if u == quantity.Number {
			value, nominal = quantity.Bare(g.Value, g.Uncertainty), words.Short(g.Nominal)
		}
		all = append(all, g.Group+" "+value+", nominal "+nominal+", "+words.Deviation(g.Value, g.Uncertainty, g.Nominal))
	}
	if all == nil {
		return ""
	}
	return strings.Join(all, "; ") + "."
}

// beyondTheList leaves out what the list of causes says by itself.
func beyondTheList(confounded []string) []string {
	var out []string
	for _, c := range confounded {
		if !strings.HasPrefix(c, compare.NotExcluded) {
			out = append(out, c)
		}
	}
	return out
}

// likeliest is the first of the causes with its probability.
func likeliest(causes []compare.Cause) string {
	if len(causes) == 0 {
		return ""
	}
	return cause.Title(causes[0].Cause, causes[0].Parts) + ", " + words.Percent(causes[0].Probability)
}
