package steady

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// The spectrum of some lists is the mean of their squared Fourier sums at twice as many frequencies as are independent, straight lines
// taken off; its background is that of the colour that the values have.
func TestSpectrumAgainstSums(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 8))
	const n = 40
	var lists [][]float64
	var flat [][]float64
	for range 3 {
		v, w := make([]float64, n), make([]float64, n)
		for i := range v {
			w[i] = rnd.NormFloat64()
		}
		at := make([]float64, n)
		for i := range at {
			at[i] = float64(i)
		}
		a, b := stat.LinearRegression(at, w, nil, false)
		for i := range v {
			w[i] -= a + b*at[i]
			v[i] = w[i] + 5 - 0.3*float64(i)
		}
		lists, flat = append(lists, v), append(flat, w)
	}
	s := newSpectrum(append(lists, make([]float64, n/2))) // a short list says nothing
	total := 0.0
	for k := range n + 1 {
		want := 0.0
		for _, w := range flat {
			var sum complex128
			for i, x := range w {
				sum += cmplx.Rect(x, -2*math.Pi*float64(k)*float64(i)/(2*n))
			}
			want += real(sum*cmplx.Conj(sum)) / n / 3
		}
		if !(math.Abs(s.power[k]-want) <= 1e-9) {
			t.Fatalf("frequency %d: %.6f, by sums %.6f", k, s.power[k], want)
		}
	}
	for _, w := range flat {
		for _, x := range w {
			total += x * x / n / 3
		}
	}
	if !(math.Abs(s.total-total) <= 1e-12) || s.lists != 3 || s.n != n {
		t.Errorf("%d lists of %d values, mean square %.6f, want %.6f", s.lists, s.n, s.total, total)
	}
	for i, f := range map[int]float64{16: 0.2, 24: 0.7, 32: 1.4, from: 0.001, n: 0.5} {
		if got := s.at(f); got != i {
			t.Errorf("%g turns a value are at %d, want %d", f, got, i)
		}
	}
}

// The background of many lists of one colour is the mean of their spectra: white noise of the edges, of which an interval is the
// difference, white noise of the intervals, and a walk of those.
func TestBackgroundHasTheColour(t *testing.T) {
	for name, of := range map[string]func(rnd *rand.Rand, v []float64){
		"edges": func(rnd *rand.Rand, v []float64) {
			last := rnd.NormFloat64()
			for i := range v {
				next := rnd.NormFloat64()
				v[i], last = next-last, next
			}
		},
		"intervals": func(rnd *rand.Rand, v []float64) {
			for i := range v {
				v[i] = rnd.NormFloat64()
			}
		},
		"walk": func(rnd *rand.Rand, v []float64) {
			x := 0.0
			for i := range v {
				x += rnd.NormFloat64()
				v[i] = x
			}
		},
	} {
		rnd := rand.New(rand.NewPCG(2, 8))
		var lists [][]float64
		for range 150 {
			v := make([]float64, 64)
			of(rnd, v)
			lists = append(lists, v)
		}
		s := newSpectrum(lists)
		for k := 2 * from; k < 60; k += 7 {
			mean := stat.Mean(s.power[k-3:k+4], nil)
			if q := s.under[k] / mean; q < 0.75 || q > 1.33 {
				t.Errorf("%s, frequency %d: background %.4g, mean of the spectra %.4g", name, k, s.under[k], mean)
			}
		}
	}
}

// A sine in noise is found with its length, its mean square and what is left; of two that recur together the slower is named.
func TestSineIsFound(t *testing.T) {
	for seed := range uint64(10) {
		rnd := rand.New(rand.NewPCG(seed, 8))
		every, size := 3+9*rnd.Float64(), 0.5+rnd.Float64()
		var lists [][]float64
		for range 2 {
			v := make([]float64, 160)
			for i := range v {
				v[i] = size*math.Sqrt2*math.Sin(2*math.Pi*float64(i)/every) + 0.2*rnd.NormFloat64()
			}
			lists = append(lists, v)
		}
		s := newSpectrum(lists)
		f := findLine(&s)
		if !(math.Abs(1/f.every-1/every) <= f.width) || f.width > 0.004 || !(math.Abs(f.square/(size*size)-1) <= 0.25) || f.line > 1.1*size*size || f.line < 0.4*size*size || !(math.Abs((f.square+f.rest)/(size*size+0.04)-1) <= 0.3) {
			t.Errorf("seed %d: sine of mean square %.3f every %.3f in noise of 0.04: %+v", seed, size*size, every, f)
		}
		p := findPattern(lists, &s)
		if p.square > 1.15*size*size {
			t.Errorf("seed %d: as a pattern %+v", seed, p)
		}
	}
}

// A pattern of whole length in noise is found with its length, its mean square about the mean and the noise; and values fall into places by
// analysis of variance.
func TestPatternIsFound(t *testing.T) {
	for _, every := range []int{2, 3, 5, 9, 14} {
		rnd := rand.New(rand.NewPCG(uint64(every), 8))
		form := make([]float64, every)
		for i := range form {
			form[i] = rnd.NormFloat64()
		}
		square := stat.PopVariance(form, nil)
		var lists [][]float64
		for range 2 {
			v := make([]float64, every*30)
			for i := range v {
				v[i] = form[i%every] + 0.1*rnd.NormFloat64()
			}
			lists = append(lists, v)
		}
		s := newSpectrum(lists)
		p := findPattern(lists, &s)
		if p.every != float64(every) || !(math.Abs(p.square/square-1) <= 0.1) || !(math.Abs(p.rest/0.01-1) <= 0.35) || p.chance > 1e-9 {
			t.Errorf("pattern of %d, mean square %.4f, in noise of 0.01: %+v", every, square, p)
		}
		between, within, a, b := fold(lists, float64(every))
		var wantBetween, wantWithin float64
		for _, v := range lists {
			for place := range every {
				var at []float64
				for i := place; i < len(v); i += every {
					at = append(at, v[i])
				}
				m := stat.Mean(at, nil)
				wantBetween += float64(len(at)) * m * m
				wantWithin += float64(len(at)) * stat.PopVariance(at, nil)
			}
		}
		if !(math.Abs(between/wantBetween-1) <= 1e-9) || !(math.Abs(within/wantWithin-1) <= 1e-9) || a != float64(2*(every-1)) || b != float64(2*every*29-2) {
			t.Errorf("places of %d: %g between, %g within, of %g and %g degrees; want %g, %g", every, between, within, a, b, wantBetween, wantWithin)
		}
	}
}

// Slow patterns of many values are found in means of neighbours, with their length in values.
func TestSlowPatternIsFound(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 8))
	v := make([]float64, 1500)
	for i := range v {
		v[i] = 0.3*math.Copysign(1, math.Mod(float64(i)/250, 1)-0.3) + rnd.NormFloat64()
	}
	if f := findSlow([][]float64{v}); !(math.Abs(f.every/250-1) <= 0.1) && !(math.Abs(f.every/500-1) <= 0.1) || !(math.Abs(f.square/(0.09*4*0.3*0.7)-1) <= 0.4) {
		t.Errorf("a square wave every 250 of mean square %.4f: %+v", 0.09*4*0.3*0.7, f)
	}
	if f := findSlow([][]float64{v[:100]}); f != (tone{}) {
		t.Errorf("of few values %+v", f)
	}
}

// What rounding to cells makes of an even train recurs as its period's part of a cell does: the same as jitter much larger than a cell is
// none of it, nor is what recurs at any other length, or by more than a cell.
func TestRoundedHasItsPlace(t *testing.T) {
	const cell = 1.0
	for _, c := range []struct {
		name          string
		part, every   float64
		square, noise float64
		want          bool
	}{
		{"a third of a cell", 1.0 / 3, 3, 0.05, 0, true}, {"a fifth", 0.2, 5, 0.05, 0, true}, {"two fifths", 0.4, 5, 0.03, 0, true},
		{"another length", 1.0 / 3, 7.7, 0.1, 0, false}, {"more than a cell", 1.0 / 3, 3, 0.9, 0, false},
		{"broken up by jitter", 1.0 / 3, 3, 0.05, 0.6, false},
	} {
		rnd := rand.New(rand.NewPCG(4, 8))
		v, last := make([]float64, 150), 0.0
		period := 50 + c.part
		for i := range v {
			next := math.Floor(float64(i+1)*period + c.noise*rnd.NormFloat64())
			v[i], last = next-last, next
		}
		x := Context{Cell: cell}
		f := tone{every: c.every, width: 0.5 / 150, square: c.square, line: c.square, rest: c.noise * c.noise * 2}
		if got := x.rounded(periods, f, [][]float64{v}, period); got != c.want {
			t.Errorf("%s: rounding can make it: %v", c.name, got)
		}
	}
	if (&Context{}).rounded(periods, tone{every: 3, square: 0.1}, nil, 50) {
		t.Error("no cells round nothing")
	}
}

// flat is a spectrum of lists of n values with a background of one and nothing on it.
func flat(n, lists int) (s spectrum) {
	s = spectrum{n: n, lists: lists, power: make([]float64, n+1), under: make([]float64, n+1), total: 1}
	for i := range s.under {
		s.under[i] = 1
	}
	return s
}

// The chance of a line is Fisher's for the power of its frequency over a background told by all the others, times the frequencies; its
// mean square, and which of two is named, follow from the powers.
func TestLineAgainstFisher(t *testing.T) {
	for _, c := range []struct{ n, lists, at int }{{60, 1, 30}, {60, 3, 41}, {60, 2, 60}, {30, 1, 59 - 30}, {200, 1, 8}} {
		for _, power := range []float64{3, 6, 12, 40} {
			s := flat(c.n, c.lists)
			s.power[c.at], s.total = power, 1+power/100
			degrees := 2 * float64(c.lists)
			if c.at >= c.n-1 {
				degrees /= 2
			}
			frequencies := float64(c.n + 1 - from)
			want := distuv.F{D1: degrees, D2: float64(c.lists)*frequencies - 2}.Survival(power) * frequencies
			got := findLine(&s)
			if want > 1e-9 && !(math.Abs(got.chance/min(want, 1)-1) <= 1e-5) {
				t.Errorf("%+v, power %g: chance %.4g, by Fisher's distribution %.4g", c, power, got.chance, want)
			}
			if want >= lineChance {
				if got.every != 0 {
					t.Errorf("%+v, power %g: %+v", c, power, got)
				}
				continue
			}
			square := max(s.total-1, min(2*power/float64(c.n), s.total))
			if got.every != float64(2*c.n)/float64(c.at) || got.width != 0.5/float64(c.n) || !(math.Abs(got.line-2*power/float64(c.n)) <= 1e-12) || !(math.Abs(got.square-square) <= 1e-12) || !(math.Abs(got.rest-1) <= 1e-12) {
				t.Errorf("%+v, power %g: %+v", c, power, got)
			}
		}
	}
	s := flat(100, 1)
	s.power[40], s.power[80] = 60, 100
	if f := findLine(&s); f.every != 5 {
		t.Errorf("of a line and its half, with more than half its power, the one every %g is named", f.every)
	}
	s.power[40] = 40
	if f := findLine(&s); f.every != 2.5 {
		t.Errorf("of a line and its half, with less, the one every %g is named", f.every)
	}
	s.power[39], s.power[40], s.power[41], s.power[80] = 90, 100, 90, 0
	if f := findLine(&s); f.every != 5 {
		t.Errorf("of three neighbours the one every %g is named", f.every)
	}
	short := flat(fewest-1, 1)
	short.power[12] = 100
	if f := findLine(&short); f.every != 0 {
		t.Errorf("of few values %+v", f)
	}
}

// The chance of a pattern of many values is Fisher's for the scatter between its places over that within, times the patterns looked at.
func TestPatternAgainstFisher(t *testing.T) {
	for seed := range uint64(12) {
		rnd := rand.New(rand.NewPCG(seed, 9))
		v := make([]float64, 160)
		for i := range v {
			v[i] = rnd.NormFloat64()
			if i%7 == 3 {
				v[i] += 0.4 * float64(seed%4)
			}
		}
		s := flat(160, 1)
		got := findPattern([][]float64{v}, &s)
		want := 1.0
		for every := 2; every <= 16; every++ {
			var groups [][]float64
			for place := range every {
				var at []float64
				for i := place; i < len(v); i += every {
					at = append(at, v[i])
				}
				groups = append(groups, at)
			}
			mean := stat.Mean(v, nil)
			at := make([]float64, len(v))
			for i := range at {
				at[i] = float64(i)
			}
			_, slope := stat.LinearRegression(at, v, nil, false)
			between, within := 0.0, 0.0
			for place, g := range groups {
				for i := range g {
					g[i] -= mean + slope*(float64(place+i*every)-159.0/2)
				}
				m := stat.Mean(g, nil)
				between += float64(len(g)) * m * m
				within += float64(len(g)) * stat.PopVariance(g, nil)
			}
			a, b := float64(every-1), float64(160-every-1)
			if x := between / a / (within / b); x >= 1 {
				want = min(want, distuv.F{D1: a, D2: b}.Survival(x)*15)
			}
		}
		if !(math.Abs(got.chance/want-1) <= 1e-6) {
			t.Errorf("seed %d: chance %.4g, by analysis of variance %.4g", seed, got.chance, want)
		}
	}
}

// Noise that is louder where a comb has its teeth makes one as often as it is louder.
func TestLoudness(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 9))
	white, walk := make([]float64, 120), make([]float64, 120)
	x := 0.0
	for i := range white {
		white[i] = rnd.NormFloat64()
		x += rnd.NormFloat64()
		walk[i] = x
	}
	if l := loudness(white, 0.11, 3); l > 1.5 {
		t.Errorf("white noise is %.2f times as loud", l)
	}
	slow, fast := loudness(walk, 0.04, 1), loudness(walk, 0.4, 1)
	if slow < 3 || fast != 1 {
		t.Errorf("a walk is %.2f times as loud at 25 values, %.2f at 2.5", slow, fast)
	}
}

// A transform is of the least length from that of the values on whose factors are none but 2, 3, 5 and 7.
func TestSmoothLengths(t *testing.T) {
	want := 1
	for n := 1; n <= 500; n++ {
		for ; ; want++ {
			worst := 1
			for left, p := want, 2; left > 1; p++ {
				for ; left%p == 0; left /= p {
					worst = p
				}
			}
			if want >= n && worst <= 7 {
				break
			}
		}
		if got := smooth(n); got != want {
			t.Errorf("from %d on: %d, want %d", n, got, want)
		}
	}
}
