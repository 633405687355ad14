package retune

import (
	"math"
	"testing"

	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/circuit"
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
		{15, 1000, 1e13, fit.Bipolar, false}, {15, 990, 1e9, fit.Bipolar, true}, {5, 1112, 1e9, fit.Bipolar, false}, {5, 1100, 1e9, fit.Bipolar, true},
		{5, 1e9, 741, fit.Bipolar, false}, {5, 1e9, 735, fit.Bipolar, true}, {5, 100, 1e9, fit.CMOS, false}, {5, 60, 60, fit.CMOS, true}, {5, 100, 1e9, "", true},
	} {
		v := circuit.Ideal(row.supply)
		v[0], v[1], v[2] = row.r1, row.r2, 1e-6
		if got := overloads(c, row.family, &v); got != row.want {
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
	if !all[0].AsDrawn || len(all[0].Changes) != 1 || all[0].Changes[0].Part != "C1" || math.Abs(all[0].Changes[0].Value/100e-9-1) > 0.001 {
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
