package change

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Shots is how single pulses, each of which something outside triggers, differ by more than chance. They are independent, so that the
// tests are exact: Student's t for a slope and, by Bonferroni, for the best place of a jump, or of a jump and its return; Rosner's
// generalised extreme studentised deviates for pulses unlike the others (Technometrics 25, 1983, 165; NIST/SEMATECH e-Handbook
// 1.3.5.17.3).
type Shots struct {
	Odd             []int   // pulses unlike the others
	Jump, Back      int     // the first pulse behind a jump of the others, and behind its return; 0: none
	Slope           bool    // the others grow or shrink by and by
	By, Uncertainty float64 // of the jump, or from the first to the last; with its standard uncertainty, in the unit of the pulses
}

const (
	falseShots = 2e-4 // chance that pulses alike fail one of the five tests
	fewShots   = 4    // pulses that show one unlike the others
	fewInOrder = 6    // and an order, two at least on either side of a jump
)

// OfShots tests pulses in their order; a difference below least is none. More odd ones than a quarter are sought where no order shows.
func OfShots(h []float64, least float64) (s Shots) {
	if len(h) < fewShots {
		return s
	}
	least = max(least, rounding*math.Abs(h[0]))
	if s = inOrder(h, oddAt(h, least, falseShots, len(h)/4), least); !s.Slope && s.Jump == 0 {
		s.Odd = oddAt(h, least, falseShots, (len(h)-1)/2)
	}
	return s
}

// inOrder looks for a slope, a jump, or a jump and its return, of the pulses that are not odd.
func inOrder(h []float64, odd []int, least float64) Shots {
	s := Shots{Odd: odd}
	var at []int
	var x, y []float64
	for i, v := range h {
		if !slices.Contains(s.Odd, i) {
			at, x, y = append(at, i), append(x, float64(i)), append(y, v)
		}
	}
	n := len(y)
	if n < fewInOrder {
		return s
	}
	by, u := line(x, y)
	by, u = by*(x[n-1]-x[0]), u*(x[n-1]-x[0])
	slope := chance(by, u, n-2)
	told := slope < falseShots && math.Abs(by) > least
	best := 1.0
	if told {
		best, s.Slope, s.By, s.Uncertainty = slope, true, by, u
	}
	// Each place is one more number that is fitted: a square root of the pulses (Schwarz 1978).
	for places := 1; places <= 2; places++ {
		from, to, by, u := stretch(y, places)
		tries := math.Pow(float64(n-3), float64(places))
		leap := chance(by, u, n-2)
		if tries*leap < falseShots && math.Abs(by) > least && math.Sqrt(tries)*leap < best {
			best = math.Sqrt(tries) * leap
			s.Slope, s.Jump, s.Back, s.By, s.Uncertainty = false, at[from], 0, by, u
			if to < n {
				s.Back = at[to]
			}
		}
	}
	return s
}

// stretch is the run of pulses that lies farthest from all others, by Student's t, and by how much: to the end, or, with two places, of
// any two pulses or more.
func stretch(y []float64, places int) (from, to int, by, u float64) {
	n := len(y)
	sums := make([]float64, n+1)
	mean := stat.Mean(y, nil)
	for i, v := range y {
		sums[i+1] = sums[i] + v - mean
	}
	far := 0.0
	for i := 2; i <= n-2; i++ {
		last := n
		if places == 2 {
			last = i + 2
		}
		for j := last; j <= n && (places == 1 || j <= n-2); j++ { // of a total that is fixed, the share between the two parts
			k := float64(j - i)
			if d := math.Abs(sums[j]-sums[i]) / math.Sqrt(k*(float64(n)-k)); d > far {
				far, from, to = d, i, j
			}
		}
	}
	inside := make([]float64, n)
	for i := from; i < to; i++ {
		inside[i] = 1
	}
	by, u = line(inside, y)
	return from, to, by, u
}

// chance is that of a value so far from nought, with the scatter of so many degrees of freedom.
func chance(x, u float64, freedom int) float64 {
	if u == 0 {
		return 0
	}
	return 2 * distuv.StudentsT{Sigma: 1, Nu: float64(freedom)}.Survival(math.Abs(x/u))
}

// oddAt are the pulses unlike the others, so many of them at most, at a chance p of one among pulses alike.
func oddAt(h []float64, least, p float64, most int) []int {
	var left, out []int
	for i := range h {
		left = append(left, i)
	}
	count := 0
	for len(out) < most {
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

// line is the slope of a line through y over x, with its standard uncertainty.
func line(x, y []float64) (b, u float64) {
	a, b := stat.LinearRegression(x, y, nil, false)
	sum := 0.0
	for i := range x {
		r := y[i] - a - b*x[i]
		sum += r * r
	}
	n := float64(len(x))
	return b, math.Sqrt(sum / (n - 2) / (stat.Variance(x, nil) * (n - 1)))
}
