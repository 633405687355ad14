package circuit

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire/acquiretest/expect"
)

// Where a board has a short form, following it from power-up gives the same times.
func TestShortFormsAreFollowed(t *testing.T) {
	short := 0
	for _, text := range boards {
		c, v := run(t, design(t, text))
		v[DelayFall], v[DelayRise], v[Bias], v[SwitchResistance], v[OutputDrop], v[OutputLow] = 3e-6, 2e-6, 1e-8, 20, 0.3, 0.1
		if c.engine.quick == nil {
			continue
		}
		high, low, ok, sure := c.engine.single(&v)
		if !sure {
			continue
		}
		short++
		h, l, followed := c.engine.followed(&v)
		if ok != followed {
			t.Errorf("%q runs: %v, followed %v", text, ok, followed)
			continue
		}
		expect.Near(t, text+" high", h, high, 1e-11)
		expect.Near(t, text+" low", l, low, 1e-11)
	}
	if short < 10 {
		t.Errorf("only %d short forms", short)
	}
}

// A crossing is found wherever it is, and none where there is none: sums of exponentials against a close look.
func TestCrossingsAreFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	met := 0
	for range 1000 {
		var rate vector
		c := course{m: 1 + rng.IntN(4), rate: &rate}
		for k := range c.m {
			rate[k] = math.Exp(6 * rng.Float64())
			c.part[k] = rng.NormFloat64()
		}
		c.end = 0.3 * rng.NormFloat64()
		sum := c.at(0)
		c.end -= sum + 0.5*rng.Float64() // below zero at the start
		const until, looks = 3.0, 4000
		first, near := math.Inf(1), false
		for i := range looks + 1 {
			x := until * math.Pow(float64(i)/looks, 3)
			y := c.at(x)
			near = near || math.Abs(y) < 1e-5
			if y > 0 {
				first = x
				break
			}
		}
		if near && math.IsInf(first, 1) {
			continue // it touches zero, or nearly
		}
		at, ok := c.rises(until)
		if ok != !math.IsInf(first, 1) || ok && !(at <= first && at >= 0.9*first-1e-9 && math.Abs(c.at(at)) < 1e-9) {
			t.Fatalf("%+v with %v: rises at %v (%v), looked at %v", c, rate, at, ok, first)
		}
		if ok {
			met++
		}
	}
	if met < 60 {
		t.Errorf("only %d courses cross", met)
	}
}

// A course of values that are none crosses nowhere, and says so at once: halving an interval for that would have no end.
func TestCourseOfNoNumbers(t *testing.T) {
	for m := 1; m <= 3; m++ {
		rate := vector{0, 2, 3}
		c := course{m: m, end: -1, part: vector{math.NaN(), 1, 1}, rate: &rate}
		if at, ok := c.rises(math.NaN()); ok {
			t.Errorf("%d modes: rises at %v", m, at)
		}
		if at, ok := c.rises(3); ok {
			t.Errorf("%d modes: rises at %v", m, at)
		}
	}
}
