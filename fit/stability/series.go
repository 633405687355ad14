package stability

import (
	"math"

	"offbeat/fit"
)

// Point is the stability of the period at one averaging time.
type Point struct {
	Time     float64 // s
	Allan    float64 // overlapping Allan deviation, relative
	Hadamard float64 // overlapping Hadamard deviation, relative: blind to a linear drift; NaN where the series is too short
	Terms    int     // differences behind Allan
	Freedom  float64 // degrees of freedom of the square of Allan, for white frequency noise
}

// leastTerms is how many differences a deviation should rest on.
const leastTerms = 4

// Family gives the stability of the period at averaging times that grow threefold, from the longest run of cycles
// without a gap; nil where that is too short. A thinned series starts at as many periods as it was thinned by.
func Family(s *fit.Series) []Point {
	run := longest(s.Start)
	if len(run) < leastTerms+2 {
		return nil
	}
	n := len(run) - 1
	tau := (run[n] - run[0]) / float64(n)
	y := make([]float64, n)
	for i := range y {
		y[i] = (run[i+1]-run[i])/tau - 1
	}
	return FamilyOf(y, tau)
}

// FamilyOf is the same of relative values that are means over tau, in s, one after the other.
func FamilyOf(y []float64, tau float64) []Point {
	n := len(y)
	var out []Point
	for m := 1; n-2*m+1 >= leastTerms; m *= 3 {
		a, h := Of(Overlapping, y, m), Of(OverlappingHadamard, y, m)
		out = append(out, Point{Time: float64(m) * tau, Allan: a.Value, Hadamard: h.Value, Terms: a.Terms, Freedom: freedom(float64(n+1), float64(m))})
	}
	return out
}

// freedom is the degrees of freedom of the overlapping Allan variance of white frequency noise, of n phases (one more than values)
// and m values at a time (NIST SP 1065, table 5).
func freedom(n, m float64) float64 {
	return max((3*(n-1)/(2*m)-2*(n-2)/n)*4*m*m/(4*m*m+5), 1)
}

// longest is the longest run of instants one median distance apart.
func longest(t []float64) []float64 {
	if len(t) < 3 {
		return nil
	}
	gaps := make([]float64, len(t)-1)
	for i := range gaps {
		gaps[i] = t[i+1] - t[i]
	}
	usual := Median(gaps)
	var best []float64
	from := 0
	for i := range gaps {
		if math.Abs(gaps[i]/usual-1) > 0.3 {
			from = i + 1
		}
		if i+2-from > len(best) {
			best = t[from : i+2]
		}
	}
	return best
}
