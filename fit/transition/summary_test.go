package transition

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// windowsOf draws windows about edges: samples of edges of another form than the fit supposes, with errors of the levels given as shares of the amplitude.
func windowsOf(rnd *rand.Rand, edges int, noise, start, end float64, shape func(x float64) float64) (w []window) {
	for k := range edges {
		var one window
		at := 0.3 * rnd.NormFloat64()
		for i := range 40 {
			x, n := float64(i)-12+rnd.Float64(), float64(1+(i+k)%3)
			y := shape(x-at) + noise*rnd.NormFloat64()/math.Sqrt(n)
			one.x, one.y, one.n = append(one.x, x), append(one.y, (y-start)/(1+end-start)), append(one.n, n)
		}
		w = append(w, one)
	}
	return w
}

// dense fits all crossings, and the scale of a form where it is known beforehand to u > 0, to windows by so many rounds of least squares
// from the crossings given, with derivatives by finite differences. It returns crossings and scale, the residuals before the last round,
// and the covariance for unit noise.
func dense(w []window, h func(z float64) float64, from []float64, scale, u float64, rounds int) (at []float64, found float64, left []float64, covariance *mat.Dense) {
	at = make([]float64, len(w))
	copy(at, from)
	start := scale
	free := u > 0
	if !free {
		u = 1
	}
	for range rounds {
		var rows [][]float64
		left = left[:0]
		for k := range w {
			for i, x := range w[k].x {
				root := math.Sqrt(w[k].n[i])
				value := func(at, scale float64) float64 { return h((x - at) / scale) }
				row := make([]float64, len(w)+1)
				const d = 1e-5
				row[k] = root * (value(at[k]+d, scale) - value(at[k]-d, scale)) / (2 * d)
				row[len(w)] = root * (value(at[k], scale+d) - value(at[k], scale-d)) / (2 * d)
				if !free {
					row[len(w)] = 0
				}
				rows, left = append(rows, row), append(left, root*(w[k].y[i]-value(at[k], scale)))
			}
		}
		prior := make([]float64, len(w)+1)
		prior[len(w)] = 1 / u
		rows, left = append(rows, prior), append(left, (start-scale)/u)
		a := mat.NewDense(len(rows), len(w)+1, nil)
		for i, row := range rows {
			a.SetRow(i, row)
		}
		var normal, inverse mat.Dense
		var step, right mat.VecDense
		normal.Mul(a.T(), a)
		right.MulVec(a.T(), mat.NewVecDense(len(left), left))
		if inverse.Inverse(&normal) != nil {
			return nil, 0, nil, nil
		}
		step.MulVec(&inverse, &right)
		for k := range at {
			at[k] += step.AtVec(k)
		}
		scale += step.AtVec(len(w))
		covariance = &inverse
	}
	return at, scale, left[:len(left)-1], covariance
}

func average(v []float64) (m float64) {
	for _, x := range v {
		m += x / float64(len(v))
	}
	return m
}

// What a wrong scale and an error of either level do to all crossings, the noise, and how far a crossing is open, against least squares of
// all edges at once, and against the same with the levels moved.
func TestSummaryAgainstAllAtOnce(t *testing.T) {
	for i := range 6 {
		p, loud := profiles[1+i/2], []float64{0.01, 0.12}[i%2]
		const true0, edges = 4.0, 12
		shape := func(x float64) float64 { g, _ := p.at(x / true0); return g }
		h := func(z float64) float64 { g, _ := p.at(z); return g }
		w := windowsOf(rand.New(rand.NewPCG(4, 1)), edges, loud, 0, 0, shape)
		assumed := true0 * 1.02
		look := func(w []window) (s Summary, seen []float64, f *form) {
			f = &form{profile: p, scale: assumed, cell: 1}
			for i := range w {
				x, ok := f.locate(&w[i], 0)
				if !ok {
					t.Fatalf("%s: an edge is not found", p.name)
				}
				f.add(&w[i], x)
				seen = append(seen, x)
			}
			f.middle, f.lean = 0, 0 // a bend near 50 % is looked at by itself
			s, _ = (&Refiner{forms: [2]*form{1: f}}).Summary(true)
			return s, seen, f
		}
		s, seen, _ := look(w)
		held, _, left, narrow := dense(w, h, nil, assumed, 0, 12)
		square, samples := 0.0, 0.0
		for _, e := range left {
			square, samples = square+e*e, samples+1
		}
		noise := square / (samples - edges - 1)
		if !(math.Abs(s.Noise/noise-1) <= 1e-3) {
			t.Errorf("%s: noise %.4g, of least squares %.4g", p.name, s.Noise, noise)
		}
		info := 0.0
		for k := range edges {
			info += 1 / narrow.At(k, k) / edges
		}
		if !(math.Abs(s.Info/info-1) <= 1e-3) || !(math.Abs(average(held)-average(seen)) <= 1e-5) {
			t.Errorf("%s: information %.5g, crossings at %.6f; of least squares %.5g, %.6f", p.name, s.Info, average(seen), info, average(held))
		}
		known := looseScale * assumed / math.Sqrt(noise) // of unit noise
		free, _, _, wide := dense(w, h, held, assumed, known, 1)
		if late := average(seen) - average(free); math.Abs(late) < 1e-5 || !(math.Abs(s.Late/late-1) <= 0.01) {
			t.Errorf("%s: crossings are %.5f late, said to be %.5f", p.name, late, s.Late)
		}
		more := 0.0
		for i := range edges {
			for j := range edges {
				more += wide.At(i, j) / edges / edges
			}
			more -= narrow.At(i, i) / edges / edges
		}
		if u := math.Sqrt(more * noise); !(math.Abs(s.LateU/u-1) <= 0.01) {
			t.Errorf("%s: that is known to %.5g, of least squares %.5g", p.name, s.LateU, u)
		}
		const d = 0.002
		for i, said := range []float64{s.ByStart, s.ByEnd} {
			moved := func(by float64) float64 {
				levels := [2]float64{}
				levels[i] = by
				v := windowsOf(rand.New(rand.NewPCG(4, 1)), edges, loud, levels[0], levels[1], shape)
				at, _, _, _ := dense(v, h, held, assumed, known, 1)
				return average(at)
			}
			if by := (moved(d) - moved(-d)) / (2 * d); !(math.Abs(said-by) <= 0.01*math.Abs(by)+0.001) {
				t.Errorf("%s: level %d moves the crossings by %.4f of its error, seen %.4f", p.name, i, said, by)
			}
		}
	}
}

// A bend near 50 % that the form has not: the crossings of the samples there alone are later than those of all by it. It is taken off
// where it stands out of the noise, and where it does not it is doubt.
func TestBendNearTheMiddle(t *testing.T) {
	p := profiles[3]
	for _, c := range []struct{ bump, noise float64 }{{0.03, 0.01}, {0.01, 0.02}, {0.02, 0.02}} {
		const scale, edges = 4.0, 12
		rnd := rand.New(rand.NewPCG(6, 1))
		w := windowsOf(rnd, edges, 0.01, 0, 0, func(x float64) float64 {
			g, _ := p.at(x / scale)
			return g + c.bump*math.Exp(-x*x/2)
		})
		for k := range w {
			for i := range w[k].y {
				w[k].y[i] += c.noise * rnd.NormFloat64()
			}
		}
		f := &form{profile: p, scale: scale, cell: 1}
		for i := range w {
			x, _ := f.locate(&w[i], 0)
			f.add(&w[i], x)
		}
		s, _ := (&Refiner{forms: [2]*form{1: f}}).Summary(true)
		plain := *f
		plain.middle, plain.lean = 0, 0
		without, _ := (&Refiner{forms: [2]*form{1: &plain}}).Summary(true)
		// Least squares of the residuals, scale taken off, by the slope near the middle.
		h := func(z float64) float64 { g, _ := p.at(z); return g }
		held, _, _, _ := dense(w, h, nil, scale, 0, 12)
		at, own, _, _ := dense(w, h, held, scale, looseScale*scale/math.Sqrt(s.Noise), 1)
		lean, square, all := 0.0, 0.0, 0.0
		for k := range w {
			for i, x := range w[k].x {
				slope := (h((x-held[k]-1e-5)/scale) - h((x-held[k]+1e-5)/scale)) / 2e-5
				n := w[k].n[i]
				all += n * slope * slope
				if math.Abs(h((x-held[k])/scale)-0.5) < nearMiddle {
					lean += n * slope * (w[k].y[i] - h((x-at[k])/own))
					square += n * slope * slope
				}
			}
		}
		bend := lean / square
		u := s.Noise * (1/square - 1/all)
		wantLate, doubt := 0.0, 0.0
		if sure := bend * bend / u; sure > 16 {
			wantLate, doubt = -bend, u+bend*bend/10
		} else {
			doubt = bend * bend * min(sure/4, 1)
		}
		if (c.bump == 0.03) != (wantLate != 0) {
			t.Fatalf("bump %g: bend of %.4f, known to %.4f", c.bump, bend, math.Sqrt(u))
		}
		if !(math.Abs(s.Late-without.Late-wantLate) <= 0.05*math.Abs(bend)) {
			t.Errorf("bump %g: the crossings are %.5f late by the bend, of least squares %.5f", c.bump, s.Late-without.Late, wantLate)
		}
		if got := s.LateU*s.LateU - without.LateU*without.LateU; !(math.Abs(got-doubt) <= 0.15*doubt) {
			t.Errorf("bump %g: the bend leaves a variance of %.4g, of least squares %.4g", c.bump, got, doubt)
		}
	}
}

// Each profile has its 50 % at nought, the slope that finite differences have, there the one that is said of it, and nothing left to do
// outside its reach.
func TestProfiles(t *testing.T) {
	for _, p := range profiles {
		if g, d := p.at(0); !(math.Abs(g-0.5) <= 1e-12) || !(math.Abs(d-p.middle) <= 1e-12) {
			t.Errorf("%s: %g at the crossing, slope %g, said to be %g", p.name, g, d, p.middle)
		}
		for z := -6.013; z < 12; z += 0.01 {
			a, _ := p.at(z - 1e-6)
			b, _ := p.at(z + 1e-6)
			g, d := p.at(z)
			if !(math.Abs((b-a)/2e-6-d) <= 1e-6) || g < 0 || g > 1 || a > b {
				t.Fatalf("%s at %g: value %g, slope %g, seen %g", p.name, z, g, d, (b-a)/2e-6)
			}
			if z < p.from && g > 0.01 || z > p.to && g < 0.97 {
				t.Fatalf("%s: %g at %g, outside %g to %g", p.name, g, z, p.from, p.to)
			}
		}
	}
}

// Rows with times on an even grid give the edges, summaries and levels that rows without them give, in any unit, wherever the stream is
// cut; so do edges slower than a window has points, but for what averaging samples in groups changes.
func TestTimesAreRows(t *testing.T) {
	v, _ := train(12_000, shapes["lag of 4"], 0.2, 5)
	rows, r := refine(t, v, 700)
	for step, sizes := range map[float64][]int{0.5: {1, 13, 2000}, 0.01: {7}, 100: {31}} {
		timesAreRows(t, v, rows, r, step, sizes)
	}
}

func timesAreRows(t *testing.T, v []float64, rows []Edge, r *Refiner, step float64, sizes []int) {
	const begin = 3.25
	times := make([]float64, len(v))
	for i := range times {
		times[i] = begin + step*float64(i)
	}
	f := finder(5, 3, 10)
	q := Learn(0, times, v, f.Scan(0, times, v, nil), 0, 10, 0.2, false)
	for _, size := range sizes {
		f, p := finder(5, 3, 10), &Refiner{}
		*p = *q
		p.forms = [2]*form{{}, {}}
		*p.forms[0], *p.forms[1] = *q.forms[0], *q.forms[1]
		var out []Edge
		for i := 0; i < len(v); i += size {
			to := min(i+size, len(v))
			out = p.Take(int64(i), times[i:to], v[i:to], f.Scan(0, times[i:to], v[i:to], nil), out)
		}
		out = p.Flush(out)
		if len(out) != len(rows) {
			t.Fatalf("blocks of %d: %d edges with times, %d without", size, len(out), len(rows))
		}
		for i := range out {
			if !(math.Abs((out[i].X-begin)/step-rows[i].X) <= 1e-6) {
				t.Fatalf("blocks of %d: edge %d at row %.7f with times, %.7f without", size, i, (out[i].X-begin)/step, rows[i].X)
			}
		}
		for _, rise := range []bool{false, true} {
			a, _ := p.Summary(rise)
			b, _ := r.Summary(rise)
			for _, x := range [][2]float64{{a.Info * step * step, b.Info}, {a.Noise, b.Noise}, {a.LateU / step, b.LateU}, {a.ByStart / step, b.ByStart}, {a.ByEnd / step, b.ByEnd}} {
				if !(math.Abs(x[0]/x[1]-1) <= 1e-3) {
					t.Errorf("blocks of %d, rise %v: %+v with times, %+v without", size, rise, a, b)
					break
				}
			}
		}
		if low, high, _ := p.Plateaus(); size > 1000 {
			if l, h, _ := r.Plateaus(); !(math.Abs(low-l) <= 5e-3) || !(math.Abs(high-h) <= 5e-3) {
				t.Errorf("levels %.4f and %.4f with times, %.4f and %.4f without", low, high, l, h)
			}
		}
	}
}

// The last of what came before and comes now, however it is cut.
func TestLastOf(t *testing.T) {
	all := []float64{1, 2, 3, 4, 5, 6, 7}
	for from := range all {
		for cut := from; cut <= len(all); cut++ {
			for n := range len(all) + 2 {
				want := all[max(from, len(all)-n):]
				if got := lastOf(slices.Clone(all[from:cut]), all[cut:], n); !slices.Equal(got, want) {
					t.Errorf("last %d of %v and %v: %v", n, all[from:cut], all[cut:], got)
				}
			}
		}
	}
}
