package change

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"offbeat/acquire/acquiretest/expect"
)

// dense are the moments of the sizes of changes at some places under one noise, by generalised least squares with the covariance of the
// values written out: white noise, a random walk, and its integral (NIST SP 1065, section 6), less what averaging takes off a walk.
func dense(s *series, n weighed, places []float64) (log float64, sizes, variances []float64) {
	k, m := len(s.x), s.first()+2+len(places)
	v := mat.NewSymDense(k, nil)
	x := mat.NewDense(k, m, nil)
	for i, at := range s.x {
		for j := range i + 1 {
			t := s.x[j]
			c := n.walk*t + 3*n.wander*(t*t*at/2-t*t*t/6)
			if i == j {
				c += s.white[i]
				if i > 0 {
					c -= n.walk * s.smooth[i]
				}
			}
			v.SetSym(i, j, c)
		}
		for d := range s.first() + 2 {
			x.Set(i, d, math.Pow(2*at-1, float64(d)))
		}
		for j, place := range places {
			if at > place {
				x.Set(i, s.first()+2+j, map[bool]float64{true: at - place, false: 1}[s.phase])
			}
		}
	}
	var root, normal mat.Cholesky
	var w, a, inverse mat.Dense
	root.Factorize(v)
	if root.SolveTo(&w, x) != nil {
		return math.Inf(-1), nil, nil
	}
	a.Mul(x.T(), &w)
	information := mat.NewSymDense(m, nil)
	for i := range m {
		for j := range i + 1 {
			information.SetSym(i, j, a.At(i, j))
		}
	}
	normal.Factorize(information)
	if inverse.Inverse(information) != nil {
		return math.Inf(-1), nil, nil
	}
	var b, fit, right, solved mat.VecDense
	y := mat.NewVecDense(k, s.y)
	right.MulVec(w.T(), y)
	b.MulVec(&inverse, &right)
	fit.MulVec(x, &b)
	fit.SubVec(y, &fit)
	if root.SolveVecTo(&solved, &fit) != nil {
		return math.Inf(-1), nil, nil
	}
	rest, free := mat.Dot(&fit, &solved), float64(k-m)
	log = n.log - (root.LogDet()+normal.LogDet()+free*math.Log(rest))/2
	for j := range places {
		i := s.first() + 2 + j
		size, cofactor := b.AtVec(i), inverse.At(i, i)
		log -= math.Log(max(math.Abs(size), math.Sqrt(rest/free*cofactor)))
		sizes, variances = append(sizes, size), append(variances, rest/(free-2)*cofactor)
	}
	return log, sizes, variances
}

// TestSizesAgainstDense: the stated size of a jump, of a high time's and of a jump with its return, and their uncertainties, are those of
// the average over all noises and a dense grid of places.
func TestSizesAgainstDense(t *testing.T) {
	const points, fine = 18, 36
	for _, c := range []struct {
		name  string
		white float64
		at    []int
		high  bool
	}{
		{"jump", 0.3, []int{9}, false}, {"small jump", 1, []int{8}, false}, {"of the high time", 0.5, []int{11}, true}, {"and return", 0.2, []int{6, 13}, false},
	} {
		rnd := rand.New(rand.NewPCG(4, uint64(len(c.name))))
		cycles := signal{white: c.white, step: 0.05}.cycles(rnd, points, func(i int) (float64, float64) {
			if i >= c.at[0] && (len(c.at) == 1 || i < c.at[1]) {
				return 1.01, 1.01
			}
			return 1, 1
		})
		p, _ := newPoints(cycles)
		s := p.phases()
		if c.high {
			s = p.highs()
		}
		var places [][]float64
		first, last := s.x[s.shortest-1], s.x[len(s.x)-s.shortest]
		step := (last - first) / fine
		for i := range fine {
			a := first + (float64(i)+0.5)*step
			if len(c.at) == 1 {
				places = append(places, []float64{a})
			}
			for j := i; j < fine && len(c.at) > 1; j++ {
				if b := first + (float64(j)+0.5)*step; b-a > s.brief {
					places = append(places, []float64{a, b})
				}
			}
		}
		top, all := math.Inf(-1), []float64(nil)
		moments := make([][3]float64, len(c.at))
		var guesses [][2][]float64
		for _, n := range open {
			if n.wander > 0 && c.high {
				continue
			}
			for _, place := range places {
				log, sizes, variances := dense(s, n, place)
				all, guesses, top = append(all, log), append(guesses, [2][]float64{sizes, variances}), max(top, log)
			}
		}
		for i, log := range all {
			share := math.Exp(log - top)
			for k := range moments {
				size, variance := guesses[i][0][k], guesses[i][1][k]
				moments[k] = [3]float64{moments[k][0] + share, moments[k][1] + share*size, moments[k][2] + share*(variance+size*size)}
			}
		}
		for k, got := range s.sizes(c.at) {
			mean := moments[k][1] / moments[k][0]
			u := math.Sqrt(moments[k][2]/moments[k][0]-mean*mean) / s.unit
			expect.Within(t, c.name+": size", got.By, mean/s.unit, 0.15*u)
			expect.Near(t, c.name+": uncertainty", got.Uncertainty, u, 0.15)
			t.Logf("%s %d: %.4g ± %.3g, want %.4g ± %.3g", c.name, k, got.By, got.Uncertainty, mean/s.unit, u)
		}
	}
}

// A jump that a drift is another answer to is sized with and without a drift beside it, as likely as each is; one that is told with it.
func TestSizesWithAndWithoutDrift(t *testing.T) {
	cycles := signal{white: 0.3, step: 0.05}.cycles(rand.New(rand.NewPCG(8, 8)), 40, func(i int) (float64, float64) {
		f := 1 + 1e-3*float64(i)/40
		if i >= 14 {
			f += 4e-3
		}
		return f, f
	})
	p, _ := newPoints(cycles)
	s, at := p.phases(), []int{14}
	with, alone := s.sizes(at)[0], *s
	alone.degree--
	without := alone.sizes(at)[0]
	if !(math.Abs(with.By-without.By) > without.Uncertainty) {
		t.Fatalf("a drift makes no difference: %+v and %+v", with, without)
	}
	if got := s.stated(at, true, 0.3)[0]; got != with {
		t.Errorf("told: %+v, want %+v", got, with)
	}
	mean, between := stat.PopMeanVariance([]float64{with.By, without.By}, []float64{0.3, 0.7})
	within := 0.3*with.Uncertainty*with.Uncertainty + 0.7*without.Uncertainty*without.Uncertainty
	got := s.stated(at, false, 0.3)[0]
	expect.Near(t, "size", got.By, mean, 1e-9)
	expect.Near(t, "uncertainty", got.Uncertainty, math.Sqrt(within+between), 1e-9)
	// So Find does where it does not tell.
	cycles = signal{white: 0.3, step: 0.05}.cycles(rand.New(rand.NewPCG(0, 8)), 40, func(i int) (float64, float64) {
		f := 1 + 3e-3*float64(i)/40 + 3e-3*float64(min(i/14, 1))
		return f, f
	})
	f := Find(cycles, 0)
	p, _ = newPoints(cycles)
	s = p.phases()
	with, alone = s.sizes(at)[0], *s
	alone.degree--
	without = alone.sizes(at)[0]
	if !(f.Jumps > 0 && f.Jumps < 1 && f.drift > 0.1 && f.drift < 0.9) {
		t.Fatalf("%+v is told", f)
	}
	expect.Near(t, "size of what is not told", f.Sizes[0].By, f.drift*with.By+(1-f.drift)*without.By, 1e-9)
	if !(math.Abs(f.Sizes[0].By-with.By) > 0.1*with.Uncertainty) {
		t.Errorf("a drift makes no difference: %+v, with it %+v", f.Sizes[0], with)
	}
}

// Of three changes each has its own size, the two others let free or held: within its uncertainty, which is about that of a line over each
// stretch.
func TestSizesOfThreeChanges(t *testing.T) {
	for _, at := range [][]int{{12, 20, 40}} {
		want := []float64{0.01, -0.03, 0.025}
		cycles := signal{white: 0.02}.cycles(rand.New(rand.NewPCG(9, 8)), 60, func(i int) (float64, float64) {
			f := 1.0
			for k, a := range at {
				if i >= a {
					f += want[k]
				}
			}
			return f, f
		})
		p, _ := newPoints(cycles)
		usual := cycles[1].Rise - cycles[0].Rise
		for k, got := range p.phases().sizes(at) {
			if got = got.Over(usual); !(math.Abs(got.By-want[k]) <= 3*got.Uncertainty) || !(got.Uncertainty > 1e-4 && got.Uncertainty < 1e-3) {
				t.Errorf("changes at %v: the one at %d by %.5f ± %.5f, want %.5f", at, at[k], got.By, got.Uncertainty, want[k])
			}
		}
	}
}

// A change is sized with the nearer of its neighbours let free, on whichever side that is: backwards the sizes are the same, with the other sign.
func TestSizesBackwards(t *testing.T) {
	cycles := signal{white: 0.2}.cycles(rand.New(rand.NewPCG(10, 8)), 60, func(i int) (float64, float64) {
		f := 1 + 0.006*float64(min(i/14, 1)) - 0.012*float64(min(i/20, 1)) + 0.01*float64(min(i/44, 1))
		return f, f
	})
	p, _ := newPoints(cycles)
	q, _ := newPoints(mirrored(cycles))
	want, got := p.phases().sizes([]int{14, 20, 44}), q.phases().sizes([]int{16, 40, 46})
	for k, s := range want {
		if b := got[2-k]; !(math.Abs(b.By+s.By) <= 0.05*s.Uncertainty) || !(math.Abs(b.Uncertainty/s.Uncertainty-1) <= 0.05) {
			t.Errorf("change %d: %+v, backwards %+v", k, s, b)
		}
	}
}
