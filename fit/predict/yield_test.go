package predict

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"offbeat/acquire/quantity"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// The yield of a target follows from the spread of one part where nothing else spreads: the period of an ideal astable goes
// as C1, which is uniform over 90 … 110 nF, so that half the boards lie within 5 % of nominal, and by the binomial law the
// fraction of 4096 repeats to 0.0078.
func TestYieldOfOneUniformPart(t *testing.T) {
	d := &fit.Design{Circuit: "astable", Family: fit.Ideal, Supply: fit.Reading{Value: 5}, Parts: []fit.Part{{Name: "R1", Nominal: 10e3}, {Name: "R2", Nominal: 47e3}, {Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1}}}
	r, err := Run(d)
	if err != nil {
		t.Fatal(err)
	}
	n := r.Bands[2].Nominal
	period := fit.Target{Quantity: "period", Value: n, Low: 0.95 * n, High: 1.05 * n}
	half := fit.Target{Quantity: "high_time", Value: r.Bands[0].Nominal * 1.25, Low: r.Bands[0].Nominal, High: 2 * r.Bands[0].Nominal}
	each, all := r.Yields([]fit.Target{period, half})
	const sigma = 0.0078
	if len(each) != 2 || !(math.Abs(each[0].Yield-0.5) <= 4*sigma) || !(math.Abs(each[1].Yield-0.5) <= 4*sigma) || !(math.Abs(all-0.25) <= 4*sigma) {
		t.Errorf("%+v, together %v", each, all)
	}
	if !(math.Abs(each[0].Error-sigma) <= 0.001) || each[0].Centre != 0 || !(math.Abs(each[1].Centre+0.2) <= 1e-12) || each[0].Worst {
		t.Errorf("%+v", each)
	}
	if none, _ := r.Yields(nil); none != nil {
		t.Errorf("%+v without a target", none)
	}
}

// Yields of three boards that are known, by hand: limits belong to what they hold, and each target looks at its own quantity.
func TestYieldsByHand(t *testing.T) {
	r := &Result{Bands: make([]Band, len(Quantities)), boards: [][5]float64{{1, 10}, {2, 20}, {3, 30}}}
	r.Bands[0], r.Bands[1] = Band{Nominal: 2, Worst: [2]float64{1, 3}}, Band{Nominal: 20, Worst: [2]float64{10, 30}}
	of := func(quantity string, low, high float64) fit.Target {
		return fit.Target{Quantity: quantity, Value: (low + high) / 2, Low: low, High: high}
	}
	for name, c := range map[string]struct {
		targets []fit.Target
		pulse   bool
		yields  []float64 // of 4096
		worst   []bool
		all     float64
	}{
		"on both limits":      {[]fit.Target{of("high_time", 1, 3)}, false, []float64{3}, []bool{true}, 3},
		"just inside them":    {[]fit.Target{of("high_time", 1.01, 2.99)}, false, []float64{1}, []bool{false}, 1},
		"below alone":         {[]fit.Target{of("high_time", 1, 2)}, false, []float64{2}, []bool{false}, 2},
		"above alone":         {[]fit.Target{of("high_time", 2, 3)}, false, []float64{2}, []bool{false}, 2},
		"two that share one":  {[]fit.Target{of("high_time", 1, 2), of("low_time", 20, 30)}, false, []float64{2, 2}, []bool{false, false}, 1},
		"a pulse has no more": {[]fit.Target{of("low_time", 0, 40), of("high_time", 1, 2)}, true, []float64{2}, []bool{false}, 2},
		"an unknown quantity": {[]fit.Target{of("colour", 0, 40)}, false, nil, nil, 3},
	} {
		r.OnePulse = c.pulse
		each, all := r.Yields(c.targets)
		if len(each) != len(c.yields) || all != c.all/draws {
			t.Errorf("%s: %+v, together %v", name, each, all)
			continue
		}
		for i, y := range each {
			if y.Yield != c.yields[i]/draws || y.Worst != c.worst[i] {
				t.Errorf("%s: %+v", name, each)
			}
		}
	}
}

// What is drawn for the supply has the mean and the standard deviation stated: ±0.25 V rectangular is 0.25/√3 (JCGM 100 4.3.7);
// 4000 draws tell a deviation to 1 % and a mean to a sixty-third of it.
func TestSupplyDrawn(t *testing.T) {
	d := lamp(fit.Bipolar)
	for name, c := range map[string]struct {
		supply fit.Reading
		u      float64
		says   string
	}{"half width": {fit.Reading{Value: 5, Half: 0.25}, 0.25 / math.Sqrt(3), "rectangular"}, "standard": {fit.Reading{Value: 5, Standard: 0.1}, 0.1, "normal"}} {
		d.Supply = c.supply
		boards, err := Draw(d, 4000, 3)
		if err != nil {
			t.Fatal(err)
		}
		volts := make([]float64, len(boards))
		for i := range boards {
			volts[i] = boards[i][circuit.Supply]
		}
		if mean, sd := stat.MeanStdDev(volts, nil); !(math.Abs(mean-5) <= 4*c.u/63) || !(math.Abs(sd/c.u-1) <= 0.05) {
			t.Errorf("%s: drawn %g with %g, want 5 with %g", name, mean, sd, c.u)
		}
		r, err := Run(d)
		if err != nil || len(r.Warnings) != 0 {
			t.Fatalf("%v, %v", err, r.Warnings)
		}
		if i := slices.IndexFunc(r.Budget, func(row Row) bool { return row.Input == "supply" }); i < 0 || r.Budget[i].Distribution != c.says || !(math.Abs(r.Budget[i].Uncertainty/c.u-1) <= 1e-12) {
			t.Errorf("%s: %+v", name, r.Budget)
		}
	}
}

// Draws in which the circuit does not run are counted and said: on 0.05 V it does not.
func TestDrawsThatDoNotRun(t *testing.T) {
	d := lamp(fit.Bipolar)
	d.Supply = fit.Reading{Value: 1, Half: 0.99}
	r, err := Run(d)
	if err != nil || len(r.boards) == draws {
		t.Fatalf("%v, %d boards run", err, len(r.boards))
	}
	share := quantity.Probability(1 - float64(len(r.boards))/draws)
	if !slices.Contains(r.Warnings, "in "+share+" of the draws the circuit does not run") {
		t.Errorf("%v, want a share of %s", r.Warnings, share)
	}
}
