package fit_test

import (
	"math"
	"testing"

	"offbeat/acquire/quantity"
	"offbeat/fit"
)

// The law of propagation (JCGM 100, 5.2.2, equation 13) with slopes by central differences, the clock as one more input that
// stretches all times alike, rectangular (4.3.7): it cancels in the duty factor.
func TestQuantitiesArePropagated(t *testing.T) {
	m := &fit.Measurement{High: fit.Estimate{Value: 3e-3, Uncertainty: 2e-6, Count: 9}, Low: fit.Estimate{Value: 2e-3, Uncertainty: 5e-6, Count: 8},
		Covariance: -4e-12, Clock: 1e-3, Cycles: 7}
	for i, c := range []struct {
		name string
		of   func(h, l float64) float64
	}{
		{"high time", func(h, l float64) float64 { return h }}, {"low time", func(h, l float64) float64 { return l }},
		{"period", func(h, l float64) float64 { return h + l }}, {"frequency", func(h, l float64) float64 { return 1 / (h + l) }},
		{"duty factor", func(h, l float64) float64 { return h / (h + l) }},
	} {
		h, l := m.High.Value, m.Low.Value
		const e = 1e-6
		dh, dl := (c.of(h*(1+e), l)-c.of(h*(1-e), l))/(2*e*h), (c.of(h, l*(1+e))-c.of(h, l*(1-e)))/(2*e*l)
		dk := (c.of(h*(1+e), l*(1+e)) - c.of(h*(1-e), l*(1-e))) / (2 * e) // by the clock's factor
		want := math.Sqrt(math.Pow(dh*2e-6, 2) + math.Pow(dl*5e-6, 2) + 2*dh*dl*m.Covariance + math.Pow(dk*1e-3, 2)/3)
		got := m.Each()[i]
		if got.Value != c.of(h, l) || !(math.Abs(got.Uncertainty/want-1) <= 1e-6) || got.Count != []int{9, 8, 7, 7, 7}[i] {
			t.Errorf("%s: %+v, want %v ± %v", c.name, got, c.of(h, l), want)
		}
	}
}

func TestPartsAndChannels(t *testing.T) {
	p := fit.Part{Name: "C1", Kind: fit.Capacitor, Nominal: 200, Minus: 0.2, Plus: 0.5}
	if p.Low() != 160 || p.High() != 300 || p.Kind.Unit() != quantity.Farad || fit.Resistor.Unit() != quantity.Ohm {
		t.Errorf("%v … %v", p.Low(), p.High())
	}
	d := &fit.Design{Parts: []fit.Part{{Name: "R1"}, p}, Stills: []fit.Still{{Seconds: 1}, {Interval: 2e-3}, {Interval: 3e-3}}}
	if d.Part("C1") != &d.Parts[1] || d.Part("C2") != nil || d.Coarse() != 2e-3 || (&fit.Design{}).Coarse() != 0 {
		t.Errorf("%v, %v", d.Part("C1"), d.Coarse())
	}
	if s, z := d.Channel(); s != fit.ChannelScale || z != fit.ChannelZero {
		t.Errorf("%v, %v", s, z)
	}
	d.Scale, d.Zero = 0.02, 0.005
	if s, z := d.Channel(); s != 0.02 || z != 0.005 {
		t.Errorf("%v, %v", s, z)
	}
	m := &fit.Measurement{Stretches: []*fit.Measurement{{Cycles: 4}, {Cycles: 9}, {Cycles: 9}, {Cycles: 2}}}
	if m.Longest() != 1 {
		t.Errorf("stretch %d", m.Longest())
	}
}

func TestModulationInWords(t *testing.T) {
	for want, m := range map[string]fit.Modulation{
		"the pulses alternate, 5 % rms":                   {Every: 2, Amplitude: 0.05},
		"every 2.05 pulses, 5 % rms":                      {Every: 2.05, Amplitude: 0.05},
		"every 7 pulses, as by hum of the mains, 1 % rms": {Every: 7, Amplitude: 0.01, Mains: true},
		"in no order, 5 % rms":                            {Amplitude: 0.05},
	} {
		if got := m.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
