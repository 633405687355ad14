package circuit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"offbeat/fit"
)

// A run's voltage is its closed form to the last digits, however short it is, and until and after undo each other.
func TestRunIsItsClosedForm(t *testing.T) {
	s := segment{target: 5, tau: 2e-3}
	for _, y := range []float64{0, 1e-12, 1e-6, 1e-3, 0.0035, 0.0039999, 0.004, 0.0041, 0.1, 1, 3} {
		if got, want := s.after(0, y*s.tau), -5*math.Expm1(-y); !(math.Abs(got-want) <= 4e-16*want) && y < 0.004 || !(math.Abs(got-want) <= 1e-15*max(want, 5)) {
			t.Errorf("after %v time constants %.17g V, want %.17g", y, got, want)
		}
		if back := s.until(1, s.after(1, y*s.tau)); y > 1e-3 && !(math.Abs(back/(y*s.tau)-1) <= 1e-12) {
			t.Errorf("after %v time constants: until that is %v s", y, back)
		}
	}
	if s := node(9, 2e3, 3e-6, 1e-4); s.target != 9-0.2 || !(math.Abs(s.tau-6e-3) <= 1e-18) {
		t.Errorf("a node fed through 2 kohm that gives 0.1 mA: %+v", s)
	}
}

// random is a board of n charged nodes: conductances between all of them and to ground, capacitances likewise, currents. grounded
// false leaves the conductances to ground out, so that one mode drifts.
func random(rng *rand.Rand, n int, grounded bool) (a, b square, j vector) {
	for i := range n {
		j[i] = rng.NormFloat64()
		b[i][i] += 0.2 + rng.Float64()
		if grounded {
			a[i][i] += math.Exp(2 * rng.NormFloat64())
		}
		for k := range i {
			g, c := math.Exp(2*rng.NormFloat64()), rng.Float64()*float64(rng.IntN(2))
			a[i][i], a[k][k], a[i][k], a[k][i] = a[i][i]+g, a[k][k]+g, -g, -g
			b[i][i], b[k][k], b[i][k], b[k][i] = b[i][i]+c, b[k][k]+c, -c, -c
		}
	}
	return a, b, j
}

// moved solves b x' = j - a x by the exponential of the whole matrix (gonum's, a Padé form with squaring).
func moved(n int, a, b *square, j, x *vector, t float64) (out vector) {
	var rate, push mat.Dense
	am, bm, jm := mat.NewDense(n, n, nil), mat.NewDense(n, n, nil), mat.NewDense(n, 1, nil)
	for i := range n {
		jm.Set(i, 0, j[i])
		for k := range n {
			am.Set(i, k, a[i][k])
			bm.Set(i, k, b[i][k])
		}
	}
	if rate.Solve(bm, am) != nil || push.Solve(bm, jm) != nil {
		panic("singular")
	}
	whole := mat.NewDense(n+1, n+1, nil)
	for i := range n {
		whole.Set(i, n, push.At(i, 0)*t)
		for k := range n {
			whole.Set(i, k, -rate.At(i, k)*t)
		}
	}
	var e mat.Dense
	e.Exp(whole)
	for i := range n {
		out[i] = e.At(i, n)
		for k := range n {
			out[i] += e.At(i, k) * x[k]
		}
	}
	return out
}

// The modes move the nodes as the matrix exponential does, held by resistors or drifting; a watched quantity is what the
// nodes make it, and its slope its derivative.
func TestModesAgainstMatrixExponential(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for trial := range 200 {
		n := 1 + rng.IntN(mostStates)
		grounded := trial%4 > 0
		if n == 1 && !grounded {
			continue // nothing moves it but its current, which move computes by itself
		}
		a, b, j := random(rng, n, grounded)
		o := motion{n: n, m: n}
		for i := range n {
			o.node[i] = i
		}
		o.modes(&a, &b, &j)
		var x vector
		h := [1 + mostStates]float64{rng.NormFloat64()}
		for i := range n {
			x[i], h[1+i] = rng.NormFloat64(), rng.NormFloat64()
		}
		if n < mostStates { // one more that a diode holds
			x[n], h[1+n] = 0.7, 1.3
			o.n++
		}
		drifting, fastest := false, 1.0
		for k := range n {
			drifting, fastest = drifting || o.rate[k] == 0, max(fastest, o.rate[k])
		}
		if drifting == grounded || o.drifts() == grounded {
			t.Fatalf("%d nodes, grounded %v: rates %v", n, grounded, o.rate)
		}
		d := o.start(&x)
		c := o.course(&h, &x, &d)
		for _, at := range []float64{0, 1e-3, 0.1, 1, 5} {
			want, got := moved(n, &a, &b, &j, &x, at), x
			o.after(&got, at)
			value := h[0] + h[1+n%mostStates]*x[n%mostStates]*float64(o.n-n)
			for i := range n {
				if !(math.Abs(got[i]-want[i]) <= 1e-10*(1+math.Abs(want[i]))) {
					t.Fatalf("%d nodes, grounded %v, node %d after %v s: %v, want %v", n, grounded, i, at, got[i], want[i])
				}
				value += h[1+i] * want[i]
			}
			if !(math.Abs(c.at(at)-value) <= 1e-10*(1+math.Abs(value))) {
				t.Fatalf("watched after %v s: %v, want %v", at, c.at(at), value)
			}
			step := 1e-4 / fastest
			if slope := (c.at(at+step) - c.at(at-step)) / (2 * step); !(math.Abs(c.slope(at)-slope) <= 1e-6*fastest) {
				t.Fatalf("slope after %v s: %v, want %v", at, c.slope(at), slope)
			}
		}
	}
}

// Charges become voltages by the capacitances, as a dense solve has them.
func TestChargesAreShared(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 8))
	for range 50 {
		n := 1 + rng.IntN(mostStates)
		_, b, q := random(rng, n, true)
		c := charges{matrix: b}
		x := c.shared(n, q)
		for i := range n {
			back := -q[i]
			for k := range n {
				back += b[i][k] * x[k]
			}
			if !(math.Abs(back) <= 1e-12) {
				t.Fatalf("%d nodes: %v left of the charge of node %d", n, back, i)
			}
		}
	}
}

// coupledBoards have two charged nodes or more.
var coupledBoards = []string{
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nC2 a ground 10\nR3 a cap 25\nC1 cap ground 100",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nC2 a cap 10\nR3 a cap 25\nR4 cap ground 470\nC1 a supply 47",
	"U1 inverter in=c\nR1 output a 10\nC2 a ground 47\nR3 a b 25\nC1 b ground 100\nR4 b c 33\nC3 c ground 10",
	"U1 inverter in=b\nR1 output a 10\nC2 a ground 47\nR3 a b 25\nC1 b ground 100\nC3 output a 9\nR4 b ground 300",
}

// Newton's slopes are the derivatives of the differences by the dwells, and the periodic voltages repeat: after a cycle of
// the two motions they are what they were.
func TestSlopesOfTheDwells(t *testing.T) {
	for _, text := range coupledBoards {
		c, v := run(t, design(t, text))
		v[DelayFall], v[DelayRise], v[OutputDrop], v[OutputLow] = 40e-6, 90e-6, 0.3, 0.2
		e := c.engine
		d := dwells{e: e, v: &v}
		e.load(&v, &d.c)
		e.move(&v, false, e.nominal[0], &d.c, &d.high)
		e.move(&v, true, e.nominal[1], &d.c, &d.low)
		dwell := [2]float64{1.3 * e.dwell[0], 0.8 * e.dwell[1]}
		if !d.at(dwell) {
			t.Fatal(text)
		}
		step := d.step()
		for i, e := range d.ends {
			if left := e + d.slopes[i][0]*step[0] + d.slopes[i][1]*step[1]; !(math.Abs(left) <= 1e-12) {
				t.Errorf("%q: Newton's step leaves %v of difference %d", text, left, i)
			}
		}
		slopes, x, y := d.slopes, d.x, d.y
		d.high.after(&x, dwell[0])
		for i := range e.n {
			x[i] -= d.c.jump[i]
			if !(math.Abs(x[i]-y[i]) <= 1e-12) {
				t.Errorf("%q: the low state begins at %v, not %v", text, y, x)
			}
		}
		d.low.after(&x, dwell[1])
		for i := range e.n {
			if x[i] += d.c.jump[i]; !(math.Abs(x[i]-d.x[i]) <= 1e-12) {
				t.Errorf("%q: the high state begins at %v, not %v", text, d.x, x)
			}
		}
		for k := range dwell {
			step := 1e-5 * dwell[k]
			up, down := dwell, dwell
			up[k], down[k] = dwell[k]+step, dwell[k]-step
			d.at(up)
			ends := d.ends
			d.at(down)
			for i := range ends {
				if want := (ends[i] - d.ends[i]) / (2 * step); !(math.Abs(slopes[i][k]-want) <= 1e-6*math.Abs(want)+1e-7) {
					t.Errorf("%q: difference %d by dwell %d: %v, want %v", text, i, k, slopes[i][k], want)
				}
			}
		}
	}
}

// Every state of every board, whichever nodes a diode holds: the currents into a moving node charge its capacitances (Kirchhoff), and
// all comes to rest where they add up to nothing.
func TestMotionsObeyKirchhoff(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 8))
	held := 0
	for _, text := range boards {
		c, v := run(t, design(t, text))
		v[Bias], v[SwitchResistance] = 1e-8, 30
		e := c.engine
		var q charges
		e.load(&v, &q)
		for s := range e.pieces {
			for mask, p := range e.pieces[s] {
				if p.tape == nil {
					continue
				}
				var o motion
				e.move(&v, s == 1, mask, &q, &o)
				var r [mostOutputs]float64
				p.tape.eval(&v, r[:])
				at := 0
				var own, current vector
				var g square
				for i := range e.n {
					own[i], current[i] = r[at], r[at+1]
					at += 2
					for k := i + 1; k < e.n; k++ {
						g[i][k], g[k][i] = r[at], r[at]
						at++
					}
				}
				var x vector
				for i := range e.n {
					if x[i] = 5 * rng.Float64(); p.frozen>>i&1 == 1 {
						x[i] = o.clamp[i]
						held++
					}
				}
				into := func(x vector, i int) float64 {
					sum := current[i] - own[i]*x[i]
					for k := range e.n {
						sum -= g[i][k] * (x[i] - x[k])
					}
					return sum
				}
				fastest := 0.0
				for k := range o.m {
					fastest = max(fastest, o.rate[k])
				}
				if fastest == 0 {
					continue
				}
				h := 1e-4 / fastest
				up, middle := x, x
				o.after(&up, 2*h)
				o.after(&middle, h)
				rest := x
				o.after(&rest, 60/o.slowest())
				for i := range o.m {
					p := o.node[i]
					charged, size := 0.0, 0.0
					for k := range e.n {
						charged += q.matrix[p][k] * (up[k] - x[k]) / (2 * h)
						size += math.Abs(q.matrix[p][k]) * 5 * fastest
					}
					if !(math.Abs(charged-into(middle, p)) <= 1e-6*size) {
						t.Errorf("%q, low %v, diodes %b: %v A charge node %d, want %v", text, s == 1, mask, charged, p, into(middle, p))
					}
					if !o.drifts() && !(math.Abs(into(rest, p)) <= 1e-9*size) {
						t.Errorf("%q, low %v, diodes %b: at rest %v A flow into node %d", text, s == 1, mask, into(rest, p), p)
					}
				}
			}
		}
	}
	if held < 4 {
		t.Errorf("only %d nodes are held", held)
	}
}

// A diode that comes to hold nodes brings them there; the others keep their charge, and what the held ones take or give has to run
// through their diodes forward.
func TestPullKeepsTheCharge(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 8))
	forward := [2]int{}
	for range 400 {
		n := 2 + rng.IntN(mostStates-1)
		_, b, _ := random(rng, n, true)
		for i := range b {
			floats.Scale(1e-7, b[i][:]) // farads
		}
		e := &engine{n: n}
		f := follower{e: e, tol: 1e-13, c: charges{matrix: b}}
		o := motion{n: n}
		p := piece{frozen: 1<<rng.IntN(n) | 1<<rng.IntN(n), drains: rng.IntN(1 << n)}
		for i := range n {
			f.x[i], o.clamp[i] = rng.NormFloat64(), rng.NormFloat64()
			if p.frozen>>i&1 == 0 {
				o.node[o.m] = i
				o.m++
			}
		}
		// Of the moving nodes: no charge comes or goes; of the held ones: where they are held.
		m, q := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
		for i := range n {
			if p.frozen>>i&1 == 1 {
				m.Set(i, i, 1)
				q.SetVec(i, o.clamp[i]-f.x[i])
				continue
			}
			for k := range n {
				m.Set(i, k, b[i][k])
			}
		}
		var by mat.VecDense
		if err := by.SolveVec(m, q); err != nil {
			t.Fatal(err)
		}
		was, want := f.x, true
		ok := f.pull(&o, &p)
		for i := range n {
			if ok && !(math.Abs(f.x[i]-was[i]-by.AtVec(i)) <= 1e-12) {
				t.Fatalf("node %d moves by %v, want %v", i, f.x[i]-was[i], by.AtVec(i))
			}
			brought := 0.0
			for k := range n {
				brought += b[i][k] * by.AtVec(k)
			}
			if p.frozen>>i&1 == 1 {
				want = want && (brought >= 0) == (p.drains>>i&1 == 0)
			}
		}
		if ok != want {
			t.Fatalf("charge runs forward: %v, want %v", ok, want)
		}
		forward[map[bool]int{true: 1}[ok]]++
	}
	if forward[0] < 100 || forward[1] < 100 {
		t.Errorf("%v", forward)
	}
}

// The boards with a lower rail, worked by hand: an output that swings from -V to V, a share b of it compared with the capacitor:
// RC ln((1 + b) / (1 - b)) each way (common practice).
func TestLowerRail(t *testing.T) {
	d := design(t, "U1 comparator plus=ref minus=cap\nR1 output cap 10\nC1 cap ground 100\nR2 output ref 30\nR3 ref ground 10", "minus")
	d.Supply.Value, d.Minus = 9, fit.Reading{Value: -9}
	c, v := run(t, d)
	high, low, ok := c.Times(&v)
	want := 1e-3 * math.Log(1.25/0.75)
	if !ok || !(math.Abs(high/want-1) <= 1e-12) || !(math.Abs(low/want-1) <= 1e-12) {
		t.Errorf("%v, %v s; want %v", high, low, want)
	}
	d.OutputLow = &fit.Reading{Value: -6}
	c, v = run(t, d)
	high, low, _ = c.Times(&v)
	// From -6/4 to 9/4 toward 9, and back toward -6.
	if !(math.Abs(high/(1e-3*math.Log((9+1.5)/(9-2.25)))-1) <= 1e-12) || !(math.Abs(low/(1e-3*math.Log((6+2.25)/(6-1.5)))-1) <= 1e-12) {
		t.Errorf("a stated low level: %v, %v s", high, low)
	}
	if high, _, ok := c.Times(&v); !ok || !runs(high) || runs(0) || runs(-1) || runs(math.Inf(1)) || runs(math.NaN()) {
		t.Errorf("%v runs", high)
	}
}

// The instrument's clock stretches all times alike; a bad contact in series with C makes its time constant that of both
// resistances, and the node turns where it meets the thresholds.
func TestClockAndContact(t *testing.T) {
	c := named("astable")
	v := Ideal(9)
	v[0], v[1], v[2] = 10e3, 47e3, 100e-9
	high, low, _ := c.Times(&v)
	w := v
	w[Clock] = 0.02
	h, l, _ := c.Times(&w)
	if !(math.Abs(h/high-math.Exp(0.02)) <= 1e-12) || !(math.Abs(l/low-math.Exp(0.02)) <= 1e-12) {
		t.Errorf("times %v, %v of what they were", h/high, l/low)
	}
	v[Contact] = 0.1 // of the 57 kohm that it charges through
	k := c.Curve(&v)
	for _, s := range []struct {
		name      string
		got, want float64
	}{{"charge", k.Charge.Tau, (57e3 + 5.7e3) * 100e-9}, {"discharge", k.Discharge.Tau, (47e3 + 5.7e3) * 100e-9}, {"peak", k.Peak, 6}, {"valley", k.Valley, 3}, {"upper", k.Upper, 6}} {
		if !(math.Abs(s.got/s.want-1) <= 1e-9) {
			t.Errorf("%s %v, want %v", s.name, s.got, s.want)
		}
	}
}

// Thresholds that the design states: their limits add, of the lower over the upper one too; one without limits is good to a millionth.
func TestStatedLimits(t *testing.T) {
	c := named("schmitt")
	d := &fit.Design{Family: fit.CMOS, Supply: fit.Reading{Value: 5}}
	half := func() Prior {
		t.Helper()
		all, err := c.Beliefs(d)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range all {
			if p.Slot == Half {
				return p
			}
		}
		return Prior{}
	}
	d.Upper, d.Lower = fit.Reading{Value: 0.6, Half: 0.03}, fit.Reading{Value: 0.3, Half: 0.006}
	if p := half(); p.Form != Uniform || !(math.Abs(p.A-0.5*(1-0.07)) <= 1e-12) || !(math.Abs(p.B-0.5*(1+0.07)) <= 1e-12) {
		t.Errorf("%+v", p)
	}
	d.Upper, d.Lower = fit.Reading{Value: 0.6, Standard: 0.03}, fit.Reading{Value: 0.3, Standard: 0.006}
	if p := half(); p.Form != Normal || p.A != 0.5 || !(math.Abs(p.B-0.5*0.07) <= 1e-12) {
		t.Errorf("%+v", p)
	}
	d.Upper, d.Lower = fit.Reading{}, fit.Reading{Value: 0.3}
	if p := half(); !(math.Abs(p.A-0.45*(1-1e-6)) <= 1e-12) || !(math.Abs(p.B-0.45*(1+1e-6)) <= 1e-12) {
		t.Errorf("%+v", p)
	}
	for p, want := range map[Prior][2]float64{{Form: Normal, A: 3, B: 2}: {3, 2}, {A: 3, B: 6}: {4.5, math.Sqrt(0.75)}} {
		if p.Typical() != want[0] || !(math.Abs(p.Deviation()-want[1]) <= 1e-12) {
			t.Errorf("%+v: %v ± %v", p, p.Typical(), p.Deviation())
		}
	}
}

// A voltage is written to three digits, or as many more as tell it from another.
func TestVoltsTellApart(t *testing.T) {
	for _, c := range []struct {
		x, other float64
		want     string
	}{{1.23456, 0, "1.23 V"}, {12.3456, 0, "12.3 V"}, {123.456, 0, "123 V"}, {0.0123456, 9, "0.0123 V"}, {3.3333, 3.3345, "3.333 V"}, {-2, -2.00001, "−2.00000 V"}, {0, 1, "0.00 V"}, {100, 101, "100 V"}, {3, 3, "3.0000000 V"}} {
		if got := volts(c.x, c.other); got != c.want {
			t.Errorf("%v beside %v: %s, want %s", c.x, c.other, got, c.want)
		}
	}
}

// A tape computes what its expressions say, whatever was folded and shared: random ones of constants and slots.
func TestTapesCompute(t *testing.T) {
	rng := rand.New(rand.NewPCG(23, 8))
	for range 400 {
		b := newBuilder()
		b.absent = []Slot{7}
		var v Values
		for i := range 8 {
			v[i] = math.Exp(rng.NormFloat64())
		}
		var all []expr
		var want []float64
		put := func(e expr, x float64) {
			if math.Abs(x) < 1e6 && (x == 0 || !(math.Abs(x) <= 1e-6)) {
				all, want = append(all, e), append(want, x)
			}
		}
		for _, x := range []float64{0, 1, -1, 2.5} {
			put(b.constant(x), x)
		}
		for s := range Slot(8) {
			put(b.slot(s), v[s]*float64((7-s+6)/7)) // the last is absent: zero
		}
		for range 30 {
			i, k := rng.IntN(len(all)), rng.IntN(len(all))
			x, y := want[i], want[k]
			switch rng.IntN(8) {
			case 0:
				put(b.add(all[i], all[k]), x+y)
			case 1:
				put(b.sub(all[i], all[k]), x-y)
			case 2, 3:
				put(b.mul(all[i], all[k]), x*y)
			case 4:
				if !(math.Abs(y) <= 1e-3) {
					put(b.div(all[i], all[k]), x/y)
				}
			case 5:
				if !(math.Abs(x) <= 1e-3) {
					put(b.invert(all[i]), 1/x)
				}
			case 6:
				put(b.negative(all[i]), -x)
			default:
				if put(b.least(all[i]), max(x, leastOhm)); x == 0 {
					put(b.path(all[i]), 0)
				} else if !(math.Abs(x) <= 1e-3) {
					put(b.path(all[i]), 1/x)
				}
			}
		}
		tape := b.compile(all...)
		got := make([]float64, len(all))
		tape.eval(&v, got)
		for i := range got {
			if !(math.Abs(got[i]-want[i]) <= 1e-8*(1+math.Abs(want[i]))) {
				t.Fatalf("expression %d: %v, want %v", i, got[i], want[i])
			}
		}
		if tape.reads(7) {
			t.Error("a tape reads what there is none of")
		}
	}
}

// A run passes an end where it lies between its beginning and its goal, on the side from which the difference rises.
func TestRunsPassTheirEnds(t *testing.T) {
	for _, c := range []struct {
		start, end, goal, sense float64
		want                    bool
	}{{1, 2, 3, 1, true}, {3, 2, 1, -1, true}, {-3, -2, -1, 2, true}, {-1, -2, -3, -1, true}, {2, 1, 3, 1, false}, {1, 3, 2, 1, false}, {1, 2, 3, -1, false}, {1, 1, 3, 1, false}, {1, 3, 3, 1, false}, {-2, -3, -1, 1, false}} {
		if got := (&halves{}).ends(c.start, c.end, c.goal, c.sense); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// Which capacitor times a board, what its law reads, whether all capacitors are on ground, and what is too much for one wiring.
func TestWhatABoardHolds(t *testing.T) {
	const timer = "U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\n"
	for _, c := range []struct {
		text     string
		name     string
		grounded bool
	}{
		{timer + "C1 cap ground 100", "C1", true}, {timer + "C1 cap supply 100", "C1", false}, {timer + "C9 control ground 10\nC1 cap ground 100", "C1", true},
		{timer + "R3 cap a 2\nC7 a ground 10\nC1 cap ground 100", "C1", true}, {timer + "R3 cap a 2\nC7 a supply 10\nC1 cap ground 100", "C1", false},
		{"U1 timer trigger=pin threshold=pin\nR1 supply discharge 10\nR2 discharge cap 47\nR3 cap pin 3\nC2 supply ground 10\nC1 cap ground 100", "C1", true},
	} {
		k, v := run(t, design(t, c.text))
		if got := k.Parts[k.Capacitor()].Name; got != c.name || k.Grounded() != c.grounded {
			t.Errorf("%q: times by %s, on ground %v", c.text, got, k.Grounded())
		}
		v[LeakRatio], v[Contact] = 9, 0.1
		r, _ := k.Slot("R1")
		if k.Sound(&v, r); v[LeakRatio] != 9 || v[Contact] != 0.1 {
			t.Errorf("%q: a sound resistor mends the capacitor", c.text)
		}
		if k.Sound(&v, Slot(k.Capacitor())); v[LeakRatio] != 0 || v[Contact] != 0 {
			t.Errorf("%q: a sound capacitor leaks", c.text)
		}
	}
	if bistable.Capacitor() != -1 || multivibrator.Capacitor() != 1 {
		t.Errorf("%d, %d", bistable.Capacitor(), multivibrator.Capacitor())
	}
	for _, c := range []struct {
		circuit *Circuit
		slot    Slot
		want    bool
	}{{named("astable"), DelayFall, true}, {named("astable"), DelayRise, true}, {named("astable"), OutputDrop, false},
		{named("astable-output"), OutputDrop, true}, {&multivibrator, Supply, true}, {&multivibrator, BaseEmitter, true}, {&multivibrator, Upper, false}} {
		if got := c.circuit.Reads(c.slot); got != c.want {
			t.Errorf("%s reads slot %d: %v", c.circuit.Name, c.slot, got)
		}
	}
	chain := func(nodes, diodes int) string {
		text := "U1 inverter in=n0\nR1 output n0 10\nC1 n0 ground 10"
		for i := 1; i < nodes; i++ {
			text += fmt.Sprintf("\nR%d n%d n%d 10\nC%d n%d ground 1", i+1, i-1, i, i+1, i)
		}
		for i := range diodes {
			text += fmt.Sprintf("\nR%d output x%d 47\nD%d x%d n0", 90+i, i, i+1, i)
		}
		return text
	}
	for _, c := range []struct {
		nodes, diodes int
		fault         string
	}{{mostStates, 0, ""}, {mostStates + 1, 0, "more than 6 nodes with capacitors"}, {1, mostDiodes, ""}, {1, mostDiodes + 1, "7 diodes"}} {
		_, err := Of(design(t, chain(c.nodes, c.diodes)))
		if (err == nil) != (c.fault == "") || err != nil && !strings.Contains(err.Error(), c.fault) {
			t.Errorf("%d nodes, %d diodes: %v", c.nodes, c.diodes, err)
		}
	}
	k, _ := run(t, design(t, timer+"C1 cap ground 100"))
	for _, n := range []int{MaxParts - int(k.means.next), MaxParts - int(k.means.next) + 1} {
		_, err := k.Loaded([][]Load{slices.Repeat([]Load{{"cap", LoadOhm, 1e6}}, n)})
		if (err == nil) != (n+int(k.means.next) <= MaxParts) {
			t.Errorf("%d loads: %v", n, err)
		}
	}
	// One stated level of the output is enough for a law of its own.
	for _, d := range []*fit.Design{{OutputHigh: &fit.Reading{Value: 4}}, {OutputLow: &fit.Reading{Value: 0.5}}} {
		d.Circuit, d.Family, d.Supply = "astable-output", fit.Ideal, fit.Reading{Value: 5}
		d.Parts = []fit.Part{{Name: "R1", Nominal: 47e3}, {Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9}}
		c, v := run(t, d)
		high, low, _ := c.Times(&v)
		top, bottom := 5., 0.
		if d.OutputHigh != nil {
			top = 4
		} else {
			bottom = 0.5
		}
		if want := 4.7e-3 * math.Log((top-5./3)/(top-10./3)); !(math.Abs(high/want-1) <= 1e-9) {
			t.Errorf("%v V … %v V: high %v, want %v", bottom, top, high, want)
		}
		if want := 4.7e-3 * math.Log((10./3-bottom)/(5./3-bottom)); !(math.Abs(low/want-1) <= 1e-9) {
			t.Errorf("%v V … %v V: low %v, want %v", bottom, top, low, want)
		}
	}
}
