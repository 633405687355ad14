package stability

import "math"

// Deviation is one statistic of a family at one averaging time.
type Deviation struct {
	M     int     // averaging time in units of the basic interval
	Value float64 // in the unit of the fractional values y
	Terms int     // differences behind it
}

// statistic names a member of the Allan family: a function of the phase x (n+1 points, unit tau0) and m.
type statistic func(x []float64, m int) (value float64, terms int)

// The family, each by its definition in NIST SP 1065 section 5. y are fractional values at equal spacing.
var (
	// Allan is the non-overlapping Allan deviation (5.2.1): second differences of the phase, m apart, every m-th.
	Allan statistic = func(x []float64, m int) (float64, int) { return second(x, m, m) }
	// Overlapping is the overlapping Allan deviation (5.2.4).
	Overlapping statistic = func(x []float64, m int) (float64, int) { return second(x, m, 1) }
	// Hadamard is the non-overlapping Hadamard deviation (5.2.8): third differences, blind to linear drift.
	Hadamard statistic = func(x []float64, m int) (float64, int) { return third(x, m, m) }
	// OverlappingHadamard is the overlapping one (5.2.9).
	OverlappingHadamard statistic = func(x []float64, m int) (float64, int) { return third(x, m, 1) }
	// Modified is the modified Allan deviation (5.2.5): the phase averaged over m points first.
	Modified statistic = modified
	// Time is the time deviation (5.2.6): modified times tau over the square root of 3; unit of y times tau0.
	Time statistic = func(x []float64, m int) (float64, int) {
		v, n := modified(x, m)
		return v * float64(m) / math.Sqrt(3), n
	}
	// Total is the total deviation (5.2.11): the phase reflected at both ends.
	Total statistic = total
)

// Of evaluates a statistic of the values y at the averaging time m; a value of NaN where there are too few.
func Of(s statistic, y []float64, m int) Deviation {
	v, n := s(phase(y), m)
	if n == 0 {
		v = math.NaN()
	}
	return Deviation{m, v, n}
}

// phase is the running sum of the values less their mean: a straight line in the phase changes none of the
// statistics, and without it no digits are lost.
func phase(y []float64) []float64 {
	mean := Summarise(y).Mean
	x := make([]float64, len(y)+1)
	for i, v := range y {
		x[i+1] = x[i] + (v - mean)
	}
	return x
}

// second is the deviation from second differences at stride steps.
func second(x []float64, m, stride int) (float64, int) {
	var sum float64
	n := 0
	for i := 0; i+2*m < len(x); i += stride {
		d := x[i+2*m] - 2*x[i+m] + x[i]
		sum += d * d
		n++
	}
	return math.Sqrt(sum / (2 * float64(n) * float64(m) * float64(m))), n
}

// third is the deviation from third differences at stride steps.
func third(x []float64, m, stride int) (float64, int) {
	var sum float64
	n := 0
	for i := 0; i+3*m < len(x); i += stride {
		d := x[i+3*m] - 3*x[i+2*m] + 3*x[i+m] - x[i]
		sum += d * d
		n++
	}
	return math.Sqrt(sum / (6 * float64(n) * float64(m) * float64(m))), n
}

// modified keeps a running sum of m second differences.
func modified(x []float64, m int) (float64, int) {
	last := len(x) - 3*m
	var inner, sum float64
	n := 0
	for j := 0; j <= last; j++ {
		if j == 0 {
			for i := range m {
				inner += x[i+2*m] - 2*x[i+m] + x[i]
			}
		} else {
			inner += x[j+3*m-1] - 3*x[j+2*m-1] + 3*x[j+m-1] - x[j-1]
		}
		sum += inner * inner
		n++
	}
	m2 := float64(m) * float64(m)
	return math.Sqrt(sum / (2 * m2 * m2 * float64(n))), n
}

// total reflects the phase about both ends and takes second differences about every inner point.
func total(x []float64, m int) (float64, int) {
	last := len(x) - 1
	at := func(i int) float64 {
		switch {
		case i < 0:
			return 2*x[0] - x[-i]
		case i > last:
			return 2*x[last] - x[2*last-i]
		}
		return x[i]
	}
	if m > last {
		return math.NaN(), 0
	}
	var sum float64
	n := 0
	for i := 1; i < last; i++ {
		d := at(i-m) - 2*x[i] + at(i+m)
		sum += d * d
		n++
	}
	return math.Sqrt(sum / (2 * float64(m) * float64(m) * float64(n))), n
}
