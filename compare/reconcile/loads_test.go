package reconcile

import (
	"strings"
	"testing"

	"offbeat/acquire/quantity"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/wiring"
)

// ladder is a board whose control pin a resistor pulls down.
func ladder(t *testing.T) *fit.Design {
	t.Helper()
	w, err := wiring.Parse("U1 timer trigger=cap threshold=cap\nR1 supply discharge\nR2 discharge cap\nC1 cap ground\nR3 control ground")
	if err != nil {
		t.Fatal(err)
	}
	d := &fit.Design{Wiring: w, Family: fit.Bipolar, History: fit.Worked, Supply: fit.Reading{Name: "supply", Value: 5, Half: 0.05}, ClockLimit: 1e-4}
	for i, x := range []float64{10e3, 47e3, 100e-9, 10e3} {
		p := fit.Part{Name: []string{"R1", "R2", "C1", "R3"}[i], Nominal: x, Minus: 0.02, Plus: 0.02}
		if i == 2 {
			p.Kind = fit.Capacitor
		}
		d.Parts = append(d.Parts, p)
	}
	return d
}

// onLadder integrates that board without R3 or with it, and with a resistor across the capacitor's node; 0: none.
func onLadder(t *testing.T, r3, probe float64) *fit.Measurement {
	t.Helper()
	b := &fittest.Board{Held: map[string]float64{"ground": 0, "supply": 5}, Output: "output", High: 5, DelayFall: 1e-6, Delay: 5e-7,
		Resistors:  []fittest.Two{{A: "supply", B: "discharge", Value: 10e3}, {A: "discharge", B: "cap", Value: 47e3}, {A: "supply", B: "control", Value: 5e3}, {A: "control", B: "ground", Value: 10e3}},
		Capacitors: []fittest.Two{{A: "cap", B: "ground", Value: 100e-9}},
		FallWhen:   []fittest.Test{{Left: "cap", LeftBy: 1, Right: "control", RightBy: 1}},
		RiseWhen:   []fittest.Test{{Left: "control", LeftBy: 0.5, Right: "cap", RightBy: 1}},
		Switch:     "discharge", Saturation: 0.02, Ohm: 25}
	if r3 > 0 {
		b.Resistors = append(b.Resistors, fittest.Two{A: "control", B: "ground", Value: r3})
	}
	if probe > 0 {
		b.Resistors = append(b.Resistors, fittest.Two{A: "cap", B: "ground", Value: probe})
	}
	high, low, err := b.Cycle(false)
	if err != nil {
		t.Fatal(err)
	}
	return &fit.Measurement{Source: "ladder", High: fit.Estimate{Value: high, Uncertainty: 1e-4 * high, Count: 100}, Low: fit.Estimate{Value: low, Uncertainty: 1e-4 * low, Count: 100}, Cycles: 100, Clock: 1e-4}
}

// A meter on a divider's node tells the divider's part that is gone, and a known resistor from a node to ground is part of
// the board that it loads.
func TestNodesTell(t *testing.T) {
	d := ladder(t)
	probability := func(name string, parts []string, obs ...question.Observation) float64 {
		f := runWith(t, d, obs...)
		for _, c := range f.Causes {
			if cause.Key(c.Cause, c.Parts) == cause.Key(name, parts) {
				return c.Probability
			}
		}
		return 0
	}
	open := question.Observation{Measurement: onLadder(t, 0, 0)}
	d.Readings = []fit.Reading{{Name: "control", Value: 10. / 3, Half: 0.02}}
	if p := probability("missing", []string{"R3"}, open); p < 0.8 { // what else holds the pin there, and not R3, has 0.16
		t.Errorf("R3 missing, its node read at two thirds of the supply: %.3g", p)
	}
	d.Readings[0].Value = 2.5 // what the board of the drawing has there
	if p := probability("missing", []string{"R3"}, open); p > 0.01 {
		t.Errorf("R3 missing although its node was read where the drawing has it: %.3g", p)
	}
	d.Readings = nil
	probe := []fit.Condition{condition(fit.ToGround, "cap", 1e6, 0.01)}
	sound := question.Observation{Measurement: onLadder(t, 10e3, 1e6), Conditions: probe}
	if p := probability(cause.Nothing, nil, sound); p < 0.8 { // on a worked board R1, R3 and what is not listed have 0.1 before any capture
		t.Errorf("nothing wrong under a known load: %.3g", p)
	}
	if p := probability(cause.Nothing, nil, question.Observation{Measurement: onLadder(t, 10e3, 220e3), Conditions: probe}); p > 0.01 {
		t.Errorf("nothing wrong under a load that is another one: %.3g", p)
	}
}

// What has come loose since a baseline is asked of a board that had it then.
func TestMissingSince(t *testing.T) {
	d := ladder(t)
	then := runWith(t, d, question.Observation{Measurement: onLadder(t, 10e3, 0)})
	f, _, err := SolveUntil(t.Context(), d, []question.Observation{{Measurement: onLadder(t, 0, 0)}}, reread(t, then))
	if err != nil {
		t.Fatal(err)
	}
	if c := f.Causes[0]; c.Cause != "missing" || c.Parts[0] != "R3" || c.Probability < 0.8 {
		t.Errorf("R3 came loose since: %+v", c)
	}
}

// onCards is a design of a wiring whose values stand on its cards: resistors ± 1 %, capacitors ± 5 %.
func onCards(t *testing.T, text string) *fit.Design {
	t.Helper()
	d := &fit.Design{Family: fit.Bipolar, History: fit.Worked, Supply: fit.Reading{Name: "supply", Value: 5, Half: 0.05}, ClockLimit: 1e-4}
	var err error
	if d.Wiring, err = wiring.Parse(text); err != nil {
		t.Fatal(err)
	}
	for _, c := range d.Wiring.Cards {
		p, unit := fit.Part{Name: c.Name, Minus: 0.01, Plus: 0.01}, quantity.Ohm
		if c.Kind == wiring.Capacitor {
			p, unit = fit.Part{Name: c.Name, Kind: fit.Capacitor, Minus: 0.05, Plus: 0.05}, quantity.Farad
		}
		q, err := quantity.Parse(c.Value, unit)
		if err != nil {
			t.Fatal(err)
		}
		p.Nominal = q.Value
		d.Parts = append(d.Parts, p)
	}
	return d
}

// The capacitor's channel counts on boards as they are wired: on a capacitor to the supply whose leak leads there, and where
// the right cause is another wiring. The boards are integrated from Kirchhoff's law.
func TestWaveformOfWiredBoards(t *testing.T) {
	resistors := func(rows ...fittest.Two) []fittest.Two { return rows }
	timer := func(loaded bool, b *fittest.Board) *fittest.Board {
		b.Held, b.Output, b.High, b.DelayFall, b.Delay = map[string]float64{"supply": 5}, "output", 4.2, 1e-6, 5e-7
		b.Switch, b.Saturation, b.Ohm = "discharge", 0.02, 25
		control, by := "", 10./3
		if loaded {
			control, by = "control", 1
		}
		b.FallWhen, b.RiseWhen = []fittest.Test{{Left: "cap", LeftBy: 1, Right: control, RightBy: by}}, []fittest.Test{{Left: control, LeftBy: by / 2, Right: "cap", RightBy: 1}}
		return b
	}
	for _, c := range []struct {
		name, text string
		board      *fittest.Board
		cause      string
		part       string
		least      float64
	}{
		{"a divider's part is gone", "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10k\nR2 discharge cap 22k\nR3 control ground 15k\nC1 cap ground 100n",
			timer(true, &fittest.Board{Resistors: resistors(fittest.Two{A: "supply", B: "discharge", Value: 10.02e3}, fittest.Two{A: "discharge", B: "cap", Value: 22.1e3},
				fittest.Two{A: "supply", B: "control", Value: 5e3}, fittest.Two{A: "control", B: "ground", Value: 10e3}), Capacitors: []fittest.Two{{A: "cap", B: "ground", Value: 101e-9}}}), "missing", "R3", 0.5},
		{"a leak to the supply", "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10k\nR2 discharge cap 47k\nC1 cap supply 47n\nC2 cap ground 22n",
			timer(false, &fittest.Board{Resistors: resistors(fittest.Two{A: "supply", B: "discharge", Value: 9.97e3}, fittest.Two{A: "discharge", B: "cap", Value: 46.8e3},
				fittest.Two{A: "supply", B: "cap", Value: 400e3}), Capacitors: []fittest.Two{{A: "cap", B: "supply", Value: 47.4e-9}, {A: "cap", B: "ground", Value: 21.8e-9}}}), "leakage", "C1", 0.9},
		// Two parts that are far off make the same times; what no list holds keeps a share.
		{"a path that conducts in the discharge alone", "U1 timer trigger=cap threshold=cap\nR1 supply discharge 20k\nR2 discharge cap 10k\nC1 cap ground 33n",
			timer(false, &fittest.Board{Resistors: resistors(fittest.Two{A: "supply", B: "discharge", Value: 19.7e3}, fittest.Two{A: "discharge", B: "cap", Value: 10.1e3},
				fittest.Two{A: "inside", B: "discharge", Value: 2e3}), Diodes: []fittest.Two{{A: "cap", B: "inside", Value: 0.1}}, Capacitors: []fittest.Two{{A: "cap", B: "ground", Value: 33.4e-9}}}), "unexplained", "", 0.1},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := onCards(t, c.text)
			high, low, err := c.board.Cycle(false)
			if err != nil {
				t.Fatal(err)
			}
			s := usualScope
			s.step, s.rows, s.noise, s.code = (high+low)/171.3, 4000, 0.003*(c.board.High-c.board.Low), (c.board.High-c.board.Low)/230
			w := s.sees(t, false, 7, func(late float64) ([]float64, []float64, error) { return c.board.Trace("cap", late, s.step, s.rows) })
			f, err := foundWith(d, []question.Observation{{Measurement: w.Measurement, Waveform: w}})
			if err != nil {
				t.Fatal(err)
			}
			if p := about(f, c.cause, strings.Fields(c.part)...); p < c.least || f.Waveform == nil {
				t.Errorf("the right cause has %.3f, want %.2f: %s", p, c.least, f.Finding)
			}
			if c.cause == "leakage" && (f.Waveform.Leak != nil || f.Waveform.DischargePath != nil) {
				t.Errorf("a leak to the supply is read as one to ground or as a weak discharge: %+v", f.Waveform)
			}
		})
	}
}
