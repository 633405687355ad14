package document

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
	"offbeat/compare/report"
	"offbeat/compare/report/words"
)

// keptSections are all that a ledger keeps of a board: what an auditor asks of its result, of the decision on its lot, of its
// captures and its design.
func (b *Basis) keptSections() []Section {
	var out []Section
	for i := range b.Kept.Visits {
		v := &b.Kept.Visits[i]
		out = append(out, keptResult(v), keptDecision(v.Decision), keptCaptures(v), keptDesign(v, b.Kept.Designs[v.DesignSHA256]))
	}
	return out
}

func keptTitle(v *ledger.Visit) string {
	if v.Lot == "" {
		return v.Board
	}
	return v.Board + ", lot " + v.Lot
}

const instant = "2006-01-02 15:04:05 UTC"

func keptResult(v *ledger.Visit) Section {
	s := Section{ID: "result", Heading: "Result of " + keptTitle(v)}
	verdict := v.Verdict
	if v.Error != "" {
		verdict = "none: " + v.Error
	}
	s.labelled(Sentence, "Verdict", verdict+".")
	if v.SupersededBy != "" {
		s.labelled(Sentence, "Superseded by", v.SupersededBy+".")
	}
	s.say(Sentence, v.Finding)
	if v.Judgement != nil {
		for _, q := range v.Judgement.Each {
			u := compare.QuantityOf(q.Quantity).Unit
			s.say(Sentence, fmt.Sprintf("%s %s, limits %s … %s, guard band %s: %s.", compare.Sentence(compare.QuantityOf(q.Quantity).Name), quantity.PlusMinus(q.Value, q.Uncertainty, u),
				quantity.Format(q.Limits[0], u), quantity.Format(q.Limits[1], u), quantity.Format(quantity.Rounded(q.GuardBand, 2), u), q.Result))
		}
		s.labelled(Sentence, "Rule", v.Judgement.Rule)
	}
	if a := v.Alone; a != nil && a.Finding != v.Finding {
		s.labelled(Sentence, "Against the other boards of its lot", "so; by its own times: "+a.Finding)
	}
	for i := range v.Causes {
		s.say(Point, v.Causes[i].Detail+" ("+quantity.Probability(v.Causes[i].Probability)+")")
	}
	s.say(Sentence, fmt.Sprintf("Worked out by offbeat %s, recorded %s, key %s.", v.Tool, v.Recorded.UTC().Format(instant), v.Key))
	s.labelled(Sentence, "Options", optionsText(v.Options))
	s.labelled(Sentence, "Instrument", instrumentText(v.Instrument))
	return s
}

// instrumentText names what measured, and when it was calibrated.
func instrumentText(i *lot.Instrument) string {
	if i == nil {
		return ""
	}
	text := fmt.Sprintf("clock %s, within %.3g ppm", i.Clock, i.Limit*1e6)
	if i.Name != "" {
		text = i.Name + ", " + text
	}
	if i.Calibrated == "" {
		return text + "; its calibration is not given"
	}
	return text + "; calibrated " + i.Calibrated
}

// optionsText lists what was typed.
func optionsText(all map[string]any) string {
	var out []string
	for _, name := range slices.Sorted(maps.Keys(all)) {
		out = append(out, fmt.Sprintf("--%s %v", name, all[name]))
	}
	return strings.Join(out, ", ")
}

func keptDecision(d *ledger.Decision) Section {
	s := Section{ID: "lot", Heading: "Decision on its lot"}
	if d == nil {
		return s
	}
	s.say(Sentence, fmt.Sprintf("%s by %s, %s: %s.", compare.Sentence(d.Result), d.By, d.At.UTC().Format(instant), d.Reason))
	s.say(Sentence, countText(d.Boards)+".")
	s.labelled(Sentence, "Plan", planText(d.Plan))
	s.labelled(Sentence, "Options", optionsText(d.Options))
	return s
}

func keptCaptures(v *ledger.Visit) Section {
	s := Section{ID: "captures", Heading: "Captures"}
	for _, c := range v.Captures {
		s.say(Point, c.Name+", SHA-256 "+c.SHA256)
		var at time.Time
		if c.Time != nil {
			at = *c.Time
		}
		var by []string
		for _, k := range []struct{ what, value string }{{"station", c.Station}, {"operator", c.Operator}, {"time", timeText(at)}, {"conditions", string(c.Conditions)}} {
			if k.value != "" {
				by = append(by, k.what+" "+k.value)
			}
		}
		s.say(Under, strings.Join(by, ", "))
		for _, r := range c.Records {
			text := "high " + quantity.PlusMinus(r.High.Value, r.High.Uncertainty, quantity.Second)
			if r.Low != nil {
				text += ", low " + quantity.PlusMinus(r.Low.Value, r.Low.Uncertainty, quantity.Second)
			}
			s.say(Under, fmt.Sprintf("%s; %d cycles; clock within %.3g ppm", text, r.Cycles, r.Clock*1e6))
		}
	}
	return s
}

func timeText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(instant)
}

func keptDesign(v *ledger.Visit, text string) Section {
	s := Section{ID: "design", Heading: "Design"}
	s.say(Sentence, fmt.Sprintf("%s, revision %s, SHA-256 %s.", v.Design, v.Revision, v.DesignSHA256))
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" {
			s.say(Command, line)
		}
	}
	return s
}

func temperatureText(t *float64) string {
	if t == nil {
		return ""
	}
	return words.Short(*t) + " °C"
}

// countText is "40 boards: 38 pass, 1 fail".
func countText(n lot.Count) string {
	text := quantity.Plural(n.Boards, "board")
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

// planText names the plan and its two risks.
func planText(q lot.Plan) string {
	numbers := ""
	if q.Accept != nil && q.Reject != nil {
		numbers = fmt.Sprintf("Ac %d, Re %d", *q.Accept, *q.Reject)
	} else if q.K != nil {
		numbers = fmt.Sprintf("k = %.3f", *q.K)
	}
	return fmt.Sprintf("%s, %s inspection; %s; AQL %s %%, n = %d, %s. It accepts 95 of 100 lots with %s nonconforming, 10 of 100 with %s.",
		q.Standard, q.Inspection, q.How, words.Short(q.AQL), q.Size, numbers, quantity.Relative(q.Producer), quantity.Relative(q.Consumer))
}

// ledgerLine says how much a ledger holds.
func ledgerLine(l *report.Ledger) string {
	n, all := l.Count, 0
	for _, k := range n {
		all += k
	}
	return fmt.Sprintf("%s: %d pass, %d fail, %d undecided, %d without a verdict", quantity.Plural(all, "result"), n["pass"], n["fail"], n["undecided"], n["no target"]+n[""])
}

// ledgerSections are what a ledger holds: the visits, and with the drift of one board how it moved between them.
func (b *Basis) ledgerSections() []Section {
	l := b.Ledger
	t := &Table{Columns: []Column{{Head: "time (UTC)"}, {Head: "board"}, {Head: "lot", Drop: 2}, {Head: "station", Drop: 3}, {Head: "frequency or high time"}, {Head: "verdict"}, {Head: "cause"}, {Head: "design", Drop: 4}, {Head: "version", Drop: 5}}}
	for i := range l.Visits {
		v := &l.Visits[i]
		frequency := ""
		if m := v.Measured.Frequency; m != nil {
			frequency = quantity.PlusMinus(m.Value, m.Uncertainty, quantity.Hertz)
		} else if m := v.Measured.High; m != nil {
			frequency = quantity.PlusMinus(m.Value, m.Uncertainty, quantity.Second)
		}
		t.Rows = append(t.Rows, []Cell{{Text: v.At.Format("2006-01-02 15:04")}, {Text: v.Board}, {Text: v.Lot}, {Text: v.Station}, {Text: frequency},
			verdictOf(v), {Text: visitCause(v)}, {Text: v.Revision}, {Text: v.Tool}})
	}
	visits := Section{ID: "visits", Heading: "Results"}
	visits.table(t, Always)
	return []Section{visits, visitDrift(l.Drift), notes(l.Warnings)}
}

// verdictOf is a result's verdict, and whether a newer result has taken its place.
func verdictOf(v *ledger.Visit) Cell {
	if v.SupersededBy != "" {
		return Cell{Text: strings.TrimSpace(v.Verdict + " (superseded)")}
	}
	return toned(v.Verdict, tones[v.Verdict])
}

// visitCause is the likeliest cause, or why there is none.
func visitCause(v *ledger.Visit) string {
	if v.Error != "" {
		return "not readable"
	}
	if v.Silent {
		return "no pulses"
	}
	if v.Cause == "" {
		return ""
	}
	return v.CauseTitle() + " (" + quantity.Probability(v.Probability) + ")"
}

// visitDrift is how a board's quantities moved from visit to visit.
func visitDrift(all []ledger.Drift) Section {
	s := Section{ID: "drift", Heading: "Between visits"}
	t := &Table{Caption: "± is one standard uncertainty; moved means more than twice that. A rate wants visits over a month at least.", Columns: []Column{{}, {Head: "since the visit before"}, {}, {Head: "a year"}}}
	for _, d := range all {
		last := d.Changes[len(d.Changes)-1]
		state := Cell{Text: "within its uncertainty"}
		if last.Significant {
			state = toned("moved", Doubtful)
		}
		rate := Cell{Text: "visits too close"}
		if y := d.PerYear; y != nil {
			rate.Text = words.Changed(y.Value, y.Uncertainty)
		}
		t.Rows = append(t.Rows, []Cell{{Text: compare.QuantityOf(d.Quantity).Name}, {Text: words.Changed(last.Value, last.Uncertainty)}, state, rate})
	}
	s.table(t, Always)
	return s
}
