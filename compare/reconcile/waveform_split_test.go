package reconcile

import (
	"math"
	"testing"

	"offbeat/compare"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/reconcile/trace"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/wiring"
)

// twoSupplies is an op-amp between two supplies whose output levels the design states.
func twoSupplies(t *testing.T) *fit.Design {
	t.Helper()
	w, err := wiring.Parse("U1 comparator plus=ref minus=cap\nR1 output cap\nC1 cap ground\nR2 output ref\nR3 ref ground", wiring.Minus)
	if err != nil {
		t.Fatal(err)
	}
	d := &fit.Design{Wiring: w, Family: fit.OpAmp, History: fit.New, Supply: fit.Reading{Value: 15, Half: 0.15}, Minus: fit.Reading{Value: -15, Half: 0.15},
		OutputHigh: &fit.Reading{Value: 14.1, Half: 0.1}, OutputLow: &fit.Reading{Value: -13, Half: 0.1}}
	for _, p := range []fit.Part{{Name: "R1", Nominal: 10e3}, {Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Class: "film"}, {Name: "R2", Nominal: 10e3}, {Name: "R3", Nominal: 10e3}} {
		p.Minus, p.Plus = 0.01, 0.01
		if p.Kind == fit.Capacitor {
			p.Minus, p.Plus = 0.1, 0.1
		}
		d.Parts = append(d.Parts, p)
	}
	return d
}

// An op-amp between two supplies: the capacitor's channel is read as it stands, negative voltages and all, and tells a grown
// capacitor from a changed divider, which the times alone do not.
func TestWaveformBetweenTwoSupplies(t *testing.T) {
	d := twoSupplies(t)
	n := fittest.Network{Circuit: fittest.Comparator, Supply: 15, R1: 10.02e3, C: 128e-9, Feedback: 0.5, OutputHigh: 14.1, OutputLow: -13}
	s := usualScope
	s.step, s.code, s.noise = 4e-6, 0.12, 0.05
	seen := s.record(t, n, 3)
	with, err := foundWith(d, []question.Observation{{Measurement: seen.Measurement, Waveform: seen}})
	if err != nil {
		t.Fatal(err)
	}
	alone, err := foundWith(d, []question.Observation{{Measurement: seen.Measurement}})
	if err != nil {
		t.Fatal(err)
	}
	divider := func(f *compare.Finding) float64 { return about(f, "", "R2") + about(f, "", "R3") }
	if a, b := divider(with), divider(alone); a > 0.03 || b < 0.1 {
		t.Errorf("the divider has the probability %.3f with the waveform, %.3f by the times alone", a, b)
	}
	if with.Waveform == nil || !(math.Abs(with.Waveform.DischargeAsymptote.Value+13./15) <= 0.02) {
		t.Errorf("waveform %+v", with.Waveform)
	}
	for _, note := range with.Waveform.Notes {
		if note == trace.Implausible {
			t.Error(note)
		}
	}
}
