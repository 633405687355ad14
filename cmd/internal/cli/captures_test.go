package cli

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"offbeat/compare"
)

// TestMiniaturesMeasured: what `measure` makes of the miniature captures that are no plain train, with times and uncertainties
// worked out by hand; the notes beside the captures say how they were made.
func TestMiniaturesMeasured(t *testing.T) {
	const folder = "../../../testdata/captures/"
	type report struct {
		Measured compare.Times[compare.Measured]
		Charges  []compare.Charge
	}
	measured := func(args ...string) (s report, errs string, status int) {
		t.Helper()
		streams, out, e := buffered("")
		args[0] = folder + args[0]
		status = Main(append([]string{"measure", "--json"}, args...), streams)
		if status == Done {
			if err := json.Unmarshal(out.Bytes(), &s); err != nil {
				t.Fatal(err)
			}
		}
		return s, e.String(), status
	}
	near := func(what string, got, want, slack float64) {
		t.Helper()
		if !(math.Abs(got-want) <= slack) {
			t.Errorf("%s: %g, expected %g ± %g", what, got, want, slack)
		}
	}
	// 5 V (1 - exp(-t / 100 ms)), printed to 0.1 mV.
	if s, errs, status := measured("s28_charge.csv"); status != Done || len(s.Charges) != 1 {
		t.Errorf("a charge: status %d, %d charges, %s", status, len(s.Charges), errs)
	} else {
		c := s.Charges[0]
		near("time constant", c.Tau.Value, 0.1, 3*c.Tau.Uncertainty)
		near("final voltage", c.Final.Value, 5, 3*c.Final.Uncertainty)
		near("relative uncertainty of the time constant", c.Tau.Uncertainty/c.Tau.Value, 0, 1e-4)
	}
	// A ramp from 0 to 4.95 V.
	if _, errs, status := measured("s28_ramp.csv"); status != Failed || !strings.Contains(errs, "a ramp from 0 to 4.95 V") {
		t.Errorf("a ramp: status %d, %s", status, errs)
	}
	// Three bursts of three pulses: of each, what its neighbours bound on both sides.
	if s, errs, status := measured("s28_bursts.csv"); status != Done {
		t.Errorf("bursts: %s", errs)
	} else {
		m := s.Measured
		near("high time in bursts", m.High.Value, 0.3e-3, 1e-9)
		near("low time in bursts", m.Low.Value, 0.2e-3, 1e-9)
		near("period in bursts", m.Period.Value, 0.5e-3, 1e-9)
		near("whole pulses in three bursts", float64(m.High.Count), 3, 0)
	}
	// One cycle, each edge within a step of 0.5 ms, rectangular: 0.5/sqrt(12) ms. A time has two edges; the one between high and
	// low is in neither end of the period.
	if s, errs, status := measured("s28_one_cycle.csv", "--single"); status != Done {
		t.Errorf("one cycle: %s", errs)
	} else {
		edge := 0.5e-3 / math.Sqrt(12)
		m := s.Measured
		near("high time of one cycle", m.High.Value, 3e-3, 1e-9)
		near("its uncertainty", m.High.Uncertainty, edge*math.Sqrt2, 0.01*edge)
		near("low time of one cycle", m.Low.Value, 2e-3, 1e-9)
		near("its uncertainty", m.Low.Uncertainty, edge*math.Sqrt2, 0.01*edge)
		near("the period's uncertainty", m.Period.Uncertainty, edge*math.Sqrt2, 0.01*edge)
	}
	if _, errs, status := measured("s28_one_cycle.csv"); status != Failed || !strings.Contains(errs, "one whole cycle") || !strings.Contains(errs, "--single") {
		t.Errorf("one cycle without --single: status %d, %s", status, errs)
	}
}
