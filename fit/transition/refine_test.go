package transition

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// train is a square wave of 0 and 10 with slow edges of one shape, value 0 to 1 against time from the 50 % crossing, and
// the crossings' true times. It is written without the package's profiles.
func train(n int, shape func(x float64) float64, noise float64, seed uint64) (v, crossings []float64) {
	rnd := rand.New(rand.NewPCG(seed, 1))
	v = make([]float64, n)
	for x := 31.7; x < float64(n)+100; x += 60 + 5*rnd.Float64() {
		crossings = append(crossings, x)
	}
	k := 0
	for i := range v {
		// An edge begins well before its crossing.
		for k < len(crossings) && crossings[k]-25 < float64(i) {
			k++
		}
		y := 0.0
		if k > 0 {
			y = shape(float64(i) - crossings[k-1])
			if k%2 == 0 {
				y = 1 - y
			}
		}
		v[i] = 10*y + noise*rnd.NormFloat64()
	}
	for len(crossings) > 0 && crossings[len(crossings)-1] > float64(n)-30 {
		crossings = crossings[:len(crossings)-1]
	}
	return v, crossings
}

var shapes = map[string]func(x float64) float64{
	"ramp of 8": func(x float64) float64 { return min(max(0.5+x/8, 0), 1) },
	"lag of 4": func(x float64) float64 {
		return 1 - math.Exp(-max(x/4+math.Ln2, 0))
	},
	"normal of 3": func(x float64) float64 { return 0.5 * (1 + math.Erf(x/3/math.Sqrt2)) },
}

// refine finds the edges of v in blocks.
func refine(t *testing.T, v []float64, block int) ([]Edge, *Refiner) {
	t.Helper()
	f := finder(5, 3, 10)
	r := Learn(0, nil, v, f.Scan(0, nil, v, nil), 0, 10, 0.2, false)
	if r == nil {
		t.Fatal("no form was learnt")
	}
	f = finder(5, 3, 10)
	var out []Edge
	for i := 0; i < len(v); i += block {
		b := v[i:min(i+block, len(v))]
		out = r.Take(int64(i), nil, b, f.Scan(float64(i), nil, b, nil), out)
	}
	return r.Flush(out), r
}

// On slow edges the crossings scatter as little as the Cramér-Rao bound lets them: σ² over the sum of the squared slopes
// at the samples, here taken as the integral of the shape's squared slope.
func TestRefinedCrossings(t *testing.T) {
	const noise = 0.2
	for name, shape := range shapes {
		information := 0.0
		const h = 1e-3
		for x := -60.0; x < 60; x += h {
			d := (shape(x+h) - shape(x)) / h
			information += d * d * h
		}
		bound := noise / 10 / math.Sqrt(information)
		v, want := train(60_000, shape, noise, 3)
		got, r := refine(t, v, 4096)
		var square, sum, n float64
		sums := [2]float64{}
		for i, e := range got {
			if i < len(want) {
				d := e.X - want[i]
				square += d * d
				sum += d
				sums[Polarity(e.Rise)] += d
				n++
			}
		}
		// About 900 edges: 5 % is two standard deviations of a root mean square; corners and the form cost a little.
		if rms := math.Sqrt(square / n); rms > 1.12*bound {
			t.Errorf("%s: crossings scatter by %.4f, the bound is %.4f", name, rms, bound)
		}
		for k, rise := range []bool{false, true} {
			s, ok := r.Summary(rise)
			if !ok {
				t.Fatalf("%s: nothing is known of the edges", name)
			}
			if late := sums[k]/(n/2) - s.Late; !(math.Abs(late) <= 4*bound/math.Sqrt(n/2)+3*s.LateU) {
				t.Errorf("%s, rise %v: crossings are %.4f late, uncertainty %.4f", name, rise, late, s.LateU)
			}
			if q := 1 / math.Sqrt(s.Info) / math.Sqrt(1/information); !(math.Abs(q-1) <= 0.05) {
				t.Errorf("%s: stated scatter over the bound is %.3f", name, q)
			}
		}
	}
}

// Without noise nothing is left, and what is learnt about a shape does not bend another.
func TestRefinedWithoutNoise(t *testing.T) {
	for name, shape := range shapes {
		v, want := train(20_000, shape, 0, 4)
		got, _ := refine(t, v, 4096)
		if len(got) < len(want)-1 {
			t.Fatalf("%s: %d edges of %d", name, len(got), len(want))
		}
		for i, e := range got[:len(want)-1] {
			if !(math.Abs(e.X-want[i]) <= 2e-3) {
				t.Errorf("%s: crossing at %v, want %v", name, e.X, want[i])
				break
			}
		}
	}
}

// Wherever the stream is cut into blocks, the edges are the same, also those whose samples lie in two blocks.
func TestRefinedBlockBorders(t *testing.T) {
	v, _ := train(8000, shapes["lag of 4"], 0.2, 5)
	want, _ := refine(t, v, len(v))
	for _, size := range []int{1, 7, 100, 1999} {
		got, _ := refine(t, v, size)
		if !slices.Equal(positions(got), positions(want)) {
			t.Errorf("blocks of %d give other edges", size)
		}
	}
}

// Steep edges, and edges like none of the profiles, stay as interpolated.
func TestNotLearnt(t *testing.T) {
	for name, shape := range map[string]func(x float64) float64{
		"steep": func(x float64) float64 { return min(max(0.5+x, 0), 1) },
		"a step on the way": func(x float64) float64 {
			switch {
			case x < -8:
				return 0
			case x < 1:
				return 0.4 + x/1000
			case x < 8:
				return 0.6
			}
			return 1
		},
	} {
		v, _ := train(8000, shape, 0.05, 6)
		if r := Learn(0, nil, v, finder(5, 3, 10).Scan(0, nil, v, nil), 0, 10, 0.2, false); r != nil {
			t.Errorf("%s: a form was learnt", name)
		}
	}
}

// What was learnt from the first edges need not be right: all edges together tell by how much a wrong scale makes the
// crossings late, and the plateaus are those of the levels however long the edges take to settle.
func TestSummaryCorrects(t *testing.T) {
	const wrong = 1.05
	v, want := train(20_000, shapes["lag of 4"], 0, 8)
	r := Learn(0, nil, v, finder(5, 3, 10).Scan(0, nil, v, nil), 0.2, 9.9, 0.2, false)
	if r == nil {
		t.Fatal("no form was learnt")
	}
	if low, high := r.Levels(); !(math.Abs(low) <= 0.01) || !(math.Abs(high-10) <= 0.01) {
		t.Errorf("learnt between the levels %.4f and %.4f, want 0 and 10", low, high)
	}
	for _, f := range r.forms {
		f.scale *= wrong
	}
	got := r.Take(0, nil, v, finder(5, 3, 10).Scan(0, nil, v, nil), nil)
	for k, rise := range []bool{false, true} {
		late, n := 0.0, 0.0
		for i, e := range got {
			if i < len(want) && e.Rise == rise {
				late += e.X - want[i]
				n++
			}
		}
		s, _ := r.Summary(rise)
		if late /= n; math.Abs(late) < 0.02 || !(math.Abs(s.Late-late) <= 0.15*math.Abs(late)) {
			t.Errorf("polarity %d: crossings are %.4f late, said to be %.4f", k, late, s.Late)
		}
	}
	_, r = refine(t, v, 4096)
	if low, high, n := r.Plateaus(); !(math.Abs(low) <= 5e-4) || !(math.Abs(high-10) <= 5e-4) || n[0] < 1000 {
		t.Errorf("plateaus %.5f and %.5f, want 0 and 10", low, high)
	}
}
