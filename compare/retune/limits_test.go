package retune

import (
	"maps"
	"math"
	"os"
	"strings"
	"testing"

	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// The pins' limits as the data sheets say them: at 15 V a bipolar discharge pin takes 15 mA, which 1 kOhm draws by itself; at
// 5 V 4.5 mA, 1.1 kOhm (ST Doc ID 2182 rev 6, table 3).
func TestOverloads(t *testing.T) {
	c, err := circuit.Lookup("astable")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		supply, r1, r2 float64
		family         string
		want           bool
	}{
		{15, 1001, 9e6, fit.Bipolar, false}, {15, 990, 9e6, fit.Bipolar, true}, {5, 1112, 3e6, fit.Bipolar, false}, {5, 1100, 3e6, fit.Bipolar, true},
		{5, 3e6, 742, fit.Bipolar, false}, {5, 3e6, 735, fit.Bipolar, true}, {5, 3e6, 0.5e6, fit.Bipolar, true}, {15, 5e6, 4.9e6, fit.Bipolar, false}, {15, 5e6, 5.1e6, fit.Bipolar, true}, {5, 100, 1e9, fit.CMOS, false}, {5, 60, 60, fit.CMOS, true}, {5, 100, 1e9, "", true},
	} {
		v := circuit.Ideal(row.supply)
		v[0], v[1], v[2] = row.r1, row.r2, 1e-6
		if got := limitsOf(c, row.family).overloads(&v); got != row.want {
			t.Errorf("%+v: %v", row, got)
		}
	}
}

// However fast the target, no proposal draws more than the pin bears, with the parts at the low ends of their tolerances
// already counted board by board; without a capture nothing is proposed that only puts the drawing's own value in.
func TestChoose(t *testing.T) {
	for _, f := range []float64{200, 2e3, 2e4, 1e5} {
		d := &fit.Design{Circuit: "astable", Family: fit.Bipolar, Supply: fit.Reading{Value: 5}, Parts: []fit.Part{
			{Name: "R1", Nominal: 2.2e3, Minus: 0.01, Plus: 0.01}, {Name: "R2", Nominal: 10e3, Minus: 0.01, Plus: 0.01}, {Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.02, Plus: 0.02}},
			Targets: []fit.Target{{Quantity: "frequency", Value: f, Low: 0.95 * f, High: 1.05 * f}}}
		all, err := Choose(d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range all {
			r := map[string]float64{"R1": 2.2e3, "R2": 10e3}
			drawn := true
			for _, c := range p.Changes {
				r[c.Part] = c.Value
				drawn = drawn && math.Abs(c.Value/d.Part(c.Part).Nominal-1) < 1e-6
			}
			if current := 5/r["R1"] + 5*2/3./r["R2"]; current > 4.5e-3 && p.InTarget > 0 {
				t.Errorf("%g Hz: %+v draws %.2g mA", f, p.Changes, 1e3*current)
			}
			if drawn && len(p.Changes) > 0 || p.Predicted.Frequency == nil || p.Predicted.Duty == nil || p.InTarget < worthwhile {
				t.Errorf("%g Hz: %+v", f, p)
			}
		}
		if f < 1e4 && len(all) == 0 {
			t.Errorf("nothing for %g Hz", f)
		}
	}
}

// The repair stands first, whatever else is surer.
func TestAsDrawnComesFirst(t *testing.T) {
	d := lamp(fit.Ideal)
	d.Targets[0].Low, d.Targets[0].High = 138*0.88, 138*1.12
	_, e, err := reconcile.Solve(d, []*fit.Measurement{timed(t, 10e3, 47e3, 122e-9, 0)})
	if err != nil {
		t.Fatal(err)
	}
	all, err := Run(d, e, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !all[0].AsDrawn || len(all[0].Changes) != 1 || all[0].Changes[0].Part != "C1" || !(math.Abs(all[0].Changes[0].Value/100e-9-1) <= 0.001) {
		t.Errorf("%+v", all[0])
	}
	seen := 0
	for _, p := range all {
		if p.AsDrawn || len(p.Changes) == 1 && p.Changes[0].Fit == all[0].Changes[0].Fit && p.Changes[0].Part == "C1" {
			seen++
		}
	}
	if seen != 1 {
		t.Errorf("the repair stands %d times", seen)
	}
}

// No advice is beyond what the timer bears (ST Doc ID 2182 rev 6, table 3; Diodes DS35112, notes 3 and 6; ST DocID4077 rev 4,
// page 1; ICM7555, FN2867.9), whatever is asked of whichever circuit, family and supply; the currents are worked out here from
// the proposed values by Ohm's law on each circuit's drawing.
func TestNoAdviceIsBeyondTheTimer(t *testing.T) {
	ohms := map[string]float64{"R1": 2.2e3, "R2": 10e3, "R3": 1e3}
	type currents func(r map[string]float64, supply float64) (discharge, output, feed float64)
	boards := []struct {
		circuit, cards, parts string
		of                    currents
	}{
		{"astable", "", "R1 R2", func(r map[string]float64, v float64) (float64, float64, float64) {
			return v/r["R1"] + v*2/3/r["R2"], 0, r["R1"] + r["R2"]
		}},
		{"astable-diode", "", "R1 R2", func(r map[string]float64, v float64) (float64, float64, float64) {
			return v/r["R1"] + v*2/3/r["R2"], 0, r["R1"]
		}},
		{"astable-output", "", "R1", func(r map[string]float64, v float64) (float64, float64, float64) {
			return 0, v * 2 / 3 / r["R1"], r["R1"]
		}},
		{"monostable", "", "R1", func(r map[string]float64, v float64) (float64, float64, float64) { return v / r["R1"], 0, r["R1"] }},
		{"", "U1 timer trigger=cap threshold=cap\nR1 supply a\nR3 a discharge\nR2 discharge cap\nC1 cap ground\n", "R1 R2 R3", func(r map[string]float64, v float64) (float64, float64, float64) {
			return v/(r["R1"]+r["R3"]) + v*2/3/r["R2"], 0, r["R1"] + r["R2"] + r["R3"]
		}},
	}
	proposals, empty, row := 0, 0, 0
	whole := os.Getenv("OFFBEAT_STUDY") != "" // else every fifth combination
	for _, b := range boards {
		for _, family := range []string{fit.Bipolar, fit.CMOS} {
			for k, supply := range []float64{5, 15} {
				for _, times := range []float64{0.02, 30, 3000} { // the drawing's own high time over the wanted one
					if row++; row%5 != 0 && !whole {
						continue
					}
					d := &fit.Design{Circuit: b.circuit, Family: family, Supply: fit.Reading{Value: supply}, Parts: []fit.Part{{Name: "C1", Kind: fit.Capacitor, Nominal: 10e-9, Minus: 0.02, Plus: 0.02}}}
					for _, name := range strings.Fields(b.parts) {
						d.Parts = append(d.Parts, fit.Part{Name: name, Nominal: ohms[name], Minus: 0.01, Plus: 0.01})
					}
					if b.cards != "" {
						w, err := wiring.Parse(b.cards)
						if err != nil {
							t.Fatal(err)
						}
						d.Wiring = w
					}
					high := 70e-6 / times
					d.Targets = []fit.Target{{Quantity: "high_time", Value: high, Low: 0.9 * high, High: 1.1 * high}}
					if k == 1 && b.circuit != "monostable" && b.circuit != "astable-output" {
						d.Targets = append(d.Targets, fit.Target{Quantity: "duty_factor", Value: 0.6, Low: 0.55, High: 0.65})
					}
					all, err := Choose(d, Options{})
					if err != nil {
						t.Fatal(b.circuit, err)
					}
					if len(all) == 0 {
						empty++
					}
					for _, p := range all {
						r := maps.Clone(ohms)
						for _, c := range p.Changes {
							r[c.Part] = c.Value
						}
						if len(p.Changes) == 0 {
							continue
						}
						proposals++
						const slack = 1.03 // the parts' tolerances: a board in twenty may be beyond, and then does not count
						discharge, output, feed := b.of(r, supply)
						limit := map[string][2]float64{fit.Bipolar: {map[float64]float64{5: 4.5e-3, 15: 15e-3}[supply], 0.2}, fit.CMOS: {0.1, 0.1}}[family]
						if discharge > limit[0]*slack || output > limit[1]*slack {
							t.Errorf("%s %s %g V, high time %g s: %+v draws %.3g and %.3g A", b.circuit, family, supply, high, p.Changes, discharge, output)
						}
						if most := map[float64]float64{5: 3.4e6, 15: 10e6}[supply]; family == fit.Bipolar && feed > most*slack {
							t.Errorf("%s %g V: %+v feeds through %.3g ohm", b.circuit, supply, p.Changes, feed)
						}
						if f := p.Predicted.Frequency; family == fit.Bipolar && f != nil && f.Value > 100e3*slack {
							t.Errorf("%s: %+v runs at %.3g Hz", b.circuit, p.Changes, f.Value)
						}
					}
				}
			}
		}
	}
	if proposals < 10 || empty < 2 {
		t.Errorf("%d proposals, %d targets without: too few to tell", proposals, empty)
	}
}

// The supply's own limit is said (UTC QW-R106-001, page 4: 16 V; LMC555, National: 15 V), and what could do what no part can.
func TestWhatNoPartHelps(t *testing.T) {
	d := lamp(fit.Bipolar)
	for _, row := range []struct {
		supply float64
		family string
		any    bool
		said   bool
	}{{16, fit.Bipolar, false, false}, {16.5, fit.Bipolar, false, true}, {15, fit.CMOS, false, false}, {15.5, fit.CMOS, false, true}, {15.5, fit.Bipolar, true, false}} {
		d.Supply.Value, d.Family, d.AnyFamily = row.supply, row.family, row.any
		if got := Beyond(d) != ""; got != row.said {
			t.Errorf("%+v: %q", row, Beyond(d))
		}
	}
	for _, family := range []string{fit.Bipolar, fit.CMOS} { // 200 kHz that no pin minds
		d = lamp(family)
		d.Parts[2].Nominal, d.Parts[2].Minus, d.Parts[2].Plus = 100e-12, 0.02, 0.02
		d.Targets = []fit.Target{{Quantity: "frequency", Value: 200e3, Low: 160e3, High: 240e3}}
		all, err := Choose(d, Options{})
		if could := strings.Contains(strings.Join(Could(d), " "), "a CMOS timer does"); err != nil || could != (family == fit.Bipolar) || could != (len(all) == 0) {
			t.Errorf("%s: %v %+v %q", family, err, all, Could(d))
		}
	}
	d.Targets = []fit.Target{{Quantity: "duty_factor", Value: 0.3, Low: 0.29, High: 0.31}}
	if text := strings.Join(Could(d), " "); !strings.Contains(text, "astable-diode") || strings.Contains(text, "astable,") {
		t.Error(text)
	}
}
