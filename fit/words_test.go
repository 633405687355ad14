package fit_test

import (
	"slices"
	"strings"
	"testing"

	"offbeat/fit"
)

// A period that does not jump is said to drift, to wander, or to do either of two with their probabilities, the likelier first; what
// warmth does is said to be that.
func TestMovesInWords(t *testing.T) {
	const drifts = "the period drifts inside the capture by (0.300 ± 0.020) %"
	const changes = "the pulse changes inside the capture by (−0.300 ± 0.020) %, which is "
	for want, m := range map[string]fit.Moves{
		"":                                      {},
		drifts:                                  {By: 3e-3, Uncertainty: 2e-4},
		drifts + "; warmth makes as much of it": {By: 3e-3, Uncertainty: 2e-4, Slight: true},
		"the period wanders or warms up inside the capture by 0.3 %":                                          {By: 3e-3, Wanders: true},
		changes + "a jump near 2 s (70 %) or a slow drift (30 %): the record does not tell":                   {By: -3e-3, Uncertainty: 2e-4, Jumps: 0.7, At: 2},
		changes + "a jump near 2 s (50 %) or a slow drift (50 %): the record does not tell":                   {By: -3e-3, Uncertainty: 2e-4, Jumps: 0.5, At: 2},
		changes + "a slow drift (60 %) or a jump near 2 s and back near 3 s (40 %): the record does not tell": {By: -3e-3, Uncertainty: 2e-4, Jumps: 0.4, At: 2, Back: 3},
	} {
		if got := m.Text(fit.Subject(m.By < 0)); got != want {
			t.Errorf("%+v: %q, want %q", m, got, want)
		}
		if got := m.Lead(); got != (m.By != 0 && !m.Slight) {
			t.Errorf("%+v leads: %v", m, got)
		}
	}
	if s := (&fit.Measurement{Shots: true}).Subject(); s != "pulse" {
		t.Errorf("single pulses: %q", s)
	}
}

// Each kind of pulse that is not there is said once, and leads.
func TestLacksInWords(t *testing.T) {
	for want, m := range map[string]fit.Moves{
		"stops inside the capture, no pulse in its last 1.2 s": {Stops: 1.23}, "1 pulse missing": {Missing: 1}, "1 time inside the capture far too short": {Short: 1},
		"1 time inside the capture far too long": {Long: 1}, "2 pulses of another length": {Odd: 2},
	} {
		if got := m.Lacks(); len(got) != 1 || !strings.Contains(got[0], want) || !m.Lead() {
			t.Errorf("%+v: %q, want %q", m, got, want)
		}
	}
	if got := (fit.Moves{}).Lacks(); len(got) > 0 {
		t.Errorf("nothing lacks, and it is said %q", got)
	}
	many := []string{"a", "b", "c", "d", "e", "f"}
	for n, want := range map[int][]string{0: {}, 4: many[:4], 5: {"a", "b", "c", "and 2 times more"}, 6: {"a", "b", "c", "and 3 times more"}} {
		if got := fit.FirstChanges(many[:n]); !slices.Equal(got, want) {
			t.Errorf("of %d changes %q, want %q", n, got, want)
		}
	}
	if many[3] != "d" {
		t.Error("what was said last is written over")
	}
}

// A change is told by its own size, and what its means differ by beyond three uncertainties of that, and beyond a twentieth of it, is a slower one.
func TestChangesInWords(t *testing.T) {
	for _, c := range []struct {
		after, by, u float64
		beside       bool
	}{{10.1, 0.01, 1e-4, false}, {10.1049, 0.01, 1e-4, false}, {10.1051, 0.01, 1e-4, true}, {10.0949, 0.01, 1e-4, true}, {10.106, 0.01, 3e-4, false}, {10.111, 0.01, 3e-4, true},
		{9.9, -0.01, 1e-4, false}, {9.8949, -0.01, 1e-4, true}, {9.9051, -0.01, 1e-4, true}} {
		change := fit.Change{Time: 2, Before: 10e-3, After: c.after * 1e-3, By: c.by, Uncertainty: c.u}
		said := change.String()
		if change.Beside() != c.beside || strings.HasSuffix(said, " with a slower change beside it") != c.beside {
			t.Errorf("%+v: beside it %v, %q", change, change.Beside(), said)
		}
	}
	const want = "at 2 s by (1.000 ± 0.010) %, from 10.0000 ms to 10.1000 ms"
	if got := (fit.Change{Time: 2, Before: 10e-3, After: 10.1e-3, By: 0.01, Uncertainty: 1e-4}).String(); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
