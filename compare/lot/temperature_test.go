package lot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire/manifest"
	"offbeat/compare"
)

// warmed is a lot of boards whose capacitor follows the temperature, each captured as often as there are temperatures.
func warmed(t *testing.T, seed uint64, boards int, tempco float64, at []float64) *compare.Drift {
	t.Helper()
	d := lamp()
	d.Parts[2].Tempco = -250e-6
	b := &bench{random: rand.New(rand.NewPCG(seed, 3)), spread: [3]float64{0.002, 0.002, 0.01}, noise: 2e-5}
	c := NewCollector(d)
	for i := range boards {
		n := b.board(t)
		o := &Outcome{Board: &Board{Name: fmt.Sprint("lamp ", i+1)}, Finding: &compare.Finding{Predicted: compare.Times[compare.Predicted]{
			High: &compare.Predicted{Nominal: math.Ln2 * 57e3 * 100e-9}, Low: &compare.Predicted{Nominal: math.Ln2 * 47e3 * 100e-9}}}}
		for _, celsius := range at {
			k := 1 + tempco*(celsius-25) // every time is as long as the capacitance is large: C dv/dt = i
			e := manifest.Entry{Board: o.Board.Name, Capture: "x", Temperature: &celsius}
			o.Board.Captures = append(o.Board.Captures, e)
			o.Each = append(o.Each, Measured{&e, b.capture(times{k * n.high, k * n.low}, "x")})
		}
		c.Add(o)
	}
	return c.follows(judged(c.rows))
}

// Each board compared with itself, the boards' spread of 1 % hides nothing: the slope is the capacitor's, and it alone is
// named. Over lots its error is as large as stated: of 60 normal values the root mean square lies within 0.82 to 1.18 at
// two sigma.
func TestBoardsFollowTheTemperature(t *testing.T) {
	const tempco = -220e-6
	var square float64
	const lots = 60
	for seed := range uint64(lots) {
		d := warmed(t, seed, 3, tempco, []float64{10, 25, 45})
		if d == nil || !d.Seen {
			t.Fatalf("lot %d: %+v", seed, d)
		}
		// The slope of the logarithm over 35 K about 27 °C differs from the coefficient by half its square times that, 1e-4 of it.
		z := (d.Value - tempco) / d.Uncertainty
		square += z * z / lots
		if top := d.Causes[0]; top.Part != "C1" || !top.Plausible {
			t.Errorf("lot %d: %+v", seed, d.Causes)
		}
	}
	if r := math.Sqrt(square); r < 0.7 || r > 1.25 {
		t.Errorf("error of the slope over its uncertainty has root mean square %.2f", r)
	}
}

func TestNoTemperatureNoSlope(t *testing.T) {
	if d := warmed(t, 1, 4, -220e-6, []float64{25}); d != nil {
		t.Errorf("one capture a board: %+v", d)
	}
	if d := warmed(t, 1, 4, -220e-6, []float64{25, 25.5}); d != nil {
		t.Errorf("half a kelvin: %+v", d)
	}
	// Two captures of one board leave no scatter to judge by: the captures' own uncertainty is taken.
	d := warmed(t, 1, 1, -220e-6, []float64{15, 45})
	if d == nil || !(d.Uncertainty > 0) || !(math.Abs(d.Value+220e-6) <= 4*d.Uncertainty) {
		t.Errorf("two captures: %+v", d)
	}
}
