package question

import (
	"math"
	"strings"
	"testing"

	"offbeat/fit"
)

// Repeats of one setting: 3 ns of noise and 4 ns that the instrument brings each time give 5 ns at once and
// sqrt(9/4 + 16) ns after four captures; a fifth capture 1 % off is told, and the uncertainty covers it.
func TestRepeats(t *testing.T) {
	one := func(shift float64) *fit.Measurement {
		return &fit.Measurement{Source: "lamp.csv", High: fit.Estimate{Value: 1e-3 + shift, Uncertainty: 5e-9, Count: 10}, Low: fit.Estimate{Value: 2e-3 + shift, Uncertainty: 5e-9, Count: 10},
			Budget: []fit.Term{{Kind: "A", High: 3e-9, Low: 3e-9}, {Kind: "B", High: 4e-9, Low: 4e-9, Period: math.Sqrt(32) * 1e-9}}, Cycles: 10}
	}
	ms := []*fit.Measurement{one(1e-9), one(-1e-9), one(2e-9), one(-2e-9)}
	m, note := merge(ms, false)
	if note != "" || !(math.Abs(m.High.Value-1e-3) <= 1e-15) || m.High.Count != 40 || m.Cycles != 40 {
		t.Errorf("merged %+v, note %q", m.High, note)
	}
	if want := math.Sqrt(9./4+16) * 1e-9; !(math.Abs(m.High.Uncertainty/want-1) <= 1e-9) || !(math.Abs(m.Low.Uncertainty/want-1) <= 1e-9) {
		t.Errorf("uncertainties %v %v, want %v", m.High.Uncertainty, m.Low.Uncertainty, want)
	}
	m, note = merge(append(ms, one(1e-5)), false)
	if !strings.Contains(note, "disagree") || m.High.Uncertainty < 1e-6 {
		t.Errorf("one of five 1 %% off: uncertainty %v, note %q", m.High.Uncertainty, note)
	}
}
