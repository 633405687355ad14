package posterior

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

// Every form of density: its mass, its quantiles and its tilt agree with quadrature of its logarithm.
func TestDensityLaws(t *testing.T) {
	reading := func(x float64) float64 { z := (math.Exp(x) - 103) / 2; return -0.5 * z * z }
	forms := []struct {
		name string
		d    Density
		mass float64 // NaN: not one
	}{
		{"uniform", Uniform(-1, 3), 1},
		{"uniform value", UniformValue(90, 110), 1},
		{"outside value", OutsideValue(90, 110, 0.25, 0.5), 1},
		{"below a value", BelowValue(90, 0.25), 1},
		{"one beside another", Uniform(-1, 3).Beside(Uniform(4, 5), 0.5), 1.5},
		{"one before another", Uniform(4, 5).Beside(BelowValue(20, 0.1), 2), 3},
		{"made whole", Uniform(0, 1).Beside(Uniform(2, 3), 2).Normalised(), 1},
		{"normal", Normal(2, 0.5), 1},
		{"window of a uniform value", UniformValue(90, 110).Window(math.Log(105), math.Log(200)), 0.25},
		{"window of a normal", Normal(2, 0.5).Window(2, 10), 0.5},
		{"reading of a uniform value", UniformValue(90, 110).Times(math.Log(89), math.Log(117), reading), math.NaN()},
		{"reading of an outside value", OutsideValue(90, 110, 0.25, 0.5).Times(math.Log(89), math.Log(117), reading), math.NaN()},
	}
	for _, f := range forms {
		t.Run(f.name, func(t *testing.T) {
			from, to := f.d.support()
			integral := func(a, b float64, g func(float64) float64) float64 {
				var sum float64
				const panels = 4000
				for i := range panels {
					w := (b - a) / panels
					sum += quad.Fixed(g, a+float64(i)*w, a+float64(i+1)*w, 4, nil, 0)
				}
				return sum
			}
			p := func(x float64) float64 { return math.Exp(f.d.LogAt(x)) }
			m := f.d.Mass()
			close(t, "mass by quadrature", integral(from, to, p), m, 2e-3)
			if !math.IsNaN(f.mass) {
				close(t, "mass", m, f.mass, 1e-4) // a tabulated normal is good to 2e-4 in its logarithm
			}
			for _, u := range []float64{0.01, 0.3, 0.5, 0.77, 0.999} {
				x := f.d.Quantile(u)
				close(t, "mass below a quantile", integral(from, x, p), u*m, 3e-3)
			}
			for u := range 2 { // nothing lies beyond the ends
				if x := f.d.Quantile(float64(u)); !(x >= from-1e-9 && x <= to+1e-9) || math.IsInf(x, 0) {
					t.Errorf("quantile %d is %v, support %v to %v", u, x, from, to)
				}
			}
			tilted, logMass := f.d.tilt(0.7, 1)
			close(t, "mass of the tilt", integral(from, to, func(x float64) float64 { return p(x) * math.Exp(0.7*(x-1)) }), math.Exp(logMass), 2e-3)
			x := f.d.Quantile(0.4)
			y := f.d.Quantile(0.6)
			close(t, "shape of the tilt", tilted.LogAt(y)-tilted.LogAt(x), f.d.LogAt(y)-f.d.LogAt(x)+0.7*(y-x), 1e-9)
		})
	}
}

func close(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Max(math.Abs(want), 1e-3)) {
		t.Errorf("%s: got %.9g, want %.9g", what, got, want)
	}
}

// The tabulated product of a prior with a normal reading against quadrature of the exact product.
func TestReadingMass(t *testing.T) {
	exact := 0.0
	const n = 200000
	for i := range n {
		v := 90 + 20*(float64(i)+0.5)/n
		z := (v - 103) / 2
		exact += math.Exp(-0.5*z*z) / n
	}
	got := UniformValue(90, 110).Times(math.Log(89), math.Log(117), func(x float64) float64 {
		z := (math.Exp(x) - 103) / 2
		return -0.5 * z * z
	}).Mass()
	close(t, "mass", got, exact, 3e-4)
}

// A lattice's points fill each coordinate evenly: n points, one in each n-th.
func TestLatticeFillsEachCoordinate(t *testing.T) {
	const n, dims = 256, 24
	for rep := range replicates {
		l := newLattice(dims, n, rep, 0)
		u := make([]float64, dims)
		var seen [dims][n]bool
		for i := range n {
			l.point(i, u)
			for j, x := range u {
				if x < 0 || x >= 1 {
					t.Fatalf("point %d coordinate %d is %v", i, j, x)
				}
				k := int(x * n)
				if seen[j][k] {
					t.Fatalf("replicate %d: two points share a cell of coordinate %d", rep, j)
				}
				seen[j][k] = true
			}
		}
	}
}

// A smooth product over twelve coordinates integrates to 1; 4096 random points would err by about 0.03.
func TestLatticeIntegrates(t *testing.T) {
	const n, dims = 4096, 12
	l := newLattice(dims, n, 1, 0)
	u := make([]float64, dims)
	sum := 0.0
	for i := range n {
		l.point(i, u)
		f := 1.0
		for _, x := range u {
			f *= 1 + 0.5*math.Sin(2*math.Pi*x) + 0.5*(x-0.5)
		}
		sum += f / n
	}
	close(t, "integral", sum, 1, 0.005)
}

// A part shifted far: the tilt toward a value a factor of four away must not heap the samples at the end of the
// exponential tail, 30 means out, as the tilt of a normal of the same spread would.
func TestTiltOfALongTail(t *testing.T) {
	d := OutsideValue(0.95, 1.05, 0.25, 0.5)
	spread := d.spread()
	for _, rate := range []float64{-4 / spread, -2 / spread, -1 / spread, 0, 1 / spread, 2 / spread, 4 / spread} {
		tilted, logMass := tiltTo(d, rate, 0, spread)
		want := rate * spread * spread
		if got := tilted.Quantile(0.5); !(math.Abs(got) <= math.Abs(want)+spread/2+1e-6) {
			t.Errorf("rate %.3g: the median lies at %.3g; expected it at most half a spread beyond %.3g", rate, got, want)
		}
		// The weight takes back what the tilt put in: over the tilted density it integrates to the prior's mass.
		var sum float64
		const n = 20000
		for i := range n {
			x := tilted.Quantile((float64(i) + 0.5) / n)
			sum += math.Exp(logMass-tilted.rate*(x-tilted.about)) / n
		}
		if !(math.Abs(sum-d.Mass()) <= 0.01) {
			t.Errorf("rate %.3g: the weights sum to %.4f, the prior's mass is %.4f", rate, sum, d.Mass())
		}
	}
}

// Draws that meet the rare: each of few pieces has the root of its share, and is shaped as it was; of a table or one piece nothing changes.
func TestRaised(t *testing.T) {
	d := Uniform(0, 1).Beside(Uniform(2, 4), 0.01) // 100 to 1: 10 to 1
	r := d.raised()
	close(t, "mass", r.Mass(), 1, 1e-12)
	close(t, "the rare one's share", r.Window(2, 4).Mass(), 1./11, 1e-12)
	close(t, "its shape", r.LogAt(3.9)-r.LogAt(2.1), 0, 1e-12)
	e := OutsideValue(90, 110, 0.25, 0.2).raised()
	close(t, "sides", e.Window(math.Log(100), 100).Mass(), math.Sqrt(0.2)/(math.Sqrt(0.2)+math.Sqrt(0.8)), 1e-9)
	three := Uniform(0, 1).Beside(Uniform(2, 3), 0.25).Beside(Uniform(4, 5), 1./16).raised() // 16, 4, 1: 4, 2, 1
	close(t, "of three", three.Window(2, 3).Mass(), 2./7, 1e-9)
	if a, b := Normal(2, 0.5).Window(-100, 100).support(); !(math.Abs(a+2.5) <= 1e-9) || !(math.Abs(b-6.5) <= 1e-9) { // nine standard deviations
		t.Errorf("a normal reaches from %v to %v", a, b)
	}
	close(t, "of little slope", newPiece(1, 3, 0, 1e-13).mass, 2, 1e-9)
	n := Normal(2, 0.5)
	if n.raised().LogAt(1) != n.LogAt(1) || n.Normalised().LogAt(1) != n.LogAt(1) {
		t.Error("a normal is another")
	}
	table := n.Window(0, 5)
	close(t, "a table", table.raised().LogAt(2.2), table.LogAt(2.2)-math.Log(table.Mass()), 1e-9)
}
