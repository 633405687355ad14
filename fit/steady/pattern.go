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

// ordered is how many times the mean square of a line a pattern has at least that is none.
const ordered = 1.3

// findPattern looks for what recurs, by analysis of variance between the places of a pattern: a few long pulses, one in so many, or
// the first teeth of a saw have no line that stands out of their own spectrum. White noise has Fisher's F. Patterns that recur every
// whole number of values are looked for, and in a short record others.
func findPattern(lists [][]float64, s *spectrum) (t tone) {
	if !(s.total > 0) {
		return t
	}
	under := s.under
	mean := stat.Mean(under[s.from():], nil)
	// loud is the most that noise has at a pattern's harmonics, over its mean.
	loud := func(every float64) float64 {
		most := 1.0
		for k := 1.0; k < min(math.Floor(every), mostFold) || k == 1; k++ {
			most = max(most, under[s.at(k/every)]/mean)
		}
		return most
	}
	values, n := straight(lists), 0
	for _, v := range lists {
		n = max(n, len(v))
	}
	if n < fewestFold {
		return t
	}
	var all []float64
	for every := 2; every <= min(mostFold, n/fewestSeen); every++ {
		all = append(all, float64(every))
	}
	for k := fewestSeen * finer; n <= shortFold && k < n*finer/2; k++ {
		all = append(all, float64(n*finer)/float64(k))
	}
	t.chance = 1
	var seen []tone
	for _, every := range all {
		between, within, a, b := fold(values, every)
		if !(between > 0) {
			continue
		}
		within = max(within, 1e-12*between)
		x := between / a / (within / b) / loud(every)
		chance := mathext.RegIncBeta(b/2, a/2, b/(b+a*x)) * float64(len(all))
		t.chance = min(t.chance, chance)
		if own := between - within/b*a; chance < lineChance {
			seen = append(seen, tone{chance, every, 0.5 / float64(n*finer), own / (a + b), 0, within / b})
			t.square = max(t.square, own/(a+b))
		}
	}
	most := t.square
	for _, f := range seen { // a pattern's multiples explain as much
		if f.square > most/ordered && (t.every == 0 || f.every < t.every) {
			t = f
		}
	}
	return t
}

// fold gives the sum of squares between the places of a pattern and within, with their degrees of freedom.
func fold(lists [][]float64, every float64) (between, within, a, b float64) {
	var sum, count [mostFold]float64
	places := min(max(int(every), 2), mostFold)
	for _, v := range lists {
		if float64(len(v)) < fewestSeen*every {
			continue
		}
		clear(sum[:])
		clear(count[:])
		square := 0.0
		for i, x := range v {
			phase := float64(i)/every + 1e-9
			j := int((phase - math.Floor(phase)) * float64(places))
			sum[j] += x
			count[j]++
			square += x * x
		}
		own, used := 0.0, 0.0
		for j := range sum {
			if count[j] > 0 {
				own += sum[j] * sum[j] / count[j]
				used++
			}
		}
		between, within = between+own, within+square-own
		a, b = a+used-1, b+float64(len(v))-used-1
	}
	return between, within, a, b
}

// findSlow looks for long patterns of many values, in means of neighbours.
func findSlow(lists [][]float64) (t tone) {
	n := 0
	for _, v := range lists {
		n = max(n, len(v))
	}
	group := (n + shortFold - 1) / shortFold
	if group < 2 {
		return t
	}
	means := make([][]float64, len(lists))
	for i, v := range lists {
		for ; len(v) >= group; v = v[group:] {
			means[i] = append(means[i], stat.Mean(v[:group], nil))
		}
	}
	s := newSpectrum(means)
	t = findPattern(means, &s)
	if comb := findComb(means[0], true); comb.square > ordered*t.square {
		t = comb
	}
	t.every, t.width = t.every*float64(group), t.width/float64(group)
	return t
}

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
