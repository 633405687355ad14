package retune

import (
	"testing"

	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/fittest"
)

// networks are each circuit as Kirchhoff's law sees it, its timing capacitor 16 % above the design's 100 nF.
var networks = map[string]fittest.Network{
	"astable":        {R1: 10e3, R2: 47e3, C: 116e-9},
	"astable-diode":  {R1: 10e3, R2: 47e3, C: 116e-9},
	"astable-output": {R1: 47e3, C: 116e-9},
	"monostable":     {R1: 47e3, C: 116e-9},
	"schmitt":        {R1: 47e3, C: 116e-9, Upper: 0.6, Lower: 0.36},
	"multivibrator":  {R1: 47e3, C: 116e-9, R2: 47e3, C2: 100e-9, BaseEmitter: 0.65, Saturation: 0.1},
	"comparator":     {R1: 47e3, C: 116e-9, Feedback: 0.5, Reference: 2.5},
}

// Every circuit gets a proposal that most likely brings its time back; whatever it fits, the parts that it names exist
// and the prediction is of every quantity that the circuit has.
func TestEveryCircuit(t *testing.T) {
	for _, c := range circuit.All() {
		n, ok := networks[c.Name]
		if c.Latch {
			continue
		}
		if !ok {
			t.Errorf("%s has no network here", c.Name)
			continue
		}
		n.Circuit, n.Supply = c.Name, 5
		high, low, err := fittest.Integrate(n)
		if err != nil {
			t.Fatal(c.Name, err)
		}
		n.C = 100e-9
		wanted, _, err := fittest.Integrate(n)
		if err != nil {
			t.Fatal(c.Name, err)
		}
		d := &fit.Design{Circuit: c.Name, Family: c.Default, History: fit.New, Supply: fit.Reading{Value: 5, Half: 0.05},
			Targets: []fit.Target{{Quantity: "high_time", Value: wanted, Low: 0.96 * wanted, High: 1.04 * wanted}},
			Odds:    map[string]float64{"unexplained": 0}} // what is on no list leaves nothing to tune by
		if d.Family == "" {
			d.Family = fit.CMOS
		}
		if c.Name == "schmitt" {
			d.Upper, d.Lower = fit.Reading{Value: 0.6, Half: 0.01}, fit.Reading{Value: 0.36, Half: 0.01}
		}
		for i, s := range c.Parts {
			p := fit.Part{Name: s.Name, Kind: s.Kind, Nominal: 47e3, Minus: 0.01, Plus: 0.01}
			switch {
			case s.Kind == fit.Capacitor:
				p.Nominal, p.Minus, p.Plus = 100e-9, 0.05, 0.05
			case i == 0 && len(c.Resistors()) == 2 && c.Name != "multivibrator":
				p.Nominal = 10e3
			}
			d.Parts = append(d.Parts, p)
		}
		if c.Name == "comparator" { // a divider of R2 and R3 for half the swing
			d.Parts[2].Nominal, d.Parts[3].Nominal = 10e3, 10e3
		}
		m := &fit.Measurement{High: fit.Estimate{Value: high, Uncertainty: 1e-4 * high, Count: 50}, Clock: 50e-6}
		if !c.OnePulse {
			m.Low = fit.Estimate{Value: low, Uncertainty: 1e-4 * low, Count: 50}
		}
		_, e, err := reconcile.Solve(d, []*fit.Measurement{m})
		if err != nil {
			t.Fatal(c.Name, err)
		}
		all, err := Run(d, e, Options{Count: 2})
		if err != nil {
			t.Fatal(c.Name, err)
		}
		if all = surest(all); len(all) == 0 || all[0].InTarget < 0.9 || len(all[0].Changes) == 0 {
			t.Errorf("%s: best proposal %+v", c.Name, all)
			continue
		}
		for _, q := range all {
			if (q.Predicted.Frequency == nil) != c.OnePulse || q.Predicted.High == nil {
				t.Errorf("%s: predicted %+v", c.Name, q.Predicted)
			}
			for _, k := range q.Changes {
				if d.Part(k.Part) == nil || k.Fit == "" || !(k.Value > 0) {
					t.Errorf("%s: change %+v", c.Name, k)
				}
			}
		}
	}
}
