package document_test

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/nextreading"
	"offbeat/compare/report/document"
	"offbeat/compare/report/reporttest"
	"offbeat/compare/report/words"
)

// printed is all the text of a document, without what only a page or only text has.
func printed(d *document.Document) string {
	var b strings.Builder
	fmt.Fprintln(&b, strings.Join(d.Answer, "\n"), "\n", d.Subject)
	for _, s := range d.Sections {
		for _, k := range s.Blocks {
			fmt.Fprintln(&b, k.Label, k.Text)
			if k.Table != nil {
				fmt.Fprintln(&b, k.Table.Caption)
			}
		}
	}
	return b.String()
}

// table is the first table of a section.
func table(t *testing.T, d *document.Document, id string) *document.Table {
	t.Helper()
	for _, s := range d.Sections {
		for _, b := range s.Blocks {
			if s.ID == id && b.Table != nil {
				return b.Table
			}
		}
	}
	t.Fatalf("no table %q", id)
	return nil
}

// No two of the numbers and words that a finding prints contradict each other: every pair that can is walked, on boards that
// were integrated, recorded and reconciled.
func TestNoTwoContradict(t *testing.T) {
	seen := map[string]int{}
	for name, b := range reporttest.Pages(t) {
		f := b.Finding
		if f == nil || f.Latch != nil || b.Proposals != nil || len(f.Causes) == 0 {
			continue
		}
		d := document.Of(b)
		text, top := printed(d), &f.Causes[0]
		wrong := func(format string, args ...any) { t.Errorf("%s: %s", name, fmt.Sprintf(format, args...)) }

		// The headline's probability and the table's first row; the headline's cause and the list of what is excluded.
		first := table(t, d, "causes").Rows[0]
		if first[0].Text != words.Percent(top.Probability) || !strings.Contains(strings.Join(f.Answer, " "), "(probability "+first[0].Text+")") {
			wrong("the headline %q against the first row %q", f.Answer, first[0].Text)
		}
		if _, list, ok := strings.Cut(f.Reasoning, "Excluded: "); ok {
			list, _, _ = strings.Cut(list, ".")
			for _, c := range f.Causes {
				for _, word := range []string{cause.Title(c.Cause, c.Parts), cause.Of(c.Cause, c.Parts).Kind} {
					if seen["excluded"]++; c.Probability >= 0.001 && slices.Contains(strings.Split(list, ", "), word) {
						wrong("%s is excluded and has %s", word, words.Percent(c.Probability))
					}
				}
			}
		}

		// The headline's value of a part lies in the table's interval, and its certainty agrees with P(out of tolerance).
		outside := map[string]float64{}
		for _, c := range f.Causes {
			if c.Cause == "shifted" || c.Cause == "other value" {
				for _, p := range c.Parts {
					outside[p] += c.Probability
				}
			}
		}
		for _, p := range f.Parts {
			if p.Unsupported {
				continue
			}
			if top.Cause == "shifted" && len(top.Parts) == 1 && top.Parts[0] == p.Name && top.Probability > 0.5 {
				if seen["value"]++; top.Value != nil && (*top.Value < p.Interval95[0] || *top.Value > p.Interval95[1]) {
					wrong("the headline has %s at %g, the table within %v", p.Name, *top.Value, p.Interval95)
				}
			}
			if p.OutOfTolerance < outside[p.Name]-0.02 {
				wrong("%s is out of tolerance with %v by the causes and %v by the table", p.Name, outside[p.Name], p.OutOfTolerance)
			}
			if seen["estimate"]++; p.Value < p.Interval95[0] || p.Value > p.Interval95[1] {
				wrong("%s: %g outside %v", p.Name, p.Value, p.Interval95)
			}
		}

		// The verdict, its probability and the word in the headline; the guard band is two standard uncertainties.
		word := map[string]string{"pass": "On target", "fail": "Off target", "undecided": "Undecided"}[f.Verdict.Result]
		if word != "" && !strings.HasPrefix(f.Answer[0], word) {
			wrong("verdict %s, headline %q", f.Verdict.Result, f.Answer[0])
		}
		for _, q := range f.Verdict.Each {
			if seen["verdict"]++; q.Result == "pass" && q.ProbabilityIn < 0.95 || q.Result == "fail" && q.ProbabilityIn > 0.05 {
				wrong("%s: %s with conformance probability %v", q.Quantity, q.Result, q.ProbabilityIn)
			}
		}

		// The times agree with each other, with their sides, and with the nominal and its deviation.
		m := words.Pick(&f.Measured)
		if m[2] != nil {
			if math.Abs(m[3].Value*m[2].Value-1) > 1e-9 || math.Abs(m[4].Value*m[2].Value/m[0].Value-1) > 1e-6 || math.Abs((m[0].Value+m[1].Value)/m[2].Value-1) > 1e-6 {
				wrong("high %v, low %v, period %v, frequency %v, duty factor %v", m[0].Value, m[1].Value, m[2].Value, m[3].Value, m[4].Value)
			}
			if math.Abs(m[3].Uncertainty/m[3].Value/(m[2].Uncertainty/m[2].Value)-1) > 0.02 {
				wrong("period ± %g, frequency ± %g, relative", m[2].Uncertainty/m[2].Value, m[3].Uncertainty/m[3].Value)
			}
		}
		times, e := table(t, d, "times"), words.Pick(&f.Predicted)
		for _, row := range times.Rows {
			i := slices.IndexFunc(words.Times, func(q words.Time) bool { return q.Name == row[0].Text })
			line := ""
			for _, c := range row {
				line += c.Text + " "
			}
			if seen["side"]++; e[i] != nil && strings.Contains(line, "above") != (m[i].Value > e[i].High) || strings.Contains(line, "below") != (m[i].Value < e[i].Low) {
				wrong("%s of %g against %g … %g", line, m[i].Value, e[i].Low, e[i].High)
			}
			if up, down := strings.Contains(line, "+"), strings.Contains(line, " \u2212"); e[i] != nil && (up && m[i].Value < e[i].Nominal || down && m[i].Value > e[i].Nominal) {
				wrong("%s against nominal %g", line, e[i].Nominal)
			}
		}

		// One count of cycles; the shares of a deviation add up to what is printed of it.
		counts := map[string]bool{}
		for _, n := range regexp.MustCompile(`(\d+) whole (cycle|pulse)s?`).FindAllStringSubmatch(d.Subject+"\n"+times.Caption, -1) {
			counts[n[1]] = true
			seen["count"]++
		}
		if len(counts) > 1 {
			wrong("several counts of cycles: %v in %q and %q", counts, d.Subject, times.Caption)
		}
		sums := map[string]float64{}
		for _, q := range f.Deviation {
			sums[q.Quantity] += q.Value
		}
		for q, sum := range sums {
			i := slices.IndexFunc(words.Times, func(t words.Time) bool { return t.Key == q })
			against := 0.0
			if e[i] != nil {
				against = e[i].Nominal
			}
			for _, g := range b.Design.Targets {
				if g.Quantity == q {
					against = g.Value
				}
			}
			if seen["deviation"]++; math.Abs(math.Log(m[i].Value/against)-sum) > 2e-3 {
				wrong("%s: the shares add up to %g, the whole is %g", q, sum, math.Log(m[i].Value/against))
			}
		}

		// Repairs are advised from the threshold on, readings below it; what is done next is no part of what is excluded.
		repair := slices.ContainsFunc(f.Next, func(n compare.Next) bool { return n.Kind == nextreading.Repair })
		if seen["advice"]++; repair != (top.Probability >= 0.95 && cause.Repair(top.Cause, top.Parts) != "") {
			wrong("a repair is advised: %v, with %v for %s", repair, top.Probability, top.Cause)
		}

		// No probability is certain, whatever it is of.
		for _, p := range regexp.MustCompile(`(?:probability|yield) ([<>]? ?[\d.]+) %`).FindAllStringSubmatch(text, -1) {
			if x, err := strconv.ParseFloat(p[1], 64); err == nil && (x <= 0 || x >= 100) {
				wrong("%q", p[0])
			}
		}
	}
	for _, what := range []string{"excluded", "value", "estimate", "verdict", "side", "count", "deviation", "advice"} {
		if seen[what] == 0 {
			t.Errorf("nothing was seen of %q: the test says too little", what)
		}
	}
}
