package cell

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

// crossing is where the straight line through the two samples about an edge crosses the middle, for an edge at u of its cell that takes
// r cells from level to level; and how much of it lies between the two samples.
func crossing(u, r float64) (x, rise float64) {
	level := func(t float64) float64 {
		if r == 0 {
			return math.Copysign(0.5, t-u)
		}
		return min(max((t-u)/r, -0.5), 0.5)
	}
	before, after := level(0), level(1)
	return before / (before - after), after - before
}

// Slopes of any length, sampled and interpolated at every place of their cell: the variance of the error, the width of the cell that has
// it, and the Fourier coefficients are those of the lattice with the mean rise that was seen. Falling and rising edges differ.
func TestLatticeAgainstSlopes(t *testing.T) {
	const places, count = 2000, 12
	type seen struct {
		rise, variance float64
		lines          [count]float64
	}
	of := func(r float64) (s seen) {
		var lines [count]complex128
		for i := range places {
			u := (float64(i) + 0.5) / places
			x, rise := crossing(u, r)
			s.rise += rise / places
			s.variance += (x - u) * (x - u) / places
			for m := range lines {
				lines[m] += cmplx.Rect((x-u)/places, -2*math.Pi*float64(m+1)*u)
			}
		}
		for m, c := range lines {
			s.lines[m] = cmplx.Abs(c)
		}
		if r == 0 {
			s.rise = 1 // not but for rounding
		}
		return s
	}
	lengths := []float64{0, 0.2, 0.7, 1, 1.3, 1.9, 2.4, 5}
	for i, r := range lengths {
		fall, rise := of(r), of(lengths[len(lengths)-1-i])
		l := Lattice{Cell: 1, Sharpness: [2]float64{fall.rise, rise.rise}}
		terms, rest := l.Harmonics(count)
		if len(terms) != count {
			t.Fatalf("%d terms", len(terms))
		}
		for k, want := range []seen{fall, rise} {
			if got := l.Variance()[k]; !(math.Abs(got-want.variance) <= 1e-4) {
				t.Errorf("slope %g, edge %d: variance %.5f, of all places %.5f", r, k, got, want.variance)
			}
			if got := l.Width()[k]; !(math.Abs(got*got/12-want.variance) <= 1e-4) {
				t.Errorf("slope %g, edge %d: width %.5f for a variance of %.5f", r, k, got, want.variance)
			}
			left := want.variance
			for m, term := range terms {
				left -= 2 * want.lines[m] * want.lines[m]
				if term.M != float64(m+1) || !(math.Abs(math.Abs(term.C[k])-want.lines[m]) <= 5e-4) {
					t.Errorf("slope %g, edge %d: harmonic %g is %.5f, of all places harmonic %d is %.5f", r, k, term.M, term.C[k], m+1, want.lines[m])
				}
			}
			if !(math.Abs(rest[k]-left) <= 2e-4) {
				t.Errorf("slope %g, edge %d: %.5f is left, of all places %.5f", r, k, rest[k], left)
			}
		}
	}
	if v, w := (&Lattice{Sharpness: [2]float64{1, 1}}).Variance(), (&Lattice{Sharpness: [2]float64{1, 1}}).Width(); v != [2]float64{} || w != [2]float64{} {
		t.Errorf("no lattice has the variance %v and the width %v", v, w)
	}
}

// The variance that steps of the amplitude give to a crossing, against samples that are rounded: two about the crossing of a straight
// slope, and least squares of all on the slope.
func TestCodesAgainstRoundedSamples(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 7))
	const steps, draws = 9.0, 40_000
	two, all := 0.0, 0.0
	slopes := []float64{2, 7, 9, 4, 1}
	squares := 0.0
	for _, g := range slopes {
		squares += g * g
	}
	for range draws {
		rise, u, level := steps+rnd.Float64()-0.5, rnd.Float64(), rnd.Float64()
		at := func(x float64) float64 { return math.Round(rise*(x-u)+level) - level }
		x := at(0)/(at(0)-at(1)) - u
		two += x * x * rise * rise / draws
		shift := 0.0
		for _, g := range slopes {
			shift += g * (rnd.Float64() - 0.5) / squares
		}
		all += shift * shift / draws
	}
	l := Lattice{Cell: 1, Sharpness: [2]float64{0.2, 0.2}, Code: [2]float64{steps, steps}, Fitted: [2]float64{0, squares}}
	if got := l.Variance()[0] * steps * steps; !(math.Abs(got/two-1) <= 0.03) {
		t.Errorf("variance of two samples %.4f steps², of rounded ones %.4f", got, two)
	}
	if got := l.Variance()[1]; !(math.Abs(got/all-1) <= 0.03) {
		t.Errorf("variance of a fitted edge %.3g cells², of rounded samples %.3g", got, all)
	}
}

// Amplitude steps have lines where the rounding recurs, which noise breaks up: those of the mean error of a rounded value with noise, at
// every place of its step. Lines and rest make up the variance; so much noise that no line is left is all rest.
func TestCodesHaveLines(t *testing.T) {
	const places, noises = 256, 400
	for _, noise := range []float64{0, 0.1, 0.25} {
		var lines [3]complex128
		for i := range places {
			y, e := (float64(i)+0.5)/places, 0.0
			for j := range noises {
				x := y + noise*math.Sqrt2*math.Erfinv(2*(float64(j)+0.5)/noises-1)
				e += (math.Round(x) - x) / noises
			}
			for m := range lines {
				lines[m] += cmplx.Rect(e/places, -2*math.Pi*float64(m+1)*y)
			}
		}
		l := Lattice{Cell: 1, Sharpness: [2]float64{0.2, 0.2}, Code: [2]float64{12.6, 0}, Dither: noise * noise}
		v := l.Variance()
		terms, rest := l.Harmonics(4)
		for m, c := range lines {
			share := 2 * real(c*cmplx.Conj(c)) * 12
			if share < 1e-3 {
				continue
			}
			if len(terms) < 5+m {
				t.Fatalf("noise of %g steps: line %d is left out", noise, m+1)
			}
			term := terms[4+m]
			if term.M != math.Round(12.6*float64(m+1)) || term.C[1] != 0 || !(math.Abs(2*term.C[0]*term.C[0]/v[0]-share) <= 0.02*share+1e-3) {
				t.Errorf("noise of %g steps: %+v has %.4f of the variance, the error of a rounded value %.4f", noise, term, 2*term.C[0]*term.C[0]/v[0], share)
			}
		}
		sum := rest[0]
		for _, term := range terms {
			sum += 2 * term.C[0] * term.C[0]
		}
		if !(math.Abs(sum/v[0]-1) <= 1e-9) || rest[1] != 0 {
			t.Errorf("noise of %g steps: lines and rest make up %.4f of the variance", noise, sum/v[0])
		}
	}
	for _, l := range []Lattice{{Cell: 1, Sharpness: [2]float64{0.2, 0.2}, Code: [2]float64{12, 12}, Dither: 1}, {Cell: 1, Sharpness: [2]float64{0.2, 0.2}, Code: [2]float64{0.1, 0.1}}} {
		if terms, rest := l.Harmonics(2); len(terms) != 2 || !(math.Abs(rest[0]/l.Variance()[0]-1) <= 1e-9) {
			t.Errorf("%+v has %d terms, and %.3g of the variance is left", l, len(terms), rest[0]/l.Variance()[0])
		}
	}
}
