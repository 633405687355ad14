package step

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"
	"gonum.org/v1/gonum/mat"

	"offbeat/fit"
	"offbeat/fit/follow"
)

// dense is what a filter computes, from the whole covariance matrix: generalised least squares of a start level, the step and
// an earlier one, beside white noise and a walk from the first observation on, with the restricted likelihood (Harville, Journal
// of the American Statistical Association 72, 1977, 320-338). Times are after the mark; earlier may be nil.
func dense(t, y, r []float64, walk, tau float64, earlier *Earlier) outcome {
	n := len(t)
	v, columns := mat.NewSymDense(n, nil), 2
	if earlier != nil {
		columns = 3
	}
	x := mat.NewDense(n, columns, nil)
	shows := func(since, tau float64) float64 {
		if since < 0 {
			return 0
		}
		return 1 - math.Exp(-since/math.Max(tau, 1e-300))
	}
	for i := range n {
		for k := range i + 1 {
			v.SetSym(i, k, walk*(t[k]-t[0]))
		}
		v.SetSym(i, i, v.At(i, i)+r[i])
		x.Set(i, 0, 1)
		x.Set(i, 1, shows(t[i], tau))
		if earlier != nil {
			x.Set(i, 2, shows(t[i]-earlier.Mark, earlier.Settling))
		}
	}
	var of mat.Cholesky
	of.Factorize(v)
	var vx, inverse, information mat.Dense
	of.SolveTo(&vx, x)
	information.Mul(x.T(), &vx)
	if err := inverse.Inverse(&information); err != nil {
		return outcome{logLikelihood: math.Inf(-1)}
	}
	var vy, b, size mat.VecDense
	data := mat.NewVecDense(n, y)
	of.SolveVecTo(&vy, data)
	b.MulVec(vx.T(), data)
	size.MulVec(&inverse, &b)
	detX, _ := mat.LogDet(&information)
	rest := mat.Dot(data, &vy) - mat.Dot(&b, &size)
	return outcome{size.AtVec(1), inverse.At(1, 1), tau, -0.5*(of.LogDet()+detX+rest) + math.Log(x.At(n-1, 1))}
}

// uneven are observations at uneven times with uneven uncertainties, a mark at 100 s between them.
func uneven(seed uint64, before, after int, settling float64) (obs []Observation) {
	r := rand.New(rand.NewPCG(seed, 3))
	at, level := 100.0, 2.0
	for range before {
		at -= 0.4 + r.Float64()
	}
	for i := range before + after {
		at += 0.4 + r.Float64()
		u := 0.01 * (0.5 + r.Float64())
		level += 0.004 * r.NormFloat64()
		v := level + u*r.NormFloat64()
		if i >= before {
			at = math.Max(at, 100.1)
			v += 0.06 * (1 - math.Exp(-(at-100)/settling))
		} else {
			at = math.Min(at, 99.5+0.4*float64(i)/float64(before))
		}
		obs = append(obs, Observation{at, v, u})
	}
	return obs
}

// TestAgainstDense checks the filter against the whole matrix: steps, variances and likelihoods of many settling times and walks.
func TestAgainstDense(t *testing.T) {
	far := uneven(3, 60, 60, 1)
	sharp := uneven(4, 60, 60, 1)
	sharp[0].Uncertainty = 1e4 // beside it the others are a thousandth of the unit: products of variances that underflow
	for name, c := range map[string]struct {
		obs     []Observation
		earlier *Earlier
	}{
		"few": {uneven(1, 5, 6, 2), nil}, "an earlier step": {uneven(2, 8, 7, 2), &Earlier{-3.3, 0.8}}, "an earlier step at once": {uneven(2, 8, 7, 2), &Earlier{-3.3, 0}},
		"products that overflow": {far, nil}, "products that underflow": {sharp, nil},
	} {
		f := newFilter(c.obs, 100)
		f.earlier = c.earlier
		var first, want0 outcome
		for i, tau := range []float64{0, 0.3, 5} {
			f.respond(tau)
			for k, walk := range []float64{0, 0.02, 900} {
				got, want := f.run(walk), dense(f.t, f.y, f.r, walk, tau, c.earlier)
				if i+k == 0 {
					first, want0 = got, want
				}
				if !(math.Abs(got.step-want.step) <= 1e-7*math.Sqrt(want.variance)) || !scalar.EqualWithinRel(got.variance, want.variance, 1e-7) ||
					math.Abs(got.logLikelihood-first.logLikelihood-(want.logLikelihood-want0.logLikelihood)) > 1e-6 || got.tau != tau {
					t.Errorf("%s, settling %g, walk %g: %+v, want %+v", name, tau, walk, got, want)
				}
			}
		}
	}
}

// TestFitAgainstDense integrates over what settling time and walk may be on another grid, with the whole matrix: of either, none at
// all in half of all cases; else evenly by the logarithm, a settling time from a third of the usual distance of two observations
// to a third of the time since the mark, a walk that adds from a thousandth of the white variance between two to a thousand times it.
func TestFitAgainstDense(t *testing.T) {
	for _, c := range []struct {
		obs     []Observation
		earlier *Earlier
	}{{uneven(5, 6, 8, 1), nil}, {uneven(6, 9, 9, 3), nil}, {uneven(7, 7, 12, 0.01), &Earlier{96, 0.5}}} {
		got, err := Fit(c.obs, 100, c.earlier)
		if err != nil {
			t.Fatal(err)
		}
		var at, y, r []float64
		unit, last := 0.0, len(c.obs)-1
		for _, o := range c.obs {
			unit += o.Uncertainty / float64(len(c.obs))
		}
		for _, o := range c.obs {
			at, y, r = append(at, o.Time-100), append(y, o.Value/unit), append(r, math.Pow(o.Uncertainty/unit, 2))
		}
		var earlier *Earlier
		if c.earlier != nil {
			earlier = &Earlier{c.earlier.Mark - 100, c.earlier.Settling}
		}
		gap := (at[last] - at[0]) / float64(last)
		const fine = 24
		over := func(i int, low, high float64) float64 { return low * math.Pow(high/low, (float64(i)-0.5)/fine) }
		var sum, mean, square, settling, peak float64
		for i := range fine + 1 {
			for k := range fine + 1 {
				tau, walk, w := 0.0, 0.0, 0.25
				if i > 0 {
					tau, w = over(i, gap/3, math.Max(at[last]/3, gap)), w/fine
				}
				if k > 0 {
					walk, w = over(k, 1e-3/gap, 1e3/gap), w/fine
				}
				o := dense(at, y, r, walk, tau, earlier)
				if i+k == 0 {
					peak = o.logLikelihood
				}
				w *= math.Exp(o.logLikelihood - peak)
				sum, mean, square, settling = sum+w, mean+w*o.step, square+w*(o.variance+o.step*o.step), settling+w*tau
			}
		}
		mean /= sum
		sd, want := math.Sqrt(square/sum-mean*mean)*unit, mean*unit
		// Either grid is one of ratios: 1.2 of settling times, 4 of walks.
		if !(math.Abs(got.Value-want) <= 0.1*sd) || !(math.Abs(got.Uncertainty/sd-1) <= 0.04) || !(math.Abs(got.Settling-settling/sum) <= 0.12*math.Abs(settling/sum)) {
			t.Errorf("%+v, want %g with %g, settling in %g", got, want, sd, settling/sum)
		}
	}
}

// Observations without a stated uncertainty give the step itself.
func TestExactObservations(t *testing.T) {
	var obs []Observation
	for i := range 10 {
		obs = append(obs, Observation{Time: float64(i), Value: []float64{5, 5.25}[i/5]})
	}
	if s, err := Fit(obs, 4.5, nil); err != nil || !(math.Abs(s.Value-0.25) <= 1e-9) || s.Uncertainty > 1e-6 {
		t.Errorf("%+v, %v", s, err)
	}
}

// TestAt checks that a mark's fit takes the very points that it says, of each time by itself.
func TestAt(t *testing.T) {
	var points []follow.Point
	for i := range 80 {
		r := rand.New(rand.NewPCG(uint64(i), 1))
		p := follow.Point{Begin: 10 * float64(i), End: 10*float64(i) + 10, High: fit.Estimate{Value: 2e-3 * (1 + 1e-5*r.NormFloat64()), Uncertainty: 2e-8}}
		p.Low = fit.Estimate{Value: 1e-3 * (1 + 1e-5*r.NormFloat64()), Uncertainty: 1e-8, Count: 5}
		p.Covariance = -float64(i+1) * 1e-2 * 2e-8 * 1e-8
		points = append(points, p)
	}
	fitted := func(first, last int, skip map[int]bool, mark float64, high, low *Earlier) (m Marked) {
		var h, l []Observation
		n := 0.0
		for i := first; i <= last; i++ {
			if p := points[i]; !skip[i] {
				h = append(h, Observation{10*float64(i) + 5, math.Log(p.High.Value), p.High.Uncertainty / p.High.Value})
				l = append(l, Observation{10*float64(i) + 5, math.Log(p.Low.Value), p.Low.Uncertainty / p.Low.Value})
				m.Correlation -= float64(i+1) * 1e-2
				n++
			}
		}
		m.Mark, m.Correlation = mark, m.Correlation/n
		m.High, _ = Fit(h, mark, high)
		m.Low, _ = Fit(l, mark, low)
		return m
	}
	earlier := &Marked{Mark: 345, High: Step{Settling: 2}, Low: Step{Settling: 7}}
	edge := &Marked{Mark: 340, High: Step{Settling: 2}, Low: Step{Settling: 7}}
	for name, c := range map[string]struct {
		mark, from, to float64
		before         *Marked
		want           Marked
	}{
		"as far as a fit looks":    {400, 0, 800, nil, fitted(10, 69, nil, 400, nil, nil)},
		"between two ends":         {400, 200, 500, nil, fitted(20, 49, nil, 400, nil, nil)},
		"a mark within a point":    {405, 200, 500, nil, fitted(20, 49, map[int]bool{40: true}, 405, nil, nil)},
		"an earlier mark":          {405, 200, 500, earlier, fitted(20, 49, map[int]bool{40: true, 34: true}, 405, &Earlier{345, 2}, &Earlier{345, 7})},
		"an earlier mark at a gap": {405, 200, 500, edge, fitted(20, 49, map[int]bool{40: true}, 405, &Earlier{340, 2}, &Earlier{340, 7})},
		"an earlier mark before":   {405, 350, 500, earlier, fitted(35, 49, map[int]bool{40: true}, 405, nil, nil)},
		"an earlier mark at from":  {405, 345, 500, earlier, fitted(35, 49, map[int]bool{40: true}, 405, nil, nil)},
	} {
		got, err := At(points, c.mark, c.from, c.to, c.before)
		near := func(a, b Step) bool {
			return a.Before == b.Before && a.After == b.After && scalar.EqualWithinRel(a.Value, b.Value, 1e-9) && scalar.EqualWithinRel(a.Uncertainty, b.Uncertainty, 1e-9)
		}
		if err != nil || got.Mark != c.want.Mark || !near(got.High, c.want.High) || !near(got.Low, c.want.Low) || !scalar.EqualWithinAbs(got.Correlation, c.want.Correlation, 1e-9) {
			t.Errorf("%s: %+v, %v, want %+v", name, got, err, c.want)
		}
	}
	if _, err := At(points, 405, 390, 500, nil); err == nil {
		t.Error("one point before the mark: no error")
	}
	// Single pulses have no low time; a low time that is too seldom is told as such.
	for i := range points {
		points[i].Low.Count = 0
	}
	if got, err := At(points, 400, 0, 800, nil); err != nil || got.Low != (Step{}) || got.Correlation != 0 {
		t.Errorf("single pulses: %+v, %v", got, err)
	}
	points[30].Low.Count = 1
	if _, err := At(points, 400, 0, 800, nil); err == nil {
		t.Error("one low time: no error")
	}
}

// TestExplainAgainstChi checks the change of one part against the smallest chi-square itself: a parabola through three changes.
func TestExplainAgainstChi(t *testing.T) {
	high, low := Step{Value: 3e-3, Uncertainty: 2e-3}, Step{Value: -1e-3, Uncertainty: 0.7e-3}
	for _, rho := range []float64{-0.7, 0, 0.4} {
		for _, g := range [][2]float64{{0.3, 1.2}, {-0.8, 0.5}, {0, 1}} {
			v := mat.NewSymDense(2, []float64{4e-6, rho * 1.4e-6, rho * 1.4e-6, 0.49e-6})
			var inverse mat.Dense
			_ = inverse.Inverse(v)
			chi := func(change float64) float64 {
				d := mat.NewVecDense(2, []float64{3e-3 - g[0]*change, -1e-3 - g[1]*change})
				return mat.Inner(d, &inverse, d)
			}
			c0, c1, c2 := chi(0), chi(1e-3), chi(-1e-3)
			a, b := (c1+c2-2*c0)/2e-6, (c1-c2)/2e-3
			change := -b / (2 * a)
			p, ok := explain(g[0], g[1], high, low, rho)
			// How well it fits counts the law itself too, as 2 % of the larger step. The survival of chi-square with one degree of
			// freedom is that of a normal value on both sides.
			_ = inverse.Inverse(mat.NewSymDense(2, []float64{4e-6 + 3.6e-9, rho * 1.4e-6, rho * 1.4e-6, 0.49e-6 + 3.6e-9}))
			chance := math.Erfc(math.Sqrt(chi(change) / 2))
			if !ok || !scalar.EqualWithinRel(p.Change, change, 1e-7) || !scalar.EqualWithinRel(p.Uncertainty, 1/math.Sqrt(a), 1e-7) || !(math.Abs(p.Fit-chance) <= 1e-7) {
				t.Errorf("correlation %g, %v: %+v %v, want %g with %g and %g", rho, g, p, ok, change, 1/math.Sqrt(a), chance)
			}
		}
	}
	if _, ok := explain(0, 0, high, low, 0); ok {
		t.Error("a part that moves nothing explains a step")
	}
	if _, ok := explain(1, 1, high, low, 1); ok {
		t.Error("steps that are one explain a part")
	}
}
