package document

import (
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/session"
	"offbeat/fit"
)

func TestSuits(t *testing.T) {
	fits, fails := 0.5, 0.001
	step := func(v float64) *compare.MarkStep { return &compare.MarkStep{Relative: v, Uncertainty: 1e-4} }
	moved := func(name string, fit *float64) compare.PartMoved {
		return compare.PartMoved{Name: name, Relative: 0.01, Uncertainty: 1e-4, Fit: fit}
	}
	for _, c := range []struct {
		mark compare.Mark
		want string
	}{
		{compare.Mark{High: step(2e-4), Low: step(-2e-4)}, "no step stands out of the noise"},
		{compare.Mark{High: step(1e-2), Low: step(0)}, "both times changed"},
		{compare.Mark{High: step(1e-2), Low: step(0), Parts: []compare.PartMoved{moved("R1", &fits), moved("C1", &fails)}}, "as if R1 +1.000 ± 0.010 %"},
		{compare.Mark{High: step(1e-2), Low: step(1e-2), Parts: []compare.PartMoved{moved("R2", &fits), moved("C1", &fits)}}, "as if R2 +1.000 ± 0.010 % or C1 +1.000 ± 0.010 %"},
		{compare.Mark{High: step(0), Low: step(1e-2), Parts: []compare.PartMoved{moved("R1", &fails)}}, "no single part's change explains both"},
		{compare.Mark{High: step(1e-2), Parts: []compare.PartMoved{moved("R1", nil)}}, "as if R1 +1.000 ± 0.010 %"},
	} {
		if got := suits(&c.mark); got != c.want {
			t.Errorf("%+v: %q, want %q", c.mark, got, c.want)
		}
	}
}

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
		want := "1.0 µs with white edge noise alone, "
		if c.of.Walk < 1.01e-6 {
			want = "1.0 µs, with white edge noise alone or "
		}
		if len(rows) != 1 || !strings.Contains(rows[0][1], want) {
			t.Errorf("%s: a measurement shows %q", c.name, rows)
		}
		if csv := stabilityRecords(s); len(csv) != 3 {
			t.Errorf("%s: %d rows of CSV, want 3: a short capture has no more", c.name, len(csv))
		}
	}
}

func TestStockText(t *testing.T) {
	yes, no := true, false
	some := []compare.Change{{Part: "R2", Fit: "47k"}}
	for _, c := range []struct {
		q    compare.Proposal
		want string
	}{
		{compare.Proposal{Changes: some}, ""},
		{compare.Proposal{Changes: some, InStock: &yes}, "in stock"},
		{compare.Proposal{Changes: some, InStock: &no}, "not all in stock"},
		{compare.Proposal{InStock: &yes}, ""}, // leaving the board alone takes no part
	} {
		if got := stockText(&c.q); got != c.want {
			t.Errorf("%+v: %q, want %q", c.q, got, c.want)
		}
	}
}

// Every kind of record has its place in the table.
func TestEveryKindHasAPlace(t *testing.T) {
	of := func(v float64) *compare.Measured { return &compare.Measured{Value: v, Uncertainty: 0.01, Count: 3} }
	f := &compare.Finding{Measured: compare.Times[compare.Measured]{High: of(1)}, Predicted: compare.Times[compare.Predicted]{High: &compare.Predicted{}}, Groups: make([]compare.Group, 1), Causes: make([]compare.Cause, 1),
		Parts: []compare.Part{{Change: &compare.Shift{}}}, Verdict: compare.Verdict{Each: make([]compare.QuantityVerdict, 1)}, Next: make([]compare.Next, 1), Latch: &compare.Latch{},
		Waveform: &compare.Waveform{}, Stability: &compare.Stability{Period: &compare.PeriodUncertainty{}}}
	kinds := map[string]bool{}
	for _, b := range []*Basis{{Finding: f}, {Finding: f, Proposals: []compare.Proposal{{Changes: make([]compare.Change, 1), Predicted: compare.Times[compare.Band]{High: &compare.Band{}}}}}} {
		for _, r := range Of(b).Records {
			if kinds[r.Kind] = true; places[r.Kind] == 0 {
				t.Errorf("no place for a record of kind %q", r.Kind)
			}
		}
	}
	for k := range places {
		if !kinds[k] && k != "next" && k != "yield" { // a latch's board has no reading, a finding no yield
			t.Errorf("no record is of kind %q", k)
		}
	}
}

// Invented changes: one beyond doubt, one that may be none, one so large that a percentage would mislead.
func TestMoves(t *testing.T) {
	for _, c := range []struct {
		of    compare.Shift
		want  string
		moved bool
	}{
		{compare.Shift{Factor: 0.951, Interval95: [2]float64{0.9489, 0.9531}}, "−4.90 %, −5.11 … −4.69 %", true},
		{compare.Shift{Factor: 1.00002, Interval95: [2]float64{0.9996, 1.0005}}, "+0.002 %, −0.040 … +0.050 %", false},
		{compare.Shift{Factor: 0.1031, Interval95: [2]float64{0.1019, 0.1043}}, "× 0.1031, × 0.1019 … 0.1043", true},
	} {
		likely, interval := moves(&c.of)
		if got := likely + ", " + interval; got != c.want || moved(&c.of) != c.moved {
			t.Errorf("%q, moved %v; want %q, %v", got, moved(&c.of), c.want, c.moved)
		}
	}
}

// A stream that changed leads with that on its page, before what the last seconds say.
func TestLiveLeadsWithTheChange(t *testing.T) {
	sh := &session.Snapshot{Finding: &compare.Finding{Finding: "On target."}, Changes: []fit.Change{{Time: 3, Before: 7e-3, After: 7.2e-3, By: 0.0286, Uncertainty: 0.0004}}}
	const want = "Intermittent: the period changed at 3 s by (2.860 ± 0.040) %, from 7.000 ms to 7.200 ms. In the last seconds: on target."
	if got := Live(sh).Subject; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if sh.Changes = nil; Live(sh).Subject != "On target." {
		t.Errorf("without a change %q", Live(sh).Subject)
	}
}

// The schematic gives an estimate of a part where the parts' table does.
func TestSchematicGivesSupportedEstimates(t *testing.T) {
	d := &fit.Design{Parts: []fit.Part{{Name: "R1", Nominal: 1e4}}}
	for _, not := range []bool{false, true} {
		b := &Basis{Design: d, Finding: &compare.Finding{Causes: []compare.Cause{{Cause: "missing", Parts: []string{"C1"}, Probability: 0.3}},
			Parts: []compare.Part{{Name: "R1", Nominal: 1e4, Value: 10100, Unit: "Ω", Unsupported: not}}}}
		if got := strings.Join(b.partLabel("R1").Lines, ", "); strings.Contains(got, "est. 10.1") == not {
			t.Errorf("unsupported %v: %q", not, got)
		}
	}
}
