package circuit

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// A run's voltage is its closed form to the last digits, however short it is, and until and after undo each other.
func TestRunIsItsClosedForm(t *testing.T) {
	s := segment{target: 5, tau: 2e-3}
	for _, y := range []float64{0, 1e-12, 1e-6, 1e-3, 0.0035, 0.0039999, 0.004, 0.0041, 0.1, 1, 3} {
		if got, want := s.after(0, y*s.tau), -5*math.Expm1(-y); math.Abs(got-want) > 4e-16*want && y < 0.004 || math.Abs(got-want) > 1e-15*max(want, 5) {
			t.Errorf("after %v time constants %.17g V, want %.17g", y, got, want)
		}
		if back := s.until(1, s.after(1, y*s.tau)); y > 1e-3 && math.Abs(back/(y*s.tau)-1) > 1e-12 {
			t.Errorf("after %v time constants: until that is %v s", y, back)
		}
	}
	if s := node(9, 2e3, 3e-6, 1e-4); s.target != 9-0.2 || math.Abs(s.tau-6e-3) > 1e-18 {
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
			value := h[0]
			for i := range n {
				if math.Abs(got[i]-want[i]) > 1e-10*(1+math.Abs(want[i])) {
					t.Fatalf("%d nodes, grounded %v, node %d after %v s: %v, want %v", n, grounded, i, at, got[i], want[i])
				}
				value += h[1+i] * want[i]
			}
			if math.Abs(c.at(at)-value) > 1e-10*(1+math.Abs(value)) {
				t.Fatalf("watched after %v s: %v, want %v", at, c.at(at), value)
			}
			step := 1e-4 / fastest
			if slope := (c.at(at+step) - c.at(at-step)) / (2 * step); math.Abs(c.slope(at)-slope) > 1e-6*fastest {
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
			if math.Abs(back) > 1e-12 {
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
		for s, o := range []*motion{&d.high, &d.low} {
			for k := range o.m {
				d.back[s][k] = math.Exp(o.rate[k] * v[[2]Slot{DelayFall, DelayRise}[s]])
			}
		}
		dwell := [2]float64{1.3 * e.dwell[0], 0.8 * e.dwell[1]}
		if !d.at(dwell) {
			t.Fatal(text)
		}
		slopes, x, y := d.slopes, d.x, d.y
		d.high.after(&x, dwell[0])
		for i := range e.n {
			x[i] -= d.c.jump[i]
			if math.Abs(x[i]-y[i]) > 1e-12 {
				t.Errorf("%q: the low state begins at %v, not %v", text, y, x)
			}
		}
		d.low.after(&x, dwell[1])
		for i := range e.n {
			if x[i] += d.c.jump[i]; math.Abs(x[i]-d.x[i]) > 1e-12 {
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
				if want := (ends[i] - d.ends[i]) / (2 * step); math.Abs(slopes[i][k]-want) > 1e-6*math.Abs(want)+1e-7 {
					t.Errorf("%q: difference %d by dwell %d: %v, want %v", text, i, k, slopes[i][k], want)
				}
			}
		}
	}
}
