package document

import (
	"cmp"
	"fmt"
	"math"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/plane"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
)

// causeFloor is the probability below which a cause is only counted.
const causeFloor = 0.03

// causes lists the causes with why, beside the plane of times.
func (b *Basis) causes() Section {
	f := b.Finding
	s := Section{ID: "causes", Heading: "Causes"}
	if len(f.Causes) == 0 {
		return s
	}
	if b.Evidence != nil && f.Measured.High != nil {
		s.Layout = Trio
		s.draw(func(id string) picture.Picture {
			p := plane.Of(f, b.Evidence)
			p.Likely = likeliest(f.Causes)
			return picture.Plane(id, &p)
		}, b.fits)
	}
	s.table(causeTable(f.Causes), Always)
	s.labelled(Sentence, "Why", f.Reasoning)
	if text := fixed(f.Groups); text != "" {
		s.add(Block{Label: "Fixed by the times", Text: text, Show: Detail})
	}
	confounded(&s, f.Confounded)
	for _, c := range f.Causes {
		s.Records = append(s.Records, Record{Kind: "cause", Name: strings.Join(append([]string{c.Cause}, c.Parts...), " "), Unit: c.Unit, Value: c.Value, Probability: &c.Probability, Detail: c.Detail})
	}
	for _, g := range f.Groups {
		s.Records = append(s.Records, Record{Kind: "group", Name: g.Group, Unit: g.Unit, Nominal: &g.Nominal, Value: &g.Value, Uncertainty: &g.Uncertainty})
	}
	return s
}

// mostFits is how many causes are shown against every capture.
const mostFits = 5

// fits draws how well the likeliest causes predict every capture.
func (b *Basis) fits(id string) picture.Picture {
	times, fits, alone := plane.FitsOf(b.Evidence, mostFits)
	captures := 0
	for _, t := range times {
		captures = max(captures, t.Capture+1)
	}
	names := make([]string, len(times))
	for i, t := range times {
		names[i] = map[bool]string{false: "high time", true: "low time"}[t.Low]
		if all := b.Finding.Captures; captures > 1 && captures == len(all) {
			names[i] += ", " + path.Base(filepath.ToSlash(words.Source(&all[t.Capture], all)))
			for _, n := range all[t.Capture].Notes {
				if with, ok := strings.CutPrefix(n, "taken with "); ok {
					names[i] += " with " + with
				}
			}
		} else if captures > 1 {
			names[i] += fmt.Sprint(", capture ", t.Capture+1)
		}
	}
	return picture.Fits(id, names, fits, alone)
}

// A share of a deviation below smallShare of the largest counts with the rest, and so do what comes after mostShares and what
// no listed cause explains, unless that is the largest.
const (
	smallShare = 0.15
	mostShares = 4
)

// sharedOut says what a quantity misses its target by, or the nominal without one, and of what: "19 % low: C1 makes −16 %,
// R2 −3.5 %, rest −0.3 %". The shares are of the logarithm, so that they add up to the whole.
func sharedOut(all []compare.Deviation, causes []compare.Cause) string {
	whole, named := 0.0, 0.0
	var largest float64
	for _, d := range all {
		whole += d.Value
		largest = max(largest, math.Abs(d.Value))
	}
	if math.Abs(whole) < 5e-4 {
		return ""
	}
	var names []string
	var values []float64
	for _, d := range all {
		if size := math.Abs(d.Value); size < smallShare*largest || len(names) == mostShares || d.Of == cause.Unexplained && size < largest {
			continue
		}
		of := d.Of
		if of == "design" {
			of = "the design's nominal"
		} else if at := slices.IndexFunc(causes, func(c compare.Cause) bool { return c.Cause == d.Of && of != cause.Unexplained }); at >= 0 {
			of = cause.Title(of, causes[at].Parts)
		}
		names, values, named = append(names, of), append(values, d.Value), named+d.Value
	}
	if rest := whole - named; len(names) < len(all) && math.Abs(rest) >= 5e-4 {
		names, values = append(names, "rest"), append(values, rest)
	}
	side := "high"
	if whole < 0 {
		side = "low"
	}
	total, parts := shares(whole, names, values)
	return fmt.Sprintf("%s %s: %s.", strings.TrimLeft(total, "+\u2212"), side, strings.Join(parts, ", "))
}

// shares writes a logarithm as a relative change, and its terms as shares of that which add up to what is printed of it: each is
// the difference of two rounded sums, and the last takes what is too small for a term of its own. Beyond twice they are factors,
// and multiply.
func shares(whole float64, names []string, terms []float64) (total string, parts []string) {
	change := math.Expm1(whole)
	if change >= 1 {
		factor := func(ln float64) string { return words.Deviation(math.Exp(ln), 0, 1) }
		for i, x := range terms {
			parts = append(parts, names[i]+" "+factor(x))
		}
		return factor(whole), parts
	}
	sum, before := 0.0, 0.0
	for i, x := range terms {
		if sum += x; i == len(terms)-1 {
			sum = whole
		}
		if to := math.Round(1000 * change * sum / whole); to != before {
			parts, before = append(parts, names[i]+" "+words.Signed(1, (to-before)/10)+" %"), to
		}
	}
	return words.Signed(1, before/10) + " %", parts
}

// gathered is the probability below which the explanations of one kind stand in one row.
const gathered = 0.05

// causeTable lists causes, the likeliest first: small ones of a kind in one row, and all those are only counted that are
// smaller still.
func causeTable(causes []compare.Cause) *Table {
	t := &Table{Heads: Detail, Caption: "Prior odds are against nothing being wrong = 1.", Columns: []Column{{Head: "probability", Number: true}, {Head: "cause", Name: true}, {Head: "prior odds", Number: true, Show: Detail}}}
	type entry struct {
		p, odds float64
		text    string
		count   int
	}
	var rows []*entry
	kinds := map[string]*entry{}
	for i := range causes {
		c := &causes[i]
		kind := cause.Of(c.Cause, c.Parts).Kind
		if e := kinds[kind]; e != nil && c.Probability < gathered {
			e.p, e.odds, e.text, e.count = e.p+c.Probability, e.odds+c.PriorOdds, kind, e.count+1
			continue
		}
		e := &entry{c.Probability, c.PriorOdds, c.Detail, 1}
		rows = append(rows, e)
		if c.Probability < gathered && len(c.Parts) > 1 {
			kinds[kind] = e
		}
	}
	slices.SortStableFunc(rows, func(a, b *entry) int { return -cmp.Compare(a.p, b.p) })
	small := entry{}
	row := func(e *entry, odds string) {
		t.Rows = append(t.Rows, []Cell{{Text: quantity.Probability(e.p), Share: e.p}, {Text: e.text}, {Text: odds}})
	}
	for i, e := range rows {
		if e.p < causeFloor && i > 0 {
			small.p, small.count = small.p+e.p, small.count+e.count
			continue
		}
		row(e, words.Short(e.odds))
	}
	if small.text = fmt.Sprintf("%s, each below %g %%", quantity.Plural(small.count, "other"), 100*causeFloor); small.count > 0 {
		row(&small, "")
	}
	return t
}

// fixed are the products and ratios that the times fix with no assumption about any part.
func fixed(groups []compare.Group) string {
	var all []string
	for _, g := range groups {
		u := quantity.InJSON[g.Unit]
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

// confounded lists what cannot be told from what, without what the list of causes says by itself; what holds of every
// board of the circuit is for who asks.
func confounded(s *Section, all []string) {
	for _, c := range all {
		b := Block{Kind: Point, Text: c}
		switch {
		case strings.HasPrefix(c, compare.NotExcluded):
			continue
		case strings.HasPrefix(c, compare.TimesSee), strings.HasPrefix(c, compare.ClockAlike):
			b.Show = Detail
		}
		s.add(b)
	}
}

// likeliest is the first of the causes with its probability.
func likeliest(causes []compare.Cause) string {
	if len(causes) == 0 {
		return ""
	}
	return cause.Title(causes[0].Cause, causes[0].Parts) + ", " + quantity.Probability(causes[0].Probability)
}
