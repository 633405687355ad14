package level

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"
)

// TestFromCodesAgainstDraws checks the posterior of a level between two codes against the plainest reference there is: levels
// and noises are drawn from what both may be, samples from these are rounded, and those that make the very counts are kept.
func TestFromCodesAgainstDraws(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 8))
	for _, counts := range [][]int{{4, 2}, {2, 3, 1}, {5, 0, 1}} {
		const base, q = -0.3, 0.05
		var s []float64
		total := 0.0
		for k, n := range counts {
			for range n {
				s = append(s, base+float64(k)*q)
				total += float64(k)
			}
		}
		at, variance := total/float64(len(s)), 0.0
		for k, n := range counts {
			variance += float64(n) * (float64(k) - at) * (float64(k) - at) / float64(len(s))
		}
		if variance > scatters*scatters {
			variance = scatters * scatters // the third is of more: what is asked here is how it is weighed
		}
		got, ok := fromCodes(s, base+at*q, variance*q*q, q)
		if !ok {
			t.Fatalf("%v: nothing", counts)
		}
		var sum, bias, square, noise, noise2 float64
		seen := make([]int, len(counts))
		for range 500_000 {
			level, sigma := at+2*r.Float64()-1, 0.003*math.Pow(1/0.003, float64(r.IntN(24))/23)
			clear(seen)
			inside := true
			for range s {
				k := int(math.Round(level + sigma*r.NormFloat64()))
				if r.Float64() < astray {
					k = r.IntN(len(counts))
				}
				if inside = k >= 0 && k < len(counts) && seen[k] < counts[k]; !inside {
					break
				}
				seen[k]++
			}
			if inside {
				d := level - at
				sum, bias, square, noise, noise2 = sum+1, bias+d, square+d*d, noise+sigma*sigma, noise2+math.Pow(sigma, 4)
			}
		}
		bias /= sum
		left := math.Sqrt(square/sum - bias*bias)
		// The scatter of so many kept draws, and levels on a grid instead of a line.
		for _, c := range []struct {
			what            string
			got, want, near float64
		}{
			{"bias", got.bias / q, bias, 4*left/math.Sqrt(sum) + 0.004},
			{"left", got.left / q, left, 0.06*left + 0.004},
			{"noise", got.noise / q / q, noise / sum, 4*math.Sqrt(noise2)/sum + 0.002},
		} {
			if !(math.Abs(c.got-c.want) <= c.near) {
				t.Errorf("%v: %s %.4f steps, by %.0f draws %.4f", counts, c.what, c.got, sum, c.want)
			}
		}
	}
}

// TestLeftByCodes checks what is left of a level against closed forms. One code alone holds the level anywhere in one step, of
// standard deviation 1/√12, a little less if noise there is, and √1.5 times that is stated. With noise that takes the samples over two codes n of them leave what
// one share of n leaves: its standard deviation √(p (1−p)/n), over the density at the threshold.
func TestLeftByCodes(t *testing.T) {
	const q = 0.02
	one, ok := fromCodes(slices.Repeat([]float64{1.24}, 300), 1.24, 0, q)
	if want := math.Sqrt(1.5/12) * q; !ok || !(math.Abs(one.bias) <= 1e-9*q) || one.left > want || one.left < 0.8*want {
		t.Errorf("one code: %+v, want a bias of 0 and %g left", one, want)
	}
	// Three codes tell the noise, 0.3 of a step, too; the level is on the middle one.
	counts := []int{191, 1618, 191} // of 2000: Φ(−0.5/0.3) = 0.0478, and twice that for a share that can be seen
	var s []float64
	for k, n := range counts {
		s = append(s, slices.Repeat([]float64{float64(k) * q}, n)...)
	}
	few, ok := fromCodes(s, q, q*q*2*191/2000, q)
	sigma := 0.5 / 1.3073 // Φ(−1.3073) = 191/2000
	p, density := 191.0/2000, math.Exp(-1.3073*1.3073/2)/math.Sqrt(2*math.Pi)/sigma
	want := math.Sqrt(p/2000/2) / density * q // of half the difference of the two shares
	if !ok || !(math.Abs(few.bias) <= 1e-6*q) || few.left < 0.9*want || few.left > 1.3*want || !(math.Abs(math.Sqrt(few.noise)/q/sigma-1) <= 0.1) {
		t.Errorf("three codes: %+v, want %g left and noise %g", few, want, sigma*q)
	}
}

// TestScaled checks that volts, microvolts and kilovolts are one: samples times a power of two give each answer times it, to the bit.
func TestScaled(t *testing.T) {
	for _, noise := range []float64{0, 0.006, 0.1} {
		v := square(3000, 0.5, 0.13, 4.87, noise, 5.0/256, 9)
		want, ok := Find(v)
		for _, k := range []float64{1. / (1 << 30), 1 << 20} {
			w := slices.Clone(v)
			for i := range w {
				w[i] *= k
			}
			got, found := Find(w)
			for i, pair := range [][2]float64{{got.Low, want.Low}, {got.High, want.High}, {got.Noise, want.Noise}, {got.Quantum, want.Quantum}, {got.Hysteresis, want.Hysteresis},
				{got.Uncertainty[0], want.Uncertainty[0]}, {got.Uncertainty[1], want.Uncertainty[1]}, {got.Bias[1], want.Bias[1]}, {got.Left[1], want.Left[1]}} {
				if !found || !ok || pair[0] != k*pair[1] {
					t.Errorf("noise %g, times %g: value %d is %g, want %g", noise, k, i, pair[0], k*pair[1])
				}
			}
		}
	}
}

// Samples beyond two thousand may be copies of their neighbours and tell no more.
func TestMoreSamplesTellNoMore(t *testing.T) {
	of := func(n int) coded {
		s := make([]float64, n)
		for i := range s {
			if i >= n*3/4 {
				s[i] = 1
			}
		}
		c, ok := fromCodes(s, 0.25, 0.1875, 1)
		if !ok {
			t.Fatal("nothing")
		}
		return c
	}
	if a, b := of(2000), of(8000); !scalar.EqualWithinRel(a.bias, b.bias, 1e-9) || !scalar.EqualWithinRel(a.left, b.left, 1e-9) {
		t.Errorf("%+v of 2000, %+v of 8000", a, b)
	}
	if a, b := of(200), of(2000); b.left >= a.left {
		t.Errorf("2000 samples leave %g, 200 leave %g", b.left, a.left)
	}
}

// Where all but a hundredth of the samples have one code, half as much variance again is stated as where a hundredth and more have not.
func TestOneCodeIsStatedWide(t *testing.T) {
	of := func(n int) coded {
		s := make([]float64, n)
		s[n-2], s[n-1] = 1, 1
		p := 2 / float64(n)
		c, ok := fromCodes(s, p, p*(1-p), 1)
		if !ok {
			t.Fatal("nothing")
		}
		return c
	}
	one, two := of(201), of(199)
	if ratio := one.left * one.left / (two.left * two.left); !(math.Abs(ratio-1.5) <= 0.03) {
		t.Errorf("%+v of one code, %+v of two: %g times the variance", one, two, ratio)
	}
}

// The share between two values is of all samples, those at the lower value among them.
func TestShareBetween(t *testing.T) {
	if got := between([]float64{0, 1, 2, 2, 3, 4, 5, 6, 7, 8}, 2, 5); !(math.Abs(got-0.4) <= 1e-12) {
		t.Errorf("from 2 to 5: %g, want 0.4", got)
	}
}

// With noise enough, or codes enough, the mean is the level.
func TestNoCodes(t *testing.T) {
	many := []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}
	for name, c := range map[string]struct {
		s                 []float64
		variance, quantum float64
		want              bool
	}{
		"eight steps": {many[:9], 0.3, 1, true}, "nine steps": {many, 0.3, 1, false}, "no step": {many[:3], 0.1, 0, false}, "none": {nil, 0, 1, false},
		"at the limit": {many[:2], scatters * scatters, 1, true}, "beyond it": {many[:2], scatters*scatters + 1e-9, 1, false},
	} {
		if _, ok := fromCodes(c.s, 0.5, c.variance, c.quantum); ok != c.want {
			t.Errorf("%s: %v", name, ok)
		}
	}
}

// A level that lies anywhere between two codes is found within what is stated of it, though the mean of its samples is not.
func TestLevelBetweenCodes(t *testing.T) {
	var z, plain float64
	const boards = 60
	for i := range boards {
		high := 4 + 0.05*float64(i)/boards
		e, ok := Find(square(4000, 0.5, 0.1, high, 0.0075, 0.05, uint64(i)))
		if !ok {
			t.Fatal("no levels")
		}
		z += math.Pow((e.High-high)/e.Uncertainty[1], 2) / boards
		plain += math.Pow((e.High-e.Bias[1]-high)/e.Uncertainty[1], 2) / boards
		if e.Left[1] != e.Uncertainty[1] {
			t.Fatalf("%g left of %g", e.Left[1], e.Uncertainty[1])
		}
		// Samples about a level have its noise and that of rounding, whichever codes they fall on.
		if both := math.Sqrt(0.0075*0.0075 + 0.05*0.05/12); !(math.Abs(e.Noise/both-1) <= 0.15) {
			t.Fatalf("noise %g, want %g", e.Noise, both)
		}
	}
	if z > 1.6 || plain < 2*z {
		t.Errorf("error over stated uncertainty squared is %.2f, of the samples' mean %.2f", z, plain)
	}
}

// Infinite samples are sides: of nothing else the levels are −1 and 1, beside one level they stand beyond it.
func TestClipped(t *testing.T) {
	up, down := math.Inf(1), math.Inf(-1)
	of := func(n int, x float64, rest ...float64) []float64 {
		return append(slices.Repeat([]float64{x}, n), rest...)
	}
	line := square(3000, 0, 2, 2, 0.01, 0, 4)
	for name, c := range map[string]struct {
		v         []float64
		low, high float64 // NaN: beyond the other
		ok        bool
	}{
		"both sides":            {append(of(5, up), of(3, down)...), -1, 1, true},
		"only above":            {of(5, up), 0, 0, false},
		"only below":            {of(5, down), 0, 0, false},
		"a line and above":      {append(of(1000, up), line...), 2, math.NaN(), true},
		"a line and below":      {append(of(1000, down), line...), math.NaN(), 2, true},
		"more above":            {append(append(of(1000, up), of(10, down)...), line...), 2, math.NaN(), true},
		"as many":               {append(append(of(50, up), of(50, down)...), line...), 2, math.NaN(), true},
		"one in three thousand": {append(of(1, up), line...), 2, math.NaN(), true},
		"none":                  {line, 0, 0, false},
		"two codes and above":   {slices.Repeat([]float64{0, 0.1, 0, 0.1, 0.1, 0, 0, 0, up, up, up}, 40), 0, math.NaN(), true},
		"and below":             {slices.Repeat([]float64{0, 0.1, 0, 0.1, 0.1, 0, 0, 0, down, down, down}, 40), math.NaN(), 0, true},
		"strays and above":      {append(slices.Repeat([]float64{0, 0, 0, 0, 0, 1e-19, up, up}, 20), 1.1, 0.011, 1e-4, 1e-6, 1e-8), 0, math.NaN(), true},
	} {
		e, ok := Find(c.v)
		if ok != c.ok {
			t.Errorf("%s: %v", name, ok)
		}
		if !ok {
			continue
		}
		near := func(got, want, other, way float64) bool {
			if math.IsNaN(want) {
				return way*(got-other) > 6*0.009
			}
			return math.Abs(got-want) < 0.002
		}
		if !e.Clipped || !e.Dwells || !near(e.Low, c.low, e.High, -1) || !near(e.High, c.high, e.Low, 1) {
			t.Errorf("%s: %+v", name, e)
		}
		for _, x := range c.v {
			if x > e.Reference-e.Hysteresis/2 && x < e.Reference+e.Hysteresis/2 {
				t.Errorf("%s: %g lies in the band about the middle", name, x)
			}
		}
		if !(math.Abs(e.Reference-(e.Low+e.High)/2) <= 1e-12) || e.Hysteresis < 0.2*(e.High-e.Low)*0.999 || e.Hysteresis > 0.7*(e.High-e.Low)*1.001 {
			t.Errorf("%s: reference %g, hysteresis %g", name, e.Reference, e.Hysteresis)
		}
	}
	if e, _ := Find(append(of(1, up), slices.Repeat(line, 2)...)); e.Clipped {
		t.Error("one in six thousand is a spike")
	}
}

// A spike at either end is none of the states, be the rest few samples or many.
func TestSpikesAtEitherEnd(t *testing.T) {
	few := []float64{0, 0, 0, 0, 0, 5, 5, 5, 5, 5}
	for name, v := range map[string][]float64{
		"one above": append([]float64{90}, few...), "one below": append([]float64{-90}, few...), "two ends": append([]float64{-300, 90}, few...),
		"three of ten thousand": append([]float64{900, 890, 880}, slices.Repeat(few, 1000)...), "and below": append([]float64{-900, -890, -880}, slices.Repeat(few, 1000)...),
	} {
		if e, ok := Find(v); !ok || !(math.Abs(e.Low) <= 1e-9) || !(math.Abs(e.High-5) <= 1e-9) {
			t.Errorf("%s: %v %g and %g", name, ok, e.Low, e.High)
		}
	}
	// A state of one sample in eight is a state.
	if e, ok := Find([]float64{0, 0, 0, 0, 0, 0, 0, 0, 5}); !ok || e.High != 5 {
		t.Errorf("%v %+v", ok, e.Levels)
	}
}

// The noise is that of both states together, and its band as wide as stated.
func TestNoiseAndBand(t *testing.T) {
	v := append(square(6000, 0, 0, 0, 0.05, 0, 7), square(2000, 0, 1, 1, 0.15, 0, 8)...)
	e, ok := Find(v)
	want := math.Sqrt((6000*0.05*0.05 + 2000*0.15*0.15) / 8000)
	if !ok || !(math.Abs(e.Noise/want-1) <= 0.06) {
		t.Errorf("noise %g, want %g", e.Noise, want)
	}
	if got := e.Hysteresis / 2; !scalar.EqualWithinRel(got, 3*e.Noise, 1e-9) {
		t.Errorf("half the band %g is not three times the noise %g", got, e.Noise)
	}
	for _, c := range [][2]float64{{0, 0.1}, {0.1 / 3, 0.1}, {0.1, 0.3}, {0.2, 0.35}} {
		e := Estimate{}
		e.Low, e.High, e.Noise = -1, 1, 2*c[0]
		if got := e.band().Hysteresis; !scalar.EqualWithinAbs(got, 2*2*c[1], 1e-12) {
			t.Errorf("noise of %g of the amplitude: half the band %g, want %g", c[0], got/4, c[1])
		}
	}
}

// What rounding leaves in a mean, against the mean of rounded samples itself (Widrow and Kollár 2008, 4.3).
func TestLeft(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for _, sigma := range []float64{0, 0.1, 0.2, 0.3} {
		var square float64
		const places, draws = 200, 4000
		for i := range places {
			level, sum := float64(i)/places, 0.0
			for range draws {
				sum += math.Round(level + sigma*r.NormFloat64())
			}
			square += math.Pow(sum/draws-level, 2) / places
		}
		const q = 0.02
		// Left takes the whole of the series to fall as its first term does: never less, and at most π²/6 of it.
		if ratio := Left(q, q*q*(sigma*sigma+1./12)) / (q * q * square); ratio < 0.93 || ratio > 1.07*math.Pi*math.Pi/6 {
			t.Errorf("noise of %g steps leaves %.3f of what draws do", sigma, ratio)
		}
	}
	if Left(0, 1) != 0 {
		t.Error("no step leaves something")
	}
}

// Few values at even distances are a converter's on a quiet line.
func TestSteps(t *testing.T) {
	for name, c := range map[string]struct {
		s    []float64
		want float64
	}{
		"three even":   {[]float64{0, 0, 0.5, 1}, 0.5},
		"off nought":   {[]float64{0.1, 0.6, 1.1}, 0.5},
		"a gap":        {[]float64{0, 0.5, 2}, 0.5},
		"uneven":       {[]float64{0, 0.5, 1.2}, 0},
		"nearly even":  {[]float64{0, 0.5, 1.004}, 0.5},
		"counts":       {[]float64{7, 7, 8, 8}, 1},
		"a logic line": {[]float64{0, 0, 1}, 0},
		"minus one":    {[]float64{-1, 0}, 0},
		"two values":   {[]float64{0.5, 1.5}, 0},
		"two apart":    {[]float64{7, 9}, 0},
		"sixteen":      {[]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16}, 1},
		"seventeen":    {[]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17}, 0},
	} {
		if got := step(c.s); !(math.Abs(got-c.want) <= 1e-12) {
			t.Errorf("%s: %g, want %g", name, got, c.want)
		}
	}
	for name, c := range map[string]struct {
		v        []float64
		few, one bool
	}{
		"four values":  {[]float64{0, 0, 1, 1, 9, 9, 10, 10}, true, false},
		"five values":  {[]float64{0, 0, 1, 1, 8, 8, 9, 9, 10, 10}, false, false},
		"neighbours":   {[]float64{7, 7, 7, 8, 8, 8}, true, true},
		"a logic line": {[]float64{0, 0, 0, 1, 1, 1}, true, false},
	} {
		if e, ok := Find(v20(c.v)); !ok || e.FewCodes != c.few || e.OneStep != c.one {
			t.Errorf("%s: %v few codes %v, one step %v", name, ok, e.FewCodes, e.OneStep)
		}
	}
}

// v20 repeats samples often enough for a state.
func v20(v []float64) []float64 { return slices.Repeat(v, 20) }

// The amplitude step is the lower quartile of the gaps; many values, or a gap between states, are none.
func TestQuantum(t *testing.T) {
	line := func(n int, by float64, each int) (s []float64) {
		for i := range n {
			s = append(s, slices.Repeat([]float64{float64(i) * by}, each)...)
		}
		return s
	}
	about := func(s []float64, dust float64) []float64 { // as far below as above, and printed with few digits
		for i := range s {
			s[i] += dust*float64(i%10) - 0.4
		}
		return s
	}
	for name, c := range map[string]struct {
		s    []float64
		want float64
	}{
		"a converter":        {line(40, 0.02, 10), 0.02},
		"a lost code":        {slices.Concat(line(20, 0.02, 10), []float64{0.42, 0.42}), 0.02},
		"a value astray":     {slices.Sorted(slices.Values(append(line(40, 0.02, 10), 0.0274))), 0.02}, // a gap of 0.0074, that 0.02 is no whole number of
		"the states alone":   {[]float64{0, 0, 5, 5}, 0},
		"a tenth":            {line(11, 1, 3), 0},
		"under a tenth":      {line(12, 1, 3), 1},
		"seventeen values":   {line(17, 1, 1), 1},
		"eighteen of many":   {line(18, 1, 1), 0},
		"eighteen each four": {line(18, 1, 5), 1},
		"five thousand":      {line(5000, 1, 8), 0},
		"one value":          {[]float64{3, 3, 3}, 0},
		"about nought":       {about(line(41, 0.02, 10), 1e-13), 0.02},
		"as many as count":   {line(4097, 1, 8), 1},
	} {
		if got := quantum(c.s); !(math.Abs(got-c.want) <= 1e-12) {
			t.Errorf("%s: %g, want %g", name, got, c.want)
		}
	}
}

// The extremes of a triangle are its 1 % points, and its noise that between neighbours.
func TestExtremes(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	v := make([]float64, 20000)
	for i := range v {
		v[i] = math.Abs(math.Mod(float64(i)/100, 20)-10) + 0.05*r.NormFloat64()
	}
	for range 10 {
		v[r.IntN(len(v))] = math.Inf(1)
		v[r.IntN(len(v))] = math.NaN()
	}
	e, ok := Extremes(v)
	if !ok || !(math.Abs(e.Low-0.1) <= 0.03) || !(math.Abs(e.High-9.9) <= 0.03) || !(math.Abs(e.Noise/0.05-1) <= 0.05) || e.Uncertainty != [2]float64{e.Noise, e.Noise} {
		t.Errorf("%v %+v", ok, e)
	}
	if e.Dwells || !scalar.EqualWithinRel(e.Hysteresis, 0.2*(e.High-e.Low), 1e-9) {
		t.Errorf("%+v", e)
	}
	for _, few := range [][]float64{nil, {1}, {2, 2}, {math.Inf(1), math.NaN()}} {
		if _, ok := Extremes(few); ok {
			t.Errorf("%v has extremes", few)
		}
	}
	if e, ok := Extremes([]float64{0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5}); !ok || e.Low != 0 || e.High != 5 {
		t.Errorf("%v %+v", ok, e)
	}
	if f := Fixed(); f.Low != 0 || f.High != 1 || f.Reference != 0.5 || !f.States || !f.Dwells {
		t.Errorf("%+v", f)
	}
}

// The limit of a mean that agrees is a thirty-third of the amplitude, on either side; the reference itself is low, and what is
// no number does not count.
func TestAgreeAtTheLimit(t *testing.T) {
	known := Estimate{}
	known.Low, known.High, known.Reference = -1, 3, 1
	for name, c := range map[string]struct {
		v    []float64
		want bool
	}{
		"within above": {[]float64{3.119, -1}, true}, "beyond above": {[]float64{3.121, -1}, false}, "at it": {[]float64{3 + 0.03*4, -1}, false},
		"within below": {[]float64{3, -1.119}, true}, "beyond below": {[]float64{3, -1.121}, false},
		"a mean of several": {[]float64{3.2, 2.8, 3.3, 2.7, -1.5, -0.5}, true},
		"no number":         {[]float64{math.NaN(), 3, -1}, true}, "nothing": {nil, true}, "the reference": {[]float64{1, -3, -1}, true},
	} {
		if got := known.Agree(c.v); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}
