package steady

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat"
)

const (
	combSeen  = 3 // times that a comb recurs, at least
	combTries = 4 // of the likeliest lengths that are looked at closely
	combFiner = 4 // lengths that are told apart, for each independent frequency
)

// findComb looks in a short record for what recurs any number of values, as a harmonic series: the few teeth of a saw have no line
// that stands out of their own spectrum, and no place in a pattern. Noise is what the record has without the series. resolved: its
// harmonics are sought below half a cycle a value alone.
func findComb(v []float64, resolved bool) (t tone) {
	n := len(v)
	t.chance = 1
	if n < fewestFold || n > shortFold {
		return t
	}
	straight := detrended(v)
	total := floats.Dot(straight, straight)
	padded := make([]float64, 2*combFiner*n)
	copy(padded, straight)
	c := fourier.NewFFT(len(padded)).Coefficients(nil, padded)
	from := combSeen * 2 * combFiner
	power := make([]float64, len(padded)) // in full turns: frequencies above half a cycle a value show as lower ones
	for k := range power {
		if l := min(k, len(padded)-k); l >= from { // else it shows as a slow one: a drift or a wander
			power[k] = real(c[l])*real(c[l]) + imag(c[l])*imag(c[l])
		}
	}
	for _, harmonics := range []int{2, 4} {
		if 2*harmonics > n/3 {
			break
		}
		var peaks []int
		last := len(c)
		if resolved {
			last /= harmonics
		}
		at := make([]float64, last+1) // power of a series
		for k := range at {
			for h := 1; h <= harmonics; h++ {
				at[k] += power[h*k%len(power)]
			}
			if k--; k >= from && at[k] >= at[k-1] && at[k] >= at[k+1] {
				peaks = append(peaks, k)
			}
		}
		slices.SortFunc(peaks, func(a, b int) int { return cmp.Compare(at[b], at[a]) })
		best, left, used := 0.0, straight, 0
		for _, k := range peaks[:min(len(peaks), combTries)] {
			f := float64(k) / float64(len(padded))
			r, rank := without(straight, f, harmonics)
			if floats.Dot(r, r) < floats.Dot(left, left) {
				best, left, used = f, r, rank
			}
		}
		if best == 0 {
			continue
		}
		b := float64(n - used - 2)
		within := max(floats.Dot(left, left), 1e-12*total)
		own := (total - within/b*float64(n-2)) / float64(n)
		found := combChance(total, within, used, b, loudness(left, best, harmonics)) * float64(2*(len(c)-from))
		if found < lineChance && own > t.square {
			t = tone{chance: found, every: 1 / best, width: 0.5 / float64(2*combFiner*n), square: own, rest: within / b}
		}
		t.chance = min(t.chance, found)
	}
	return t
}

// combChance is that noise of the square sum within, of b degrees of freedom, leaves so much less than total to a series of so many
// numbers, where it is loud.
func combChance(total, within float64, used int, b, loud float64) float64 {
	x := (total - within) / (within / b) / loud
	return mathext.RegIncBeta(b/2, float64(used)/2, b/(b+x))
}

// loudness is the most that noise has at a comb's harmonics, over its mean.
func loudness(noise []float64, f float64, harmonics int) float64 {
	s := newSpectrum([][]float64{noise})
	most := 1.0
	for h := 1; h <= harmonics; h++ {
		if f := float64(h) * f; math.Abs(f-math.Round(f))*float64(s.n) >= combSeen {
			most = max(most, s.under[s.at(f)]/stat.Mean(s.under[s.from():], nil))
		}
	}
	return most
}

// without takes a harmonic series of the frequency f off the values, and says how many numbers it has.
func without(v []float64, f float64, harmonics int) (left []float64, rank int) {
	left = slices.Clone(v)
	var basis [][]float64
	n := float64(len(v))
	for k := -1; k <= 2*harmonics; k++ { // the mean, the slope, then a cosine and a sine each
		f := f * float64((k+1)/2)
		if k > 0 && math.Abs(f-math.Round(f))*n < combSeen {
			continue
		}
		col := make([]float64, len(v))
		for i := range col {
			if x := float64(i); k < 1 {
				col[i] = math.Pow(x, float64(k+1))
			} else {
				col[i] = math.Sin(2*math.Pi*f*x + math.Pi/2*float64(k&1))
			}
		}
		for range 2 { // once more: rounding
			for _, b := range basis {
				floats.AddScaled(col, -floats.Dot(b, col), b)
			}
		}
		size := floats.Norm(col, 2)
		if size < 1e-3*math.Sqrt(n) {
			continue
		}
		floats.Scale(1/size, col)
		basis = append(basis, col)
		floats.AddScaled(left, -floats.Dot(col, left), col)
		if k > 0 {
			rank++
		}
	}
	return left, rank
}
