package stability

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"offbeat/fit"
)

// TestDriftAgainstDense checks a drift against generalised least squares on the whole covariance matrix of the edges, in seconds:
// a start, the lengths of the high and of the low time and how both follow z, beside white noise and a walk whose variance grows
// with the time, with the restricted likelihood (Harville, Journal of the American Statistical Association 72, 1977, 320-338)
// averaged over a fine grid of the ratio of both noises, from none that shows over the record to all.
func TestDriftAgainstDense(t *testing.T) {
	time := func(t float64) float64 { return t }
	warm := func(t float64) float64 { return 25 + 10*math.Sin(40*t) }
	for _, c := range []struct {
		name        string
		white, walk float64
		z           func(float64) float64
	}{{"both", 6e-6, 4e-6, warm}, {"white", 6e-6, 0, time}, {"walk", 1e-7, 8e-6, warm}} {
		s := train(15, 3e-4, c.white, c.walk, c.z, 8)
		cut := func(x []float64) []float64 { return append(x[:5:5], x[7:]...) } // two cycles are missing
		s.Start, s.High, s.Low = cut(s.Start), cut(s.High), cut(s.Low)
		got, err := FitDrift(s, c.z, 0)
		if err != nil {
			t.Fatal(err)
		}
		var edges, z []float64
		for i, at := range s.Start {
			edges, z = append(edges, at, at+s.High[i]), append(z, c.z(at))
		}
		middle, n := stat.Mean(z, nil), len(edges)
		x := mat.NewDense(n, 5, nil)
		for i := range n {
			x.Set(i, 0, 1)
			if i == 0 {
				continue
			}
			highs, lows := 1.0, 0.0
			if i%2 == 0 {
				highs, lows = 0, 1
			}
			if i == 10 {
				highs, lows = 2, 3
			}
			between := (c.z(edges[i-1])+c.z(edges[i]))/2 - middle
			for k, v := range []float64{highs, lows, highs * between, lows * between} {
				x.Set(i, k+1, x.At(i-1, k+1)+v)
			}
		}
		period := (s.Start[len(s.Start)-1] - s.Start[0]) / 14
		dof := float64(n - 5)
		var sum, peak, white, white2, walk, walk2 float64
		mean, square := make([]float64, 5), mat.NewDense(5, 5, nil)
		const each = 0.05
		for l := -2 * math.Log(14); l <= 15; l += each {
			v := mat.NewSymDense(n, nil)
			for i := range n {
				for k := range i + 1 {
					v.SetSym(i, k, math.Exp(l)*(edges[k]-edges[0])/period)
				}
				v.SetSym(i, i, v.At(i, i)+1)
			}
			var of mat.Cholesky
			of.Factorize(v)
			var vx, information, inverse mat.Dense
			of.SolveTo(&vx, x)
			information.Mul(x.T(), &vx)
			_ = inverse.Inverse(&information)
			var b, p, vy mat.VecDense
			data := mat.NewVecDense(n, edges)
			of.SolveVecTo(&vy, data)
			b.MulVec(vx.T(), data)
			p.MulVec(&inverse, &b)
			var left mat.VecDense
			left.MulVec(x, &p)
			left.SubVec(data, &left)
			of.SolveVecTo(&vy, &left)
			scale := mat.Dot(&left, &vy) / dof
			det, _ := mat.LogDet(&information)
			log := -0.5 * (dof*math.Log(scale) + of.LogDet() + det)
			if peak == 0 {
				peak = log
			}
			w := math.Exp(log - peak)
			sum += w
			for i := range 5 {
				mean[i] += w * p.AtVec(i)
				for k := range 5 {
					square.Set(i, k, square.At(i, k)+w*(inverse.At(i, k)*scale+p.AtVec(i)*p.AtVec(k)))
				}
			}
			a, q := math.Sqrt(scale), math.Sqrt(scale*math.Exp(l))
			white, white2, walk, walk2 = white+w*a, white2+w*a*a, walk+w*q, walk2+w*q*q
		}
		for i := range mean {
			mean[i] /= sum
		}
		// Student's distribution is wider than a normal one by dof / (dof - 2) in variance (JCGM 101, 6.4.9).
		covariance := func(i, k int) float64 { return (square.At(i, k)/sum - mean[i]*mean[k]) * dof / (dof - 2) }
		high, low := mean[1], mean[2]
		both := high + low
		noise := func(s, s2 float64) (float64, float64) {
			m := s / sum
			return m, math.Sqrt(s2/sum - m*m + m*m/(2*dof)) // a variance of dof degrees of freedom is known to √(2/dof)
		}
		whiteMean, whiteOff := noise(white, white2)
		walkMean, walkOff := noise(walk, walk2)
		for what, q := range map[string]struct {
			got         fit.Estimate
			value, with float64
		}{
			"period":        {got.Period, both, math.Sqrt(covariance(1, 1) + covariance(2, 2) + 2*covariance(1, 2))},
			"slope":         {got.Slope, (mean[3] + mean[4]) / both, math.Sqrt(covariance(3, 3)+covariance(4, 4)+2*covariance(3, 4)) / both},
			"slope of high": {got.High, mean[3] / high, math.Sqrt(covariance(3, 3)) / high},
			"slope of low":  {got.Low, mean[4] / low, math.Sqrt(covariance(4, 4)) / low},
			"white":         {got.White, whiteMean, whiteOff},
			"walk":          {got.Walk, walkMean, walkOff},
		} {
			// The chain's grid is coarser and leaves out what is less likely by 1e4; it takes lengths from the nominal times.
			if !(math.Abs(q.got.Value-q.value) <= 0.05*q.with) || !(math.Abs(q.got.Uncertainty/q.with-1) <= 0.05) || q.got.Count != len(s.Start)-1 {
				t.Errorf("%s: %s %+v, want %g with %g", c.name, what, q.got, q.value, q.with)
			}
		}
		if want := covariance(3, 4) / math.Sqrt(covariance(3, 3)*covariance(4, 4)); !(math.Abs(got.Correlation-want) <= 0.03) {
			t.Errorf("%s: correlation %g, want %g", c.name, got.Correlation, want)
		}
		least, most := math.Inf(1), math.Inf(-1)
		for _, q := range z {
			least, most = min(least, q), max(most, q)
		}
		if !scalar.EqualWithinRel(got.Middle, middle, 1e-12) || got.Range != most-least || got.Rounded != 0 {
			t.Errorf("%s: %+v, middle %g, range %g", c.name, got, middle, most-least)
		}
	}
}

// TestWorstRounding displaces the edges of a steady train by half an interval in the worst patterns and finds the slopes that are
// stated as limits: the sign of the second Legendre polynomial bends the period, falls against rises tilt the high time.
func TestWorstRounding(t *testing.T) {
	const cell, n, period, high = 1e-6, 401, 1e-3, 0.6e-3
	time := func(t float64) float64 { return t }
	of := func(rise, fall func(x float64) float64) *fit.Series {
		s := &fit.Series{Every: 1}
		for i := range n {
			x := 2*float64(i)/(n-1) - 1
			at := 1e-3 + 0.3*cell + float64(i)*period // no edge on a whole interval
			a, b := at+cell*rise(x), at+high+cell*fall(x)
			s.Start, s.High, s.Low = append(s.Start, a), append(s.High, b-a), append(s.Low, period-(b-a))
		}
		return s
	}
	none := func(float64) float64 { return 0 }
	steady, err := FitDrift(of(none, none), time, cell)
	if err != nil || !scalar.EqualWithinAbs(steady.Rounded, 1, 1e-6) {
		t.Fatalf("%+v %v", steady, err)
	}
	const length = (n - 1) * period
	bent := func(x float64) float64 { return math.Copysign(0.5, 3*x*x-1) }
	worst, err := FitDrift(of(bent, bent), time, 0)
	dot, square := 0.0, 0.0
	for i := range n {
		x := 2*float64(i)/(n-1) - 1
		p2 := (3*x*x - 1) / 2
		dot, square = dot+bent(x)*p2, square+p2*p2
	}
	// By least squares; the fit of both noises takes some of it for a walk. P₂ has a second derivative of 3 over half the record squared.
	if want := dot / square * 12 * cell / (length * length); err != nil || worst.Slope.Value > want || worst.Slope.Value < want/2 || !(math.Abs(steady.Slope.Uncertainty*math.Sqrt(3)/want-1) <= 0.01) {
		t.Errorf("worst slope %g, at most %g, which over √3 is stated as %g", worst.Slope.Value, want, steady.Slope.Uncertainty)
	}
	tilted, err := FitDrift(of(func(x float64) float64 { return -math.Copysign(0.5, x) }, func(x float64) float64 { return math.Copysign(0.5, x) }), time, 0)
	want := 3 * cell / length
	if err != nil || !(math.Abs(tilted.High.Value*high/want-1) <= 0.03) || !(math.Abs(tilted.Low.Value*(period-high)/want+1) <= 0.03) {
		t.Errorf("worst tilts %g and %g s/s, want %g against each other", tilted.High.Value*high, tilted.Low.Value*(period-high), want)
	}
	if !(math.Abs(steady.High.Uncertainty*math.Sqrt(3)*high/want-1) <= 0.01) || !(math.Abs(steady.Low.Uncertainty*math.Sqrt(3)*(period-high)/want-1) <= 0.01) || steady.Correlation > -0.99 {
		t.Errorf("stated %g and %g, correlation %g", steady.High.Uncertainty, steady.Low.Uncertainty, steady.Correlation)
	}
	// With a noise of its own both add up; the patterns of both times are one.
	noisy := train(60, 0, 2e-7, 0, time, 3)
	own, _ := FitDrift(noisy, time, 0)
	whole, err := FitDrift(noisy, time, cell)
	record := noisy.Start[59] - noisy.Start[0]
	h := whole.Rounded * cell * 3 / math.Sqrt(3) / record
	byHigh, byLow := h/(highShare*7.2e-3), h/((1-highShare)*7.2e-3)
	correlation := (own.Correlation*own.High.Uncertainty*own.Low.Uncertainty - byHigh*byLow) / math.Hypot(own.High.Uncertainty, byHigh) / math.Hypot(own.Low.Uncertainty, byLow)
	if err != nil || !(math.Abs(whole.High.Uncertainty/math.Hypot(own.High.Uncertainty, byHigh)-1) <= 1e-3) || !(math.Abs(whole.Correlation-correlation) <= 1e-3) {
		t.Errorf("%+v, want correlation %g", whole, correlation)
	}
	// Half of the edges midway between the others' lattice leave nothing, a quarter of an interval between them 1/√2 (the mean of two unit vectors).
	for by, want := range map[float64]float64{0: 1, 0.5: 0, 0.25: math.Sqrt(0.5), -0.25: math.Sqrt(0.5)} {
		if got := rounded(of(none, func(float64) float64 { return by }), cell); !(math.Abs(got-want) <= 1e-6) {
			t.Errorf("falls %g intervals off: rounded by %g, want %g", by, got, want)
		}
	}
}

// TestBlocksByHand checks the blocks of ten cycles of a second each.
func TestBlocksByHand(t *testing.T) {
	time := func(t float64) float64 { return t }
	steady := func(n int, step float64) *fit.Series {
		s := &fit.Series{}
		for i := range n {
			s.Start, s.High, s.Low = append(s.Start, float64(i)*step), append(s.High, 0.25), append(s.Low, 0.75)
		}
		return s
	}
	for name, c := range map[string]struct {
		s      *fit.Series
		n      int
		breaks []float64
		want   []Block
	}{
		"about three":           {steady(11, 1), 3, nil, []Block{{2, 1, 4}, {6, 1, 4}, {9, 1, 2}}},
		"one":                   {steady(11, 1), 1, nil, []Block{{5, 1, 10}}},
		"none":                  {steady(11, 1), 0, nil, nil},
		"too short":             {steady(1, 1), 1, nil, nil},
		"two starts":            {steady(2, 1), 1, nil, []Block{{0.5, 1, 1}}},
		"a break within":        {steady(11, 1), 3, []float64{5.5}, []Block{{2, 1, 4}, {8, 1, 4}}},
		"a break on a start":    {steady(11, 1), 3, []float64{5}, []Block{{2, 1, 4}, {7, 1, 4}}},
		"half a block is kept":  {steady(11, 1), 3, []float64{2.5}, []Block{{1, 1, 2}, {5, 1, 4}, {8.5, 1, 3}}},
		"one of two each":       {steady(6, 2), 2, nil, []Block{{3, 1, 6}, {8, 1, 4}}},
		"a third is not enough": {steady(11, 1), 3, []float64{9.5, 1.5}, []Block{{4, 1, 4}, {7.5, 1, 3}}},
	} {
		got := Blocks(c.s, time, c.n, c.breaks)
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
			continue
		}
		for i, b := range got {
			if b != c.want[i] {
				t.Errorf("%s: %v, want %v", name, got, c.want)
			}
		}
	}
	if u := (Block{Cycles: 8}).Uncertainty(&Drift{White: fit.Estimate{Value: 3}, Walk: fit.Estimate{Value: 4}}); !scalar.EqualWithinRel(u, math.Sqrt(2*9./64+16./8), 1e-12) {
		t.Errorf("uncertainty %g", u)
	}
}

// TestFreedomAgainstDraws takes the degrees of freedom of the Allan variance of white noise from its scatter over 3000 series:
// twice the square of its mean over its variance, known to 2.6 % of that.
func TestFreedomAgainstDraws(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	const draws = 3000
	for _, c := range [][2]int{{24, 1}, {24, 2}, {24, 5}, {8, 1}, {8, 2}} {
		n, m := c[0], c[1]
		y, v := make([]float64, n), make([]float64, draws)
		for i := range v {
			for k := range y {
				y[k] = r.NormFloat64()
			}
			v[i] = math.Pow(Of(Overlapping, y, m).Value, 2)
		}
		mean, variance := stat.MeanVariance(v, nil)
		// The table's formula is an approximation, to some per cent.
		if got, want := freedom(float64(n+1), float64(m)), 2*mean*mean/variance; !(math.Abs(got/want-1) <= 0.12) {
			t.Errorf("%d values, %d at a time: %.2f, by draws %.2f", n, m, got, want)
		}
	}
	if got := freedom(4, 2); got < 1 {
		t.Errorf("%g degrees of freedom", got)
	}
}

// TestDriftIsAtThePeak checks, for a long record whose likelihood is narrow, that the noises stated are those of the likeliest ratio.
func TestDriftIsAtThePeak(t *testing.T) {
	time := func(t float64) float64 { return t }
	s := train(3000, 0, 8e-6, 4e-6, time, 4)
	d, err := FitDrift(s, time, 0)
	if err != nil {
		t.Fatal(err)
	}
	k := newDriftChain(s, time)
	log := func(l float64) float64 { return k.fit(math.Exp(l)).log }
	at := 2 * math.Log(d.Walk.Value/d.White.Value)
	for i := range 70 {
		l := at + 0.04*float64(i-25)
		if i >= 50 {
			l = 1.5 * float64(i-60)
		}
		if log(l) > log(at)+0.05 {
			t.Fatalf("a logarithm of the ratio of %g is likelier than %g, by %g", l, at, log(l)-log(at))
		}
	}
}

// TestFamilyByHand checks which starts make a family: six, one after the other, for the first point.
func TestFamilyByHand(t *testing.T) {
	s := &fit.Series{Start: []float64{3, 5, 7, 9, 11, 13}}
	if got := Family(s); len(got) != 1 || got[0].Time != 2 || got[0].Terms != 4 || got[0].Allan != 0 {
		t.Errorf("six starts: %+v", got)
	}
	if got := Family(&fit.Series{Start: s.Start[:5]}); got != nil {
		t.Errorf("five starts: %+v", got)
	}
	for _, c := range []struct{ t, want []float64 }{
		{[]float64{0, 1, 2, 10, 11, 12, 13, 20, 21, 22}, []float64{10, 11, 12, 13}}, {[]float64{0, 1, 2, 10, 11, 12}, []float64{0, 1, 2}},
		{[]float64{0, 1, 2}, []float64{0, 1, 2}}, {[]float64{0, 1}, nil}, {[]float64{0, 1, 2, 3, 9}, []float64{0, 1, 2, 3}},
	} {
		if got := longest(c.t); !slices.Equal(got, c.want) {
			t.Errorf("%v: longest run %v, want %v", c.t, got, c.want)
		}
	}
}
