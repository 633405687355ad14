package report

import (
	"fmt"
	"io"
	"strings"

	"github.com/gocarina/gocsv"

	"offbeat/acquire/quantity"
	"offbeat/compare/cause"
	"offbeat/compare/ledger"
)

// Ledger is the JSON document of `offbeat ledger`.
type Ledger struct {
	Schema   int            `json:"schema"`
	Visits   []ledger.Visit `json:"visits"` // the oldest first
	Drift    []ledger.Drift `json:"drift"`  // of the one board that was asked for
	Warnings []string       `json:"warnings"`
}

// LedgerText writes what a ledger holds: the visits, and with the drift of one board how it moved between them.
func LedgerText(w io.Writer, l *Ledger, s Style) error {
	p := newPrinter(w, s)
	p.line("%s", p.paint(bold, plural(len(l.Visits), "result")))
	var rows [][]cell
	for i := range l.Visits {
		v := &l.Visits[i]
		frequency := ""
		if m := v.Measured.Frequency; m != nil {
			frequency = quantity.PlusMinus(m.Value, m.Uncertainty, quantity.Hertz)
		} else if m := v.Measured.High; m != nil {
			frequency = quantity.PlusMinus(m.Value, m.Uncertainty, quantity.Second)
		}
		rows = append(rows, []cell{{text: v.At.Format("2006-01-02 15:04")}, {text: v.Board}, {text: v.Lot}, {text: v.Station}, {text: frequency},
			{v.Verdict, attributes[v.Verdict]}, {text: visitCause(v)}, {text: v.Revision}, {text: v.Tool}})
	}
	p.table([]column{{head: "time (UTC)"}, {head: "board"}, {head: "lot", drop: 2}, {head: "station", drop: 3}, {head: "frequency or high time"}, {head: "verdict"}, {head: "cause", drop: 1}, {head: "design", drop: 4}, {head: "version", drop: 5}}, rows)
	p.drift(l.Drift)
	p.notes(l.Warnings)
	return p.w.Flush()
}

// visitCause is the likeliest cause, or why there is none.
func visitCause(v *ledger.Visit) string {
	if v.Error != "" {
		return "not readable"
	}
	if v.Cause == "" {
		return ""
	}
	return cause.Title(v.Cause, v.CauseParts) + " (" + Percent(v.Probability) + ")"
}

// drift is how a board's quantities moved from visit to visit.
func (p *printer) drift(all []ledger.Drift) {
	if len(all) == 0 {
		return
	}
	p.heading("BETWEEN VISITS")
	var rows [][]cell
	for _, d := range all {
		last := d.Changes[len(d.Changes)-1]
		state := cell{text: "within its uncertainty"}
		if last.Significant {
			state = cell{"moved", yellow}
		}
		rows = append(rows, []cell{{text: spaced(d.Quantity)}, {text: changed(last.Value, last.Uncertainty)}, state, {text: changed(d.PerYear.Value, d.PerYear.Uncertainty)}})
	}
	p.table([]column{{}, {head: "since the visit before"}, {}, {head: "a year"}}, rows)
	p.prose("  ", "  ", "± is one standard uncertainty; moved means more than twice that.")
}

// LedgerLine says how much a ledger holds.
func LedgerLine(w io.Writer, l *Ledger) error {
	n := map[string]int{}
	for i := range l.Visits {
		n[l.Visits[i].Verdict]++
	}
	_, err := fmt.Fprintf(w, "%s: %d pass, %d fail, %d undecided, %d without a verdict\n", plural(len(l.Visits), "result"), n["pass"], n["fail"], n["undecided"], n["no target"]+n[""])
	return err
}

// LedgerRow is one line of the CSV table of `offbeat ledger`, SI units.
type LedgerRow struct {
	Time        string   `csv:"time"`
	Board       string   `csv:"board"`
	Lot         string   `csv:"lot"`
	Station     string   `csv:"station"`
	Operator    string   `csv:"operator"`
	Temperature *float64 `csv:"temperature"`
	Supply      *float64 `csv:"supply"`
	Verdict     string   `csv:"verdict"`
	High        *float64 `csv:"high_time"`
	HighU       *float64 `csv:"high_time_u"`
	Low         *float64 `csv:"low_time"`
	LowU        *float64 `csv:"low_time_u"`
	Frequency   *float64 `csv:"frequency"`
	FrequencyU  *float64 `csv:"frequency_u"`
	Cause       string   `csv:"cause"`
	Parts       string   `csv:"parts"`
	Probability float64  `csv:"probability"`
	Revision    string   `csv:"design_revision"`
	Tool        string   `csv:"tool_version"`
	Captures    string   `csv:"captures"`
	SHA256      string   `csv:"sha256"`
	Error       string   `csv:"error"`
}

// LedgerCSV writes the visits as a table.
func LedgerCSV(w io.Writer, visits []ledger.Visit) error {
	rows := make([]LedgerRow, len(visits))
	for i := range visits {
		v := &visits[i]
		r := LedgerRow{v.At.Format("2006-01-02T15:04:05.999999999Z07:00"), v.Board, v.Lot, v.Station, v.Operator, v.Temperature, v.Supply, v.Verdict,
			nil, nil, nil, nil, nil, nil, v.Cause, strings.Join(v.CauseParts, " "), v.Probability, v.Revision, v.Tool, "", "", v.Error}
		m := pick(&v.Measured)
		for k, cells := range map[int][2]**float64{0: {&r.High, &r.HighU}, 1: {&r.Low, &r.LowU}, 3: {&r.Frequency, &r.FrequencyU}} {
			if m[k] != nil {
				*cells[0], *cells[1] = &m[k].Value, &m[k].Uncertainty
			}
		}
		var names, digests []string
		for _, c := range v.Captures {
			names, digests = append(names, c.Name), append(digests, c.SHA256)
		}
		r.Captures, r.SHA256 = strings.Join(names, " "), strings.Join(digests, " ")
		rows[i] = r
	}
	return gocsv.MarshalCSV(rows, newCells(w))
}
