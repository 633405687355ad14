package report

import (
	"bytes"
	"strings"
	"testing"

	"offbeat/compare"
)

// Invented changes: one beyond doubt, one that may be none, one so large that a percentage would mislead.
func TestSinceTheBaseline(t *testing.T) {
	f := finding()
	if strings.Contains(string(text(t, f, Style{})), "SINCE THE BASELINE") {
		t.Error("a finding without a baseline speaks of one")
	}
	for i, s := range []compare.Shift{
		{Factor: 0.951, Interval95: [2]float64{0.9489, 0.9531}},
		{Factor: 1.00002, Interval95: [2]float64{0.9996, 1.0005}},
		{Factor: 0.1031, Interval95: [2]float64{0.1019, 0.1043}},
	} {
		f.Parts[i].Change = &s
	}
	got := string(text(t, f, Style{}))
	for _, want := range []string{
		"R1  −4.90 %      −5.11 … −4.69 %        moved\n",
		"R2  +0.002 %     −0.040 … +0.050 %      may be as it was\n",
		"C1  0.1031 times  0.1019 … 0.1043 times  moved\n",
	} {
		if !strings.Contains(strings.Join(strings.Fields(got), " "), strings.Join(strings.Fields(want), " ")) {
			t.Errorf("%q is missing:\n%s", want, got)
		}
	}
	if rows := sinceTable(f).Rows; len(rows) != 3 || rows[0][1].Text != "−4.90 %" || !rows[0][3].Mark || rows[1][3].Mark {
		t.Errorf("%+v", rows)
	}
	var table bytes.Buffer
	if err := CSV(&table, f); err != nil {
		t.Fatal(err)
	}
	if want := "change,R1,1,1,0.951,,0.9489,0.9531,,factor since the baseline"; !strings.Contains(table.String(), want) {
		t.Errorf("%q is missing:\n%s", want, table.String())
	}
}
