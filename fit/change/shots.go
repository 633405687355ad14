package change

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Shots is how single pulses, each of which something outside triggers, differ by more than chance. They are independent, so that the
// tests are exact: Student's t for a slope and, by Bonferroni, for the best place of a jump; Rosner's generalised extreme studentised
// deviates for pulses unlike the others (Technometrics 25, 1983, 165; NIST/SEMATECH e-Handbook 1.3.5.17.3).
type Shots struct {
	Odd             []int   // pulses unlike the others
	Jump            int     // the first pulse behind a jump of the others; 0: none
	Slope           bool    // the others grow or shrink by and by
	By, Uncertainty float64 // of the jump, or from the first to the last; with its standard uncertainty, in the unit of the pulses
}

const (
	falseShots = 3e-4 // chance that pulses alike fail one of the three tests
	fewShots   = 4    // pulses that show one unlike the others
	fewInOrder = 6    // and an order, two at least on either side of a jump
)

// OfShots tests pulses in their order; a difference below least is none.
func OfShots(h []float64, least float64) (s Shots) {
	if len(h) < fewShots {
		return s
	}
	s.Odd = oddOnes(h, least)
	var at []int
	var x, y []float64
	for i, v := range h {
		if !slices.Contains(s.Odd, i) {
			at, x, y = append(at, i), append(x, float64(i)), append(y, v)
		}
	}
	if len(y) < fewInOrder {
		return s
	}
	freedom, places := len(y)-2, float64(len(y)-3)
	place := 2 // of the best jump
	for k := 3; k <= freedom; k++ {
		if studentized(step(y, k)) > studentized(step(y, place)) {
			place = k
		}
	}
	by, u := line(x, y)
	jump, uJump := step(y, place)
	slope, leap := chance(by, u, freedom), chance(jump, uJump, freedom)
	told, leapt := slope < falseShots && math.Abs(by) > least, places*leap < falseShots && math.Abs(jump) > least
	switch {
	case leapt && (!told || math.Sqrt(places)*leap < slope): // a jump's place is one more number that is fitted (Schwarz 1978)
		s.Jump, s.By, s.Uncertainty = at[place], jump, uJump
	case told:
		s.Slope, s.By, s.Uncertainty = true, by, u
	}
	return s
}

func studentized(x, u float64) float64 { return math.Abs(x) / u }

// chance is that of a value so far from nought, with the scatter of so many degrees of freedom.
func chance(x, u float64, freedom int) float64 {
	if u == 0 {
		return 0
	}
	return 2 * distuv.StudentsT{Sigma: 1, Nu: float64(freedom)}.Survival(math.Abs(x/u))
}

// oddOnes are the pulses unlike the others, a quarter of them at most.
func oddOnes(h []float64, least float64) []int { return oddAt(h, least, falseShots) }

// oddAt is oddOnes at a chance of its own.
func oddAt(h []float64, least, p float64) []int {
	var left, out []int
	for i := range h {
		left = append(left, i)
	}
	count := 0
	for len(out) < len(h)/4 {
		n := float64(len(left))
		var y []float64
		for _, i := range left {
			y = append(y, h[i])
		}
		mean, sd := stat.MeanStdDev(y, nil)
		far := 0
		for k := range y {
			if math.Abs(y[k]-mean) > math.Abs(y[far]-mean) {
				far = k
			}
		}
		off := math.Abs(y[far] - mean)
		out, left = append(out, left[far]), slices.Delete(left, far, far+1)
		// The farthest by its distance from the others, which has Student's distribution.
		r := off / sd
		t := r * math.Sqrt(n*(n-2)/max((n-1)*(n-1)-n*r*r, 0))
		if t > 3 && n*chance(t, 1, len(y)-2) < p && off > least {
			count = len(out)
		}
	}
	slices.Sort(out[:count])
	return out[:count]
}

// line is how far a line through pulses leads from the first to the last, with its standard uncertainty.
func line(x, y []float64) (by, u float64) {
	a, b := stat.LinearRegression(x, y, nil, false)
	sum := 0.0
	for i := range x {
		r := y[i] - a - b*x[i]
		sum += r * r
	}
	n, span := float64(len(x)), x[len(x)-1]-x[0]
	return b * span, span * math.Sqrt(sum/(n-2)/(stat.Variance(x, nil)*(n-1)))
}

// step is how far the mean of the pulses from k on lies from that of those before, with its standard uncertainty.
func step(y []float64, k int) (by, u float64) {
	a, va := stat.MeanVariance(y[:k], nil)
	b, vb := stat.MeanVariance(y[k:], nil)
	n, before, after := float64(len(y)), float64(k), float64(len(y)-k)
	return b - a, math.Sqrt((va*(before-1) + vb*(after-1)) / (n - 2) * (1/before + 1/after))
}
