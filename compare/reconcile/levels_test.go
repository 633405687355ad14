package reconcile

import (
	"slices"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// An output that stops far from one rail and near the other, as no prior of op-amps has it: a sound board is sound once its
// waveform shows the levels, on a channel whose scale is 2 % off, and is not where the probe's factor is wrong or nothing but
// its states is known.
func TestOutputLevelsAsCaptured(t *testing.T) {
	d := twoSupplies(t)
	d.OutputHigh, d.OutputLow = nil, nil
	d.Parts[0].Minus, d.Parts[0].Plus = 0.01, 0.01
	n := fittest.Network{Circuit: fittest.Comparator, Supply: 15, R1: 10e3, C: 100e-9, Feedback: 0.5, OutputHigh: 14.9, OutputLow: -10.5}
	high, low, err := fittest.Integrate(n)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []struct {
		levels fit.Levels
		counts bool
		said   string
	}{
		{fit.Levels{High: 14.9 * 1.02, Low: -10.5 * 1.02, Noise: 0.05, Unit: "V"}, true, "count as captured"},
		{fit.Levels{High: 1.49, Low: -1.05, Noise: 0.005, Unit: "V"}, false, "do not count"},
		{fit.Levels{High: 1, States: true}, false, ""},
	} {
		m := &fit.Measurement{High: fit.Estimate{Value: high, Uncertainty: 1e-7, Count: 50}, Low: fit.Estimate{Value: low, Uncertainty: 1e-7, Count: 50},
			Cycles: 50, Interval: 1e-6, Levels: k.levels}
		f, err := Run(d, []*fit.Measurement{m})
		if err != nil {
			t.Fatal(err)
		}
		sound := f.Causes[slices.IndexFunc(f.Causes, func(c compare.Cause) bool { return c.Cause == "nothing" })].Probability
		if k.counts && sound < 0.8 || !k.counts && sound > 0.2 {
			t.Errorf("levels %+v: nothing wrong has the probability %.3f", k.levels, sound)
		}
		if said := slices.ContainsFunc(f.Warnings, func(w string) bool { return strings.Contains(w, k.said) && strings.Contains(w, "output levels") }); said != (k.said != "") {
			t.Errorf("levels %+v: the warnings are %q", k.levels, f.Warnings)
		}
	}
}
