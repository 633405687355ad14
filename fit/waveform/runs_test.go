package waveform

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit/waveform/lsq"
)

// by is the derivative of asymptote + amplitude exp(-t/tau) by its three parameters.
func by(p []float64, t float64) []float64 {
	e := math.Exp(-t / p[2])
	return []float64{1, e, p[1] * e * t / (p[2] * p[2])}
}

// made are segments of n points of a run, and what each is off by.
func made(p []float64, segments, n int, step float64, off func(segment int, t float64) float64) []segment {
	out := make([]segment, segments)
	for i := range out {
		for k := range n {
			t := (float64(k) + 0.5) * step
			out[i].t, out[i].n = append(out[i].t, t), append(out[i].n, 1)
			out[i].v = append(out[i].v, p[0]+p[1]*math.Exp(-t/p[2])+off(i, t))
		}
	}
	return out
}

// What codes do to the fit that noise does not average out: the mean error of a rounded, noisy voltage is worked out code by
// code from the normal distribution, put through the linear fit, and averaged over where the codes lie.
func TestStairsAgainstCodes(t *testing.T) {
	p := []float64{5, -4, 0.05}
	const n, step, q = 300, 0.2 / 300, 0.05
	for _, sigma := range []float64{0.1 * q, 0.16 * q, 0.3 * q} {
		s := made(p, 1, n, step, func(int, float64) float64 { return 0 })[0]
		j := mat.NewDense(n, 3, nil)
		for i, at := range s.t {
			j.SetRow(i, by(p, at))
		}
		var gram, inverse, pinv mat.Dense
		gram.Mul(j.T(), j)
		if err := inverse.Inverse(&gram); err != nil {
			t.Fatal(err)
		}
		pinv.Mul(&inverse, j.T())
		want := mat.NewDense(3, 3, nil)
		const phases = 40
		for k := range phases {
			shift := q * float64(k) / phases
			e := mat.NewVecDense(n, nil)
			for i, v := range s.v {
				mean := 0.0
				for c := math.Floor((v+shift)/q) - 4; c < (v+shift)/q+5; c++ {
					mean += c * q * (distuv.UnitNormal.CDF((c*q+q/2-v-shift)/sigma) - distuv.UnitNormal.CDF((c*q-q/2-v-shift)/sigma))
				}
				e.SetVec(i, mean-v-shift)
			}
			var off mat.VecDense
			off.MulVec(&pinv, e)
			var outer mat.Dense
			outer.Outer(1./phases, &off, &off)
			want.Add(want, &outer)
		}
		variance := sigma*sigma + q*q/12
		r := &runs{p: p, square: variance * (n - 3), freedom: n - 3, covariance: make([][]float64, 3)}
		for i := range r.covariance {
			r.covariance[i] = make([]float64, 3)
			for k := range 3 {
				r.covariance[i][k] = variance * inverse.At(i, k)
			}
		}
		for i := range s.v {
			s.v[i] = math.Round(s.v[i]/q) * q
		}
		r.stairs(s)
		for i := range 3 {
			for k := range 3 {
				size := math.Sqrt(want.At(i, i) * want.At(k, k))
				if got := r.covariance[i][k] - variance*inverse.At(i, k); !(math.Abs(got-want.At(i, k)) <= 0.06*size) {
					t.Errorf("noise of %.2f codes, entry %d %d: %.4g, want %.4g", sigma/q, i, k, got, want.At(i, k))
				}
			}
		}
	}
}

// Beginnings that lie off at random are told by their size, and what is then taken out leaves samples that are independent and
// equally scattered: (1 - damp)² (1 + shift² Σ e² / noise²) = 1.
func TestBeginningsAreWhitened(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 9))
	p := []float64{5, -4, 1}
	const segments, n, noise, shift = 400, 25, 0.01, 0.02
	offs := make([]float64, segments)
	for i := range offs {
		offs[i] = shift * rng.NormFloat64()
	}
	s := made(p, segments, n, 0.05, func(i int, t float64) float64 { return offs[i]*math.Exp(-t) + noise*rng.NormFloat64() })
	pr := newProblem(s)
	pr.loosen(&lsq.Result{P: p})
	sum, along := 0.0, 0.0
	for _, at := range s[0].t {
		sum += math.Exp(-2 * at)
	}
	for k := range n {
		along += pr.along[k] * pr.along[k]
	}
	got := math.Pow(1-pr.damp[0], -2) - 1 // of 400 beginnings known to 7 %, of 9,600 residuals to 1.5 %
	if want := shift * shift * sum / (noise * noise); !(math.Abs(got/want-1) <= 0.2) || pr.damp[0] < 0 || pr.damp[0] > 1 || !(math.Abs(along-1) <= 1e-12) {
		t.Errorf("variance of the beginnings over that of the noise %v, want %v", got, want)
	}
	steady := newProblem(made(p, segments, n, 0.05, func(int, float64) float64 { return 0 }))
	if steady.loosen(&lsq.Result{P: p}); steady.along != nil {
		t.Error("without noise something is taken out")
	}
}

// The covariance of runs that differ as wholes is the sandwich of Liang and Zeger (1986) times n/(n-1), by gonum's matrices.
func TestClusteredCovariance(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 9))
	const segments, n = 12, 20
	for _, zero := range []float64{0.05, 0} { // without it the plain covariance is the larger, or nearly
		offs := make([]float64, segments)
		for i := range offs {
			offs[i] = zero * rng.NormFloat64()
		}
		s := made([]float64{5, -4, 1}, segments, n, 0.1, func(i int, t float64) float64 { return offs[i]*math.Sin(1.5*t) + 0.01*rng.NormFloat64() })
		pr := newProblem(s)
		res, err := pr.fit(start(s))
		if err != nil {
			t.Fatal(err)
		}
		var gram, bread, meat mat.Dense
		meat.ReuseAs(3, 3)
		j := mat.NewDense(segments*n, 3, nil)
		square := 0.0
		for i, g := range s {
			own, resid := mat.NewDense(n, 3, nil), mat.NewVecDense(n, nil)
			for k, at := range g.t {
				row := by(res.P, at)
				own.SetRow(k, row)
				j.SetRow(i*n+k, row)
				d := g.v[k] - res.P[0] - res.P[1]*math.Exp(-at/res.P[2])
				resid.SetVec(k, d)
				square += d * d
			}
			var u mat.VecDense
			u.MulVec(own.T(), resid)
			var outer mat.Dense
			outer.Outer(1, &u, &u)
			meat.Add(&meat, &outer)
		}
		gram.Mul(j.T(), j)
		if err := bread.Inverse(&gram); err != nil {
			t.Fatal(err)
		}
		var want, half mat.Dense
		half.Mul(&bread, &meat)
		want.Mul(&half, &bread)
		want.Scale(float64(segments)/(segments-1), &want)
		variance := square / (segments*n - 3)
		if one, err := fitRuns(s[:1]); err != nil || one.freedom != n-3 {
			t.Errorf("%+v, %v", one, err)
		}
		r := &runs{covariance: res.Covariance}
		r.cluster(s, pr, res)
		wider := 0.0
		for k := range 3 {
			wider += want.At(k, k) / (variance * bread.At(k, k)) / 3
		}
		if (wider > 1) != (zero > 0) {
			t.Fatalf("zero %v: %v times as wide", zero, wider)
		}
		for i := range 3 {
			for k := range 3 {
				w := want.At(i, k)
				if wider <= 1 {
					w = variance * bread.At(i, k)
				}
				if !(math.Abs(r.covariance[i][k]-w) <= 1e-5*math.Sqrt(want.At(i, i)*want.At(k, k))) {
					t.Errorf("zero %v, entry %d %d: %v, want %v", zero, i, k, r.covariance[i][k], w)
				}
			}
		}
	}
}

// Cutting: a hundredth of a run and at least one sample is left out at either end, and the rest averaged in groups of equal size,
// two hundred points at most; of many runs two hundred at even distances are fitted, each as long as the shortest.
func TestCutting(t *testing.T) {
	k := &keeper{}
	for i := range 3000 {
		k.t, k.w = append(k.t, float64(i)), append(k.w, float64(2*i))
	}
	for _, c := range []struct {
		from, end, points, group int
		first                    float64
	}{{100, 1100, 196, 5, 112}, {0, 10, 8, 1, 1}, {0, 201, 197, 1, 2}, {0, 9, 0, 0, 0}} {
		s, ok := k.segment(c.from, c.end, 7, 0.5)
		if ok != (c.points > 0) || len(s.t) != c.points {
			t.Fatalf("%d … %d: %d points, %v", c.from, c.end, len(s.t), ok)
		}
		if ok && (s.t[0] != (c.first-7)*0.5 || s.v[0] != 2*c.first || s.n[0] != float64(c.group) || s.t[1]-s.t[0] != float64(c.group)*0.5) {
			t.Errorf("%d … %d: begins at %v s with %v V of %v samples", c.from, c.end, s.t[0], s.v[0], s.n[0])
		}
	}
	k.w[500] = math.NaN()
	if s, ok := k.segment(100, 1100, 0, 1); !ok || len(s.t) != 195 {
		t.Errorf("an unknown sample: %d points", len(s.t))
	}
	all := make([]segment, 500)
	for i := range all {
		all[i].v = []float64{float64(i)}
	}
	if got := some(all); len(got) != segments || got[0].v[0] != 0 || got[100].v[0] != 250 || got[199].v[0] != 497 {
		t.Errorf("%d kept, %v, %v", len(got), got[100], got[199])
	}
	if got := some(all[:200]); len(got) != 200 || got[199].v[0] != 199 {
		t.Errorf("%d of 200 kept", len(got))
	}
	two := []segment{{t: []float64{1, 2, 3, 4, 5, 6}, v: make([]float64, 6), n: make([]float64, 6)}, {t: []float64{1.4, 2.4, 3.4}, v: make([]float64, 3), n: make([]float64, 3)}}
	if alike(two); len(two[0].t) != 4 || len(two[1].t) != 3 || len(two[0].v) != 4 { // to within a sample
		t.Errorf("%v", two)
	}
	flat := func(a, b float64) []segment { return []segment{{v: []float64{a, (a + b) / 2, b}}} }
	for _, c := range []struct {
		charge, discharge []segment
		want              bool
	}{{flat(1, 1.1), flat(3, 3.1), true}, {flat(1, 3), flat(3, 1), false}, {flat(1, 3), flat(3, 4), false}, {flat(1, 1.5), flat(3, 4), true}} {
		if square(c.charge, c.discharge) != c.want {
			t.Errorf("%v and %v: too square %v", c.charge, c.discharge, !c.want)
		}
	}
}

// Two lines meet where they do, whichever rises, within a quarter of the span to either side.
func TestCrossingOfLines(t *testing.T) {
	for _, c := range []struct{ a, b, span, level float64 }{{2, -1, 4, 1 + 2*2./3}, {-1, 2, 4, 1 + 2*2./3}, {2, -1, 2.6, math.NaN()}, {-2, 1, 2.6, math.NaN()}} {
		level, ok := crossing(func(s float64) (x, y float64) {
			if c.a > 0 {
				return 1 + c.a*s, 3 + c.b*s
			}
			if c.a < -1 { // at -2/3
				return 1 + c.a*s, 3 + c.b*s
			}
			return 3 + c.a*s, 1 + c.b*s
		}, c.span)
		want := 1 + 2*2./3
		if ok == math.IsNaN(c.level) || ok && !(math.Abs(level-want) <= 1e-9) {
			t.Errorf("%+v: %v, %v; want %v", c, level, ok, want)
		}
	}
}
