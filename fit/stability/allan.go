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

// Overlapping is the overlapping Allan deviation (NIST SP 1065, 5.2.4): second differences of the phase, m apart.
func Overlapping(x []float64, m int) (float64, int) {
	var sum float64
	n := max(len(x)-2*m, 0)
	for i := range n {
		d := x[i+2*m] - 2*x[i+m] + x[i]
		sum += d * d
	}
	return math.Sqrt(sum / (2 * float64(n) * float64(m) * float64(m))), n
}

// OverlappingHadamard is the overlapping Hadamard deviation (5.2.9): third differences, blind to linear drift.
func OverlappingHadamard(x []float64, m int) (float64, int) {
	var sum float64
	n := max(len(x)-3*m, 0)
	for i := range n {
		d := x[i+3*m] - 3*x[i+2*m] + 3*x[i+m] - x[i]
		sum += d * d
	}
	return math.Sqrt(sum / (6 * float64(n) * float64(m) * float64(m))), n
}
