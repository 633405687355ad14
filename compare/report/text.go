package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/caution"
)

// Text writes a finding for a person: the answer in one line, measured against expected, each part across its
// tolerance, the causes, what to read next and how to do it safely.
func Text(w io.Writer, f *compare.Finding, s Style) error {
	p := newPrinter(w, s)
	p.opening(f.Finding, f.Title)
	if f.Latch != nil {
		p.latch(f)
	} else {
		p.times(f)
		p.verdict(f)
		p.parts(f)
		p.since(f)
		p.groups(f)
		p.waveform(f.Waveform)
		p.stability(f.Stability, false)
		p.causes(f)
		p.next(f)
	}
	p.captures(f.Captures)
	return p.close(f.Warnings, caution.Qualified)
}

// Line writes a finding's one sentence.
func Line(w io.Writer, f *compare.Finding) error {
	said := map[string]bool{}
	guess := ""
	for _, c := range f.Captures {
		if g := guessed(c); !said[g] {
			guess, said[g] = guess+g, true
		}
	}
	_, err := fmt.Fprintln(w, f.Finding+guess)
	return err
}

// attributes of the verdict's results.
var attributes = map[string]string{"pass": green, "fail": red, "undecided": yellow}

// times sets the measured times against what the design promises.
func (p *printer) times(f *compare.Finding) {
	p.heading("MEASURED AND EXPECTED")
	measured, predicted := pick(&f.Measured), pick(&f.Predicted)
	var rows [][]cell
	for i, t := range timeRows {
		m, e := measured[i], predicted[i]
		if m == nil {
			continue
		}
		row := plain(t.name, quantity.PlusMinus(m.Value, m.Uncertainty, t.unit), "", "", "", "")
		if e != nil {
			row[2].text = among(e.Nominal, e.Low, e.High, t.unit)
			row[3].text = span(e.Low, e.High, t.unit)
			row[4].text = side(m.Value, e.Low, e.High)
		}
		for _, v := range f.Verdict.Each {
			if v.Quantity == t.key {
				row[5] = cell{span(v.Limits[0], v.Limits[1], t.unit) + ": " + v.Result, attributes[v.Result]}
			}
		}
		rows = append(rows, row)
	}
	p.table([]column{{head: ""}, {head: "measured"}, {head: "design", drop: 3}, {head: "parts in tolerance", drop: 2}, {head: "", drop: 1}, {head: "target"}}, rows)
	if m := f.Measured.Period; m != nil {
		p.line("  ± is one standard uncertainty; %s.", plural(m.Count, "whole cycle"))
	} else {
		p.line("  ± is one standard uncertainty; %s.", plural(f.Measured.High.Count, "whole pulse"))
	}
}

// side says where a value lies against limits.
func side(v, low, high float64) string {
	switch {
	case v < low:
		return "below"
	case v > high:
		return "above"
	}
	return "inside"
}

func (p *printer) verdict(f *compare.Finding) {
	v := f.Verdict
	if v.Result == "" || v.Result == "no target" {
		p.line("  No target is set, so there is no verdict.")
		return
	}
	text := "Verdict: " + v.Result + " (" + spaced(v.Quantity) + ")."
	for _, q := range v.Each {
		if q.Quantity == v.Quantity {
			text += " Probability of lying within its limits: " + Percent(q.ProbabilityIn) + "."
		}
	}
	p.prose("  ", "  ", text)
	if p.style.Explain {
		p.prose("  ", "  ", "Rule: "+v.Rule+".")
	}
}

// parts draws each part across its tolerance.
func (p *printer) parts(f *compare.Finding) {
	if len(f.Parts) == 0 {
		return
	}
	p.heading("PARTS, EACH ACROSS ITS TOLERANCE")
	width := 31
	if p.style.Width < 100 {
		width = 21
	}
	var rows [][]cell
	for _, q := range f.Parts {
		u := units[q.Unit]
		rows = append(rows, []cell{{text: q.Name}, {text: toleranceOf(q)}, {text: among(q.Value, q.Interval95[0], q.Interval95[1], u)},
			{text: span(q.Interval95[0], q.Interval95[1], u)}, {text: toleranceBar(q, width)}, outOfTolerance(q.OutOfTolerance)})
	}
	p.table([]column{{head: ""}, {head: "design", drop: 1}, {head: "likely"}, {head: "95 % interval", drop: 2}, {head: ""}, {head: "out of tolerance"}}, rows)
	p.prose("  ", "  ", "[ ] limits, | nominal, = 95 % interval, o likely value, < > beyond the scale")
}

// groups are what the times tell with no assumption about the parts.
func (p *printer) groups(f *compare.Finding) {
	if len(f.Groups) == 0 {
		return
	}
	p.heading("WHAT THE TIMES ALONE PIN DOWN")
	var rows [][]cell
	for _, g := range f.Groups {
		u := units[g.Unit]
		value, nominal := quantity.PlusMinus(g.Value, g.Uncertainty, u), quantity.Format(g.Nominal, u)
		if u == quantity.Number {
			value, nominal = quantity.Bare(g.Value, g.Uncertainty), short(g.Nominal)
		}
		rows = append(rows, plain(g.Group, value, "design "+nominal, change(g.Value, g.Nominal)))
	}
	p.table([]column{{}, {}, {}, {right: true}}, rows)
}

// causeFloor is the probability below which a cause is only counted.
const causeFloor = 0.01

func (p *printer) causes(f *compare.Finding) {
	p.heading("CAUSES")
	small, rest := 0, 0.0
	for i, c := range f.Causes {
		if c.Probability < causeFloor && i > 0 {
			small, rest = small+1, rest+c.Probability
			continue
		}
		text := c.Detail
		if p.style.Explain {
			text += fmt.Sprintf(" (prior odds %s)", short(c.PriorOdds))
		}
		p.cause(c.Probability, text)
	}
	if small > 0 {
		p.cause(rest, plural(small, "other cause")+", each below 1 %")
	}
	if f.Reasoning != "" {
		p.prose("  Why: ", "  ", f.Reasoning)
	}
	for _, c := range beyondTheList(f.Confounded) {
		p.prose("  - ", "    ", c)
	}
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

// cause writes one line of the list; the bar goes where the page is narrow.
func (p *printer) cause(probability float64, text string) {
	first := fmt.Sprintf("  %8s  ", Percent(probability))
	if p.style.Width >= 80 {
		first += fmt.Sprintf("%-20s  ", probabilityBar(probability, 20))
	}
	p.prose(first, strings.Repeat(" ", len(first)), text)
}

func (p *printer) next(f *compare.Finding) {
	p.heading("NEXT READING")
	if len(f.Next) == 0 {
		p.line("  No reading of the usual ones would tell much more.")
		return
	}
	for i, n := range f.Next {
		p.prose(fmt.Sprintf("  %d. ", i+1), "     ", fmt.Sprintf("%s (%ss about the cause, %s)", n.Reading, bits(n.Information), plural(int(math.Ceil(n.Effort)), "minute")))
		if i == 0 || n.Caution != f.Next[i-1].Caution {
			p.prose("     Caution: ", "     ", n.Caution)
		}
		if n.Enter != "" {
			p.prose("     Then: ", "     ", n.Enter)
		}
	}
}

// captures says what was read.
func (p *printer) captures(all []compare.Capture) {
	if len(all) == 0 {
		return
	}
	p.heading("READ FROM")
	for _, c := range all {
		text := fmt.Sprintf("%s: %s, %d rows", SourceOf(c, all), c.Shape, c.Rows)
		if c.Skipped > 0 {
			text += fmt.Sprintf(", %d skipped", c.Skipped)
		}
		if c.Cycles > 0 {
			text += ", " + plural(c.Cycles, "whole cycle")
		}
		p.prose("  ", "    ", text)
		for _, n := range c.Notes {
			p.prose("    - ", "      ", n)
		}
		if p.style.Explain {
			for _, e := range c.Evidence {
				p.prose("    because: ", "      ", e)
			}
		}
	}
}

// notes lists what a user should know before believing the numbers.
func (p *printer) notes(all []string) {
	if len(all) == 0 {
		return
	}
	p.heading("NOTES")
	for _, n := range all {
		p.prose("  - ", "    ", n)
	}
}
