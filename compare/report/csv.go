package report

import (
	"io"
	"slices"
	"strings"

	"github.com/gocarina/gocsv"

	"offbeat/compare"
)

// Row is one line of the flat CSV table: everything a finding says in numbers, SI units, empty where a column
// has no meaning.
type Row struct {
	Kind        string   `csv:"kind"` // measured, predicted, group, waveform, stability, part, change, cause, verdict, latch, next
	Name        string   `csv:"name"`
	Unit        string   `csv:"unit"`
	Nominal     *float64 `csv:"nominal"`
	Value       *float64 `csv:"value"`
	Uncertainty *float64 `csv:"standard_uncertainty"`
	Low         *float64 `csv:"low"`
	High        *float64 `csv:"high"`
	Probability *float64 `csv:"probability"`
	Detail      string   `csv:"detail"`
}

// CSV writes the flat table of a finding.
func CSV(w io.Writer, f *compare.Finding) error {
	rows := slices.Concat(measuredRows("", &f.Measured), PredictedRows(&f.Predicted))
	for _, g := range f.Groups {
		rows = append(rows, Row{Kind: "group", Name: g.Group, Unit: g.Unit, Nominal: &g.Nominal, Value: &g.Value, Uncertainty: &g.Uncertainty})
	}
	rows = append(rows, waveformRows("", f.Waveform)...)
	rows = append(rows, stabilityCSV("", f.Stability)...)
	for _, q := range f.Parts {
		rows = append(rows, Row{Kind: "part", Name: q.Name, Unit: q.Unit, Nominal: &q.Nominal, Value: &q.Value, Low: &q.Interval95[0], High: &q.Interval95[1], Probability: &q.OutOfTolerance, Detail: "95 % interval; probability of being out of tolerance"})
	}
	for _, q := range f.Parts {
		if c := q.Change; c != nil {
			one := 1.0
			rows = append(rows, Row{Kind: "change", Name: q.Name, Unit: "1", Nominal: &one, Value: &c.Factor, Low: &c.Interval95[0], High: &c.Interval95[1], Detail: "factor since the baseline; 95 % interval"})
		}
	}
	for _, c := range f.Causes {
		rows = append(rows, Row{Kind: "cause", Name: strings.Join(append([]string{c.Cause}, c.Parts...), " "), Unit: c.Unit, Value: c.Value, Probability: &c.Probability, Detail: c.Detail})
	}
	for _, q := range f.Verdict.Each {
		rows = append(rows, Row{Kind: "verdict", Name: q.Quantity, Value: &q.Value, Uncertainty: &q.Uncertainty, Low: &q.Limits[0], High: &q.Limits[1], Probability: &q.ProbabilityIn, Detail: q.Result})
	}
	rows = append(rows, latchRows(f)...)
	for _, n := range f.Next {
		rows = append(rows, Row{Kind: "next", Name: n.Reading, Unit: "bit", Value: &n.Information, Detail: n.Caution})
	}
	return Rows(w, rows)
}

// measuredRows are the measured times as rows; source goes into the detail.
func measuredRows(source string, t *compare.Times[compare.Measured]) []Row {
	var rows []Row
	for i, m := range pick(t) {
		if m != nil {
			rows = append(rows, Row{Kind: "measured", Name: timeRows[i].key, Unit: unitText(i), Value: &m.Value, Uncertainty: &m.Uncertainty, Detail: source})
		}
	}
	return rows
}

// CaptureRows are the measured times of several captures as rows, each with its source in the detail.
func CaptureRows(captures []compare.Capture) []Row {
	var rows []Row
	for _, c := range captures {
		rows = append(rows, measuredRows(SourceOf(c, captures), c.Measured)...)
		rows = append(rows, waveformRows(SourceOf(c, captures), c.Waveform)...)
		rows = append(rows, stabilityCSV(SourceOf(c, captures), c.Stability)...)
	}
	return rows
}

// PredictedRows are the predicted times as rows, low and high in the worst case.
func PredictedRows(t *compare.Times[compare.Predicted]) []Row {
	var rows []Row
	for i, e := range pick(t) {
		if e != nil {
			rows = append(rows, Row{Kind: "predicted", Name: timeRows[i].key, Unit: unitText(i), Nominal: &e.Nominal, Low: &e.Low, High: &e.High})
		}
	}
	return rows
}

// unitText is the unit of a row of timeRows as the JSON writes it.
func unitText(i int) string {
	if s := timeRows[i].unit.Symbol(); s != "" {
		return s
	}
	return "1"
}

// Rows writes rows as CSV with a header.
func Rows(w io.Writer, rows []Row) error {
	if rows == nil {
		rows = []Row{}
	}
	return gocsv.MarshalCSV(rows, newCells(w))
}
