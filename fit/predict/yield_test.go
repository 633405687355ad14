package predict

import (
	"math"
	"testing"

	"offbeat/fit"
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
	if len(each) != 2 || math.Abs(each[0].Yield-0.5) > 4*sigma || math.Abs(each[1].Yield-0.5) > 4*sigma || math.Abs(all-0.25) > 4*sigma {
		t.Errorf("%+v, together %v", each, all)
	}
	if math.Abs(each[0].Error-sigma) > 0.001 || each[0].Centre != 0 || math.Abs(each[1].Centre+0.2) > 1e-12 || each[0].Worst {
		t.Errorf("%+v", each)
	}
	if none, _ := r.Yields(nil); none != nil {
		t.Errorf("%+v without a target", none)
	}
}
