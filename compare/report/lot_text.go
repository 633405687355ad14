package report

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/lot"
)

// LotText writes a lot's report for a person: the decision with its risk, what moved for the whole lot, which
// boards stand out, what measuring adds.
func LotText(w io.Writer, r *lot.Report, s Style) error {
	p := newPrinter(w, s)
	p.opening(r.Finding, r.Title)
	p.acceptance(r)
	p.capability(r)
	p.reels(r)
	p.standing(r)
	p.control(r)
	p.gauges(r)
	p.follows(r.Follows)
	p.lots(r)
	p.without("NO PULSES", r.Silent)
	p.without("COULD NOT BE READ", r.Failed)
	p.notes(r.Warnings)
	return p.w.Flush()
}

// LotLine writes a lot's answer in one line.
func LotLine(w io.Writer, r *lot.Report) error {
	_, err := fmt.Fprintln(w, r.Finding)
	return err
}

// results and how to paint them.
var lotAttributes = map[string]string{"accept": green, "reject": red, "undecided": yellow}

// countText is "40 boards: 38 pass, 1 fail".
func countText(n lot.Count) string {
	text := plural(n.Boards, "board")
	sep := ": "
	for _, k := range []struct {
		n    int
		word string
	}{{n.Pass, "pass"}, {n.Fail, "fail"}, {n.Undecided, "undecided"}, {n.NoTarget, "without a target"}, {n.Failed, "not readable"}} {
		if k.n > 0 {
			text += fmt.Sprintf("%s%d %s", sep, k.n, k.word)
			sep = ", "
			if k.word == "fail" && n.Silent > 0 {
				text += fmt.Sprintf(" (%d show no pulses)", n.Silent)
			}
		}
	}
	return text
}

func (p *printer) acceptance(r *lot.Report) {
	p.heading("ACCEPTANCE")
	a := r.Acceptance
	p.prose("  ", "  ", countText(r.Boards)+".")
	p.prose("  ", "  ", "Result: "+p.paint(lotAttributes[string(a.Result)], string(a.Result))+" by "+a.Method+" ("+a.Reason+").")
	p.prose("  ", "  ", planText(a.Plan))
	var rows [][]cell
	for _, v := range r.Variables {
		rows = append(rows, []cell{{text: spaced(v.Quantity)}, {string(v.Result), lotAttributes[string(v.Result)]}, {text: fmt.Sprintf("n = %d, k = %.3f", v.Size, v.K)}, {text: v.Reason}})
	}
	if len(rows) > 0 {
		p.prose("  ", "  ", "By variables, "+r.Variables[0].Standard+":")
		p.table([]column{{}, {}, {drop: 1}, {}}, rows)
	}
	if r.Switching != "" {
		p.prose("  ", "  ", "Next lots: "+r.Switching+".")
	}
}

// planText names the plan and its two risks.
func planText(q lot.Plan) string {
	numbers := ""
	if q.Accept != nil && q.Reject != nil {
		numbers = fmt.Sprintf("Ac %d, Re %d", *q.Accept, *q.Reject)
	} else if q.K != nil {
		numbers = fmt.Sprintf("k = %.3f", *q.K)
	}
	return fmt.Sprintf("Plan: %s, %s inspection; %s; AQL %s %%, n = %d, %s. It accepts 95 of 100 lots with %s nonconforming, 10 of 100 with %s.",
		q.Standard, q.Inspection, q.How, short(q.AQL), q.Size, numbers, relative(q.Producer), relative(q.Consumer))
}

// index writes a capability index with its 95 % limits.
func index(v *float64, interval *[2]float64) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf("%.2f (%.2f … %.2f)", *v, interval[0], interval[1])
}

func (p *printer) capability(r *lot.Report) {
	if len(r.Capability) == 0 {
		return
	}
	p.heading("CAPABILITY (95 % LIMITS)")
	var rows [][]cell
	for _, t := range timeRows {
		c, ok := r.Capability[t.key]
		if !ok {
			continue
		}
		rows = append(rows, plain(t.name, quantity.Format(c.Mean, t.unit), quantity.Format(rounded(c.Deviation), t.unit), index(c.Cp, c.CpInterval), index(c.Cpk, c.CpkLimits),
			index(c.Pp, c.PpInterval), index(c.Ppk, c.PpkLimits), outside(c.Outside), normal(c.Normality)))
	}
	p.table([]column{{}, {head: "mean"}, {head: "deviation", drop: 1}, {head: "Cp", drop: 4}, {head: "Cpk"}, {head: "Pp", drop: 3}, {head: "Ppk", drop: 2}, {head: "outside", drop: 1}, {head: "normal?", drop: 1}}, rows)
}

// outside writes a fraction outside the target; an estimate never says all.
func outside(x float64) string {
	if x >= 0.9995 {
		return Percent(x)
	}
	return relative(x)
}

// normal is the p-value of the test in words.
func normal(n lot.Normality) string { return cmp.Or(n.Words(), "too few") }

// rounded keeps two digits of a deviation.
func rounded(v float64) float64 {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return v
	}
	f := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-1)
	return math.Round(v/f) * f
}

// shiftText writes a logarithm as a relative change with its uncertainty.
func shiftText(e lot.Estimate) string { return changed(math.Expm1(e.Value), e.Uncertainty) }

// spreadText writes a spread with its uncertainty.
func spreadText(e lot.Estimate) string {
	return strings.TrimPrefix(changed(e.Value, e.Uncertainty), "+")
}

// movedReels names the parts whose reel is probably out of tolerance, and by how much.
func movedReels(parts []lot.Part) string {
	var out []string
	for _, q := range parts {
		if q.OutOfTolerance > 0.5 {
			out = append(out, q.Name+" "+shiftText(q.Shift))
		}
	}
	return strings.Join(out, ", ")
}

// distanceText writes how far a board lies from the others, in standard deviations.
func distanceText(d float64) string {
	if d >= 100 {
		return fmt.Sprintf("%.0f", d)
	}
	return fmt.Sprintf("%.1f", d)
}

func (p *printer) reels(r *lot.Report) {
	if len(r.Parts) == 0 {
		return
	}
	p.heading("WHAT THE WHOLE LOT HAS IN COMMON")
	var rows [][]cell
	for _, q := range r.Parts {
		rows = append(rows, []cell{{text: q.Name}, {text: shiftText(q.Shift)}, {text: spreadText(q.Spread)}, outOfTolerance(q.OutOfTolerance)})
	}
	p.table([]column{{}, {head: "mean against nominal"}, {head: "spread from board to board"}, {head: "mean out of tolerance"}}, rows)
	p.prose("  ", "  ", "The spread is a standard deviation; ± is one standard uncertainty.")
	p.causes(&compare.Finding{Causes: r.Causes, Confounded: r.Confounded})
}

func (p *printer) standing(r *lot.Report) {
	if len(r.Standing) == 0 {
		return
	}
	p.heading("BOARDS THAT STAND OUT")
	for i, o := range r.Standing {
		if i == 20 && !p.style.Explain {
			p.line("  … and %d more (--explain lists them)", len(r.Standing)-i)
			break
		}
		p.prose("  ", "    ", fmt.Sprintf("%s, %s standard deviations from the others: %s (%s)", o.Board, distanceText(o.Distance), o.Cause.Detail, Percent(o.Cause.Probability)))
	}
}

func (p *printer) control(r *lot.Report) {
	if len(r.Charts) == 0 {
		return
	}
	p.heading("CONTROL CHARTS (ISO 7870-2)")
	var rows [][]cell
	for _, c := range r.Charts {
		u := unitOf(c.Quantity)
		state := cell{text: "in control", attribute: green}
		if n := len(c.Signals); n > 0 {
			s := c.Signals[0]
			state = cell{fmt.Sprintf("%s; first at %s: rule %d", plural(n, "signal"), s.At, s.Rule), yellow}
		}
		rows = append(rows, []cell{{text: spaced(c.Quantity)}, {text: c.Chart}, {text: quantity.Format(c.Centre, u)}, {text: span(c.Low, c.High, u)}, state})
	}
	p.table([]column{{}, {}, {head: "centre"}, {head: "limits", drop: 1}, {head: "state"}}, rows)
	if p.style.Explain {
		seen := map[int]bool{}
		for _, c := range r.Charts {
			for _, s := range c.Signals {
				if !seen[s.Rule] {
					seen[s.Rule] = true
					p.prose("  ", "    ", fmt.Sprintf("Rule %d: %s.", s.Rule, s.Name))
				}
			}
		}
	}
}

func (p *printer) gauges(r *lot.Report) {
	if len(r.Gauge) == 0 {
		return
	}
	p.heading("WHAT MEASURING ADDS")
	var rows [][]cell
	optional := func(v *float64, u quantity.Unit) string {
		if v == nil {
			return "-"
		}
		return quantity.Format(rounded(*v), u)
	}
	for _, g := range r.Gauge {
		u := unitOf(g.Quantity)
		share := "-"
		if g.Share != nil {
			share = relative(*g.Share)
		}
		rows = append(rows, plain(spaced(g.Quantity), optional(&g.Repeatability, u), optional(g.Reproducibility, u), optional(&g.Total, u), optional(g.BoardToBoard, u), share))
	}
	p.table([]column{{}, {head: "repeatability"}, {head: "between " + r.Gauge[0].Stations + "s"}, {head: "together"}, {head: "boards", drop: 1}, {head: "of the tolerance"}}, rows)
	g := r.Gauge[0]
	p.prose("  ", "  ", fmt.Sprintf("Standard deviations, of %d captures of %s on %s. %s", g.Observations, plural(g.Boards, "board"), plural(g.Count, g.Stations), strings.Join(g.Notes, ". ")))
	if p.style.Explain {
		p.prose("  ", "  ", "Method: "+g.Method+".")
	}
}

func (p *printer) lots(r *lot.Report) {
	if len(r.Lots) == 0 {
		return
	}
	p.heading("LOT BY LOT")
	var rows [][]cell
	for _, l := range r.Lots {
		a := l.Acceptance
		rows = append(rows, []cell{{text: l.Lot}, {string(a.Result), lotAttributes[string(a.Result)]}, {text: countText(l.Boards)}, {text: fmt.Sprintf("Ac %d, Re %d", a.Accept, a.Reject)}, {text: movedReels(l.Parts)}})
	}
	p.table([]column{{}, {}, {drop: 1}, {drop: 2}, {head: "reel out of tolerance"}}, rows)
}

// without lists boards without values, and why.
func (p *printer) without(heading string, boards []lot.Failure) {
	if len(boards) == 0 {
		return
	}
	p.heading(heading)
	for _, f := range boards {
		p.prose("  ", "    ", f.Board+": "+f.Error)
	}
}
