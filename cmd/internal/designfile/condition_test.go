package designfile

import (
	"errors"
	"testing"

	"offbeat/fit"
)

func TestCondition(t *testing.T) {
	d := &fit.Design{Circuit: "astable"}
	for text, want := range map[string]fit.Condition{
		"R2 || 100k ± 1 %":        {Kind: fit.InParallel, Part: "R2", Known: fit.Reading{Name: "R2", Value: 100e3, Half: 1e3}},
		"R2||100k:1%":             {Kind: fit.InParallel, Part: "R2", Known: fit.Reading{Name: "R2", Value: 100e3, Half: 1e3}},
		"C1 || 10M ± 2 %":         {Kind: fit.Bypassed, Part: "C1", Known: fit.Reading{Name: "C1", Value: 10e6, Half: 200e3}},
		"C1 || 1 MΩ":              {Kind: fit.Bypassed, Part: "C1", Known: fit.Reading{Name: "C1", Value: 1e6}},
		"C1 || 12p ± 20 %":        {Kind: fit.InParallel, Part: "C1", Known: fit.Reading{Name: "C1", Value: 12e-12, Half: 2.4e-12}},
		"R1 + 10k +- 1 %":         {Kind: fit.InSeries, Part: "R1", Known: fit.Reading{Name: "R1", Value: 10e3, Half: 100}},
		"C1 = 100n ± 2 % (k=2)":   {Kind: fit.Swapped, Part: "C1", Known: fit.Reading{Name: "C1", Value: 100e-9, Standard: 1e-9}},
		"R2 at 40 %":              {Kind: fit.Fraction, Part: "R2", Known: fit.Reading{Name: "R2", Value: 0.4}},
		"C1 at 45 °C ± 5 °C":      {Kind: fit.Warmed, Part: "C1", Known: fit.Reading{Name: "C1", Value: 45, Half: 5}},
		"temperature = -10 °C":    {Kind: fit.Temperature, Known: fit.Reading{Name: "temperature", Value: -10}},
		"supply = 9 V ± 0.1 V":    {Kind: fit.SupplyAt, Known: fit.Reading{Name: "supply", Value: 9, Half: 0.1}},
		"control = 3 V":           {Kind: fit.ControlAt, Known: fit.Reading{Name: "control", Value: 3}},
		"clock = 50 ppm":          {Kind: fit.OtherClock, Known: fit.Reading{Name: "clock", Value: 50e-6}},
		"clock =crystal":          {Kind: fit.OtherClock, Known: fit.Reading{Name: "clock", Value: 100e-6}},
		"cap || 10M ± 2 %":        {Kind: fit.ToGround, Part: "cap", Known: fit.Reading{Name: "cap", Value: 10e6, Half: 200e3}},
		"CAP || 12p":              {Kind: fit.StrayTo, Part: "cap", Known: fit.Reading{Name: "cap", Value: 12e-12}},
		"discharge = 3 V ± 1 %":   {Kind: fit.HeldAt, Part: "discharge", Known: fit.Reading{Name: "discharge", Value: 3, Half: 0.03}},
		"cap = -2 V":              {Kind: fit.HeldAt, Part: "cap", Known: fit.Reading{Name: "cap", Value: -2}},
		"output || 10k":           {}, // held
		"cap at 40 %":             {}, // a node has no value
		"cap || 100":              {}, // picofarad or ohm
		"C1 || 100":               {}, // picofarad or ohm
		"C1 = { not a table in }": {},
	} {
		got, err := Condition(text, d)
		if want == (fit.Condition{}) {
			if err == nil {
				t.Errorf("%q is read as %+v", text, got)
			}
			continue
		}
		want.Text = text
		near := func(a, b float64) bool { return a-b < 1e-12*b && b-a < 1e-12*b || a == b }
		if err != nil || !near(got.Known.Value, want.Known.Value) || !near(got.Known.Half, want.Known.Half) || !near(got.Known.Standard, want.Known.Standard) {
			t.Errorf("%q: %+v, %v; want %+v", text, got, err, want)
			continue
		}
		got.Known = want.Known
		if got != want {
			t.Errorf("%q: %+v, want %+v", text, got, want)
		}
	}
}

// Faults have a caret under them.
func TestConditionFaults(t *testing.T) {
	d := &fit.Design{Circuit: "astable"}
	for text, offset := range map[string]int{
		"R2 100k":          0,
		"R3 || 100k":       0,
		"R2 || 100n":       9,
		"supply = 9 V ± x": 16,
		"clock = quartz":   7,
		"":                 0,
	} {
		_, err := Condition(text, d)
		var e *Error
		if !errors.As(err, &e) || e.Offset != offset || !e.Flag {
			t.Errorf("%q: %v (%+v), want offset %d", text, err, e, offset)
		}
	}
}

// The nodes of the multivibrator have names, though it is no wiring.
func TestConditionOfMultivibrator(t *testing.T) {
	d := &fit.Design{Circuit: "multivibrator"}
	for text, kind := range map[string]fit.ConditionKind{"base1 || 10M": fit.ToGround, "Base2 || 12p": fit.StrayTo, "base2 = 1 V": fit.HeldAt} {
		if got, err := Condition(text, d); err != nil || got.Kind != kind {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for _, text := range []string{"collector2 || 10M", "output || 10M", "control = 3 V", "base3 || 10M"} {
		if got, err := Condition(text, d); err == nil {
			t.Errorf("%q is read as %+v", text, got)
		}
	}
}
