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

// What counts as about to be and what does not: a follower's tolerance, one of 1e-3 V here, on a node that runs from x toward the goal with
// exp(-4 t), and a watched quantity that is the node's voltage plus a constant.
func TestFollowersTolerance(t *testing.T) {
	const tol, rate = 1e-3, 4.0
	v := Ideal(5)
	at := func(x, goal, plus float64) (*follower, *motion) {
		f := &follower{e: &engine{n: 1}, v: &v, tol: tol}
		o := &motion{n: 1, m: 1, nh: 1, nd: 1}
		f.x[0], o.rate[0], o.goal[0], o.shape[0][0], o.into[0][0] = x, rate, goal, 1, 1
		o.hold[0][0], o.hold[0][1], o.differ[0][0], o.differ[0][1] = plus, 1, plus, 1
		return f, o
	}
	// A diode's condition is broken below minus the tolerance.
	for _, c := range []struct{ rest, until, want float64 }{{-0.5 * tol, 15, -1}, {-2 * tol, 15, math.Log(1/tol) / rate}, {-2 * tol, 1, -1}, {-2 * tol, 1.8, math.Log(1/tol) / rate}} {
		f, o := at(1, 0, c.rest)
		when, which := f.breaks(o, c.until)
		if (which == 0) != (c.want > 0) || which == 0 && !(math.Abs(when-c.want) <= 1e-9) || which < 0 && when != c.until {
			t.Errorf("%+v: diode %d changes at %v", c, which, when)
		}
	}
	// The diodes fit where none is below minus ten tolerances, and none within ten that falls by more than one in the slowest time constant.
	for _, c := range []struct {
		y, falls float64 // tolerances, and those that it falls by in a time constant
		want     bool
	}{{-10.5, -5, false}, {-9.5, 0, true}, {-9.5, 1.5, false}, {9.5, 1.5, false}, {9.5, 0.5, true}, {9.5, -1.5, true}, {10.5, 3, true}} {
		f, o := at(2, 2-c.falls*tol, c.y*tol-2)
		if got := f.fits(o); got != c.want {
			t.Errorf("%+v: fits %v", c, got)
		}
	}
	// A difference is past above ten tolerances; within ten it counts as below while it falls.
	for _, c := range []struct {
		y, falls float64
		past     bool
		lowered  float64 // tolerances by which it counts as below
	}{{10.5, 1, true, 0}, {10.5, -1, true, 0}, {9.5, 1, false, 20}, {9.5, -1, true, 0}, {-9.5, 1, false, 20}, {-9.5, -1, false, 0}, {-10.5, 1, false, 0}} {
		f, o := at(2, 2-c.falls*tol, c.y*tol-2)
		d := o.start(&f.x)
		got, past := f.ending(o, 0, &d)
		if past != c.past || !(math.Abs(got.at(0)-(c.y-c.lowered)*tol) <= 1e-9) {
			t.Errorf("%+v: past %v, %v V", c, past, got.at(0))
		}
	}
}

// Of two differences the later one ends a state, where the first is still above zero then: 4 exp(-t) - 4 exp(-4 t) - 1 is so from 0.1089 to 1.3697,
// c - 4 exp(-t) from ln(4/c) on.
func TestBothDifferencesEndAState(t *testing.T) {
	v := Ideal(5)
	for _, c := range []struct {
		c, until, want float64
	}{{3, 9, math.Log(4. / 3)}, {1.2, 9, math.Log(4 / 1.2)}, {0.9, 9, -1}, {1.2, 1, -1}, {3.9, 9, 0.1089}} {
		f := &follower{e: &engine{n: 2}, v: &v}
		o := &motion{n: 2, m: 2, nd: 2, node: [mostStates]int{0, 1}, rate: vector{1, 4}}
		f.x = vector{4, 4}
		for k := range 2 {
			o.shape[k][k], o.into[k][k] = 1, 1
		}
		copy(o.differ[0][:], []float64{-1, 1, -1})
		copy(o.differ[1][:], []float64{c.c, -1, 0})
		at, ok := f.crossing(o, c.until)
		if ok != (c.want > 0) || ok && !(math.Abs(at-c.want) <= 1e-4) || !ok && at != c.until {
			t.Errorf("%+v: at %v, %v", c, at, ok)
		}
	}
}

// Dwells are sound where each state's difference first rises past zero at its end, a delay ahead of the switching, and no diode changes until
// then; within a tolerance (1 V at a supply of 1e12 V, and 0.1 V for the diodes) it may stand at zero as the state begins if it falls from there.
func TestSoundDwells(t *testing.T) {
	v := Ideal(1e12)
	v[DelayFall], v[DelayRise] = 0.25, 0.5
	// Two modes, one and four times as fast, that run from b and c to 0: the difference is a + b exp(-t) + c exp(-4 t).
	half := func(a, b, c, hold float64) (o motion, x vector) {
		o = motion{n: 2, m: 2, nd: 1, nh: 1, node: [mostStates]int{0, 1}, rate: vector{1, 4}}
		for k := range 2 {
			o.shape[k][k], o.into[k][k] = 1, 1
		}
		copy(o.differ[0][:], []float64{a, 1, 1})
		copy(o.hold[0][:], []float64{hold, -1, 0})
		return o, vector{b, c}
	}
	ends := func(a, b, c float64) float64 { // by halving: where it rises past zero for good
		lo, hi := 0.05, 20.0
		for range 200 {
			if mid := (lo + hi) / 2; a+b*math.Exp(-mid)+c*math.Exp(-4*mid) < 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}
	for _, c := range []struct {
		name    string
		a, b, c float64
		by      float64 // share of the time to the end
		hold    float64 // what the diode's quantity comes to from hold - b
		want    bool
	}{
		{"rises", 3, -8, 1, 1, -1, true},
		{"rises later", 2, -8, 1, 1, -1, true},
		{"passed before by as little as Newton's last step", 3, -8, 1, 1 + 1e-8, -1, true},
		{"passed before", 3, -8, 1, 1 + 2e-7, -1, false},
		{"falls at the end", -3, 8, -6, 1, 9, false},
		{"above as it begins", 3, -8, 6.5, 1, -1, false},
		{"at zero and falling", 3, -8, 5.5, 1, -1, true},
		{"at zero but for rounding", 3, -8, 5 + 1e-15, 1, -1, true},
		{"at zero and rising", 3, -3.5, 0, 1, -1, false},
		{"a diode at its tolerance", 3, -8, 1, 1, -1.9, true},
		{"a diode that changes in the delay", 3, -8, 1, 1, -2.6, false},
		{"a diode that never was so", 3, -8, 1, 1, -8.15, false},
	} {
		steady, x := half(3, -8, 1, -1)
		other, y := half(c.a, c.b, c.c, c.hold)
		at := ends(3, -8, 1)
		for low := range 2 {
			d := dwells{e: &engine{n: 2}, v: &v, high: steady, low: other, x: x, y: y}
			times := [2]float64{at + 0.25, c.by*ends(c.a, c.b, c.c) + 0.5}
			if low == 0 {
				d = dwells{e: &engine{n: 2}, v: &v, high: other, low: steady, x: y, y: x}
				times = [2]float64{c.by*ends(c.a, c.b, c.c) + 0.25, at + 0.5}
			}
			if got := d.sound(times); got != c.want {
				t.Errorf("%s, state %d: sound %v", c.name, low, got)
			}
		}
	}
	o, x := half(3, -8, 1, -1)
	d := dwells{e: &engine{n: 2}, v: &v, high: o, low: o, x: x, y: x}
	if at := ends(3, -8, 1); !d.sound([2]float64{at + 0.25, at + 0.5}) || d.sound([2]float64{0.25, at + 0.5}) || d.sound([2]float64{at + 0.25, 0.4}) {
		t.Error("a dwell that is no longer than its delay is sound")
	}
}

// A follower in whose room other boards were followed before, with more nodes and diodes or fewer, says the same to the last bit.
func TestFollowersAreUsedAgain(t *testing.T) {
	var again follower
	texts := []string{
		"U1 timer trigger=cap threshold=cap\nR1 supply discharge 4\nR2 discharge cap 47\nC1 cap ground 100\nR3 cap x 1000\nD1 x supply\nR4 cap y 1000\nD2 y supply",
		"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nC2 a ground 10\nR3 a cap 25\nC1 cap ground 100",
		"U1 inverter in=cap\nR1 output cap 10\nR2 output x 100\nD1 cap x\nC1 cap ground 100",
	}
	for round := range 2 {
		for _, text := range texts {
			c, v := run(t, design(t, text))
			for _, supply := range []float64{1, 1.1} { // of one wiring two boards, whose motions are not the same
				at := v
				at[Supply], at[0] = supply*v[Supply], supply*v[0]
				var fresh follower
				fresh.begin(c.engine, &at)
				again.begin(c.engine, &at)
				high, low, ok := fresh.cycle()
				if h, l, runs := again.cycle(); h != high || l != low || runs != ok || !ok {
					t.Errorf("round %d, supply × %g of %q: %v %v %v, fresh %v %v %v", round, supply, text, h, l, runs, high, low, ok)
				}
			}
		}
	}
	if high, low, ok := again.cycle(); !ok || !(high > 0) || !(low > 0) {
		t.Error("a board cannot be followed twice")
	}
}
