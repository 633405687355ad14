package report

import (
	"strings"
	"testing"

	"offbeat/compare"
)

// What the period's uncertainty hangs on stands in every measurement, and beside a finding only where the record leaves
// it open and it matters: neither kind of noise all but certain, and half as much again between them.
func TestPeriodUncertaintyRow(t *testing.T) {
	for _, c := range []struct {
		name  string
		of    compare.PeriodUncertainty
		shown bool
	}{
		{"open", compare.PeriodUncertainty{White: 1e-6, Walk: 3e-6, Probability: 0.3}, true},
		{"no walk", compare.PeriodUncertainty{White: 1e-6, Walk: 3e-6, Probability: 0.04}, false},
		{"a walk", compare.PeriodUncertainty{White: 1e-6, Walk: 3e-6, Probability: 0.96}, false},
		{"all one", compare.PeriodUncertainty{White: 1e-6, Walk: 1.4e-6, Probability: 0.3}, false},
		{"no odds", compare.PeriodUncertainty{White: 1e-6, Walk: 1.001e-6, Probability: 0.3}, false},
	} {
		s := &compare.Stability{Period: &c.of}
		if got := len(stabilityRows(s, false)) > 0; got != c.shown {
			t.Errorf("%s: beside a finding shown is %v, want %v", c.name, got, c.shown)
		}
		rows := stabilityRows(s, true)
		want := "1.0 µs if the edges' noise is white alone, "
		if c.of.Walk < 1.01e-6 {
			want = "1.0 µs, whether the edges' noise is white alone or "
		}
		if len(rows) != 1 || !strings.Contains(rows[0][1], want) {
			t.Errorf("%s: a measurement shows %q", c.name, rows)
		}
		if csv := stabilityCSV("a.csv", s); len(csv) != 3 {
			t.Errorf("%s: %d rows of CSV, want 3: a short capture has no more", c.name, len(csv))
		}
	}
}
