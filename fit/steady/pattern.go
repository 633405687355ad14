package steady

import (
	"math"

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
