package capability

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Normality is the outcome of a test for a normal distribution.
type Normality struct {
	Test      string  // its name and source
	Statistic float64 // modified A²; NaN with fewer than eight values, which decide nothing
	P         float64 // chance of such a statistic, or a larger one, from normal values; NaN likewise
}

// fewestForTest is where the approximation of the p-value begins to hold.
const fewestForTest = 8

// pieces approximate the p-value of the modified statistic when mean and deviation are estimated
// (D'Agostino and Stephens 1986, Table 4.9): below the end, exp of the quadratic, or 1 less it.
var pieces = []struct {
	end        float64
	a, b, c    float64
	complement bool
}{
	{0.2, -13.436, 101.14, -223.73, true},
	{0.34, -8.318, 42.796, -59.938, true},
	{0.6, 0.9177, -4.279, -1.38, false},
	{13, 1.2937, -5.709, 0.0186, false},
}

// AndersonDarling tests x for a normal distribution of unknown mean and deviation (Anderson and Darling 1954,
// with the modification for sample size of Stephens 1974: A² (1 + 0.75/n + 2.25/n²)).
func AndersonDarling(x []float64) Normality {
	r := Normality{"Anderson-Darling, mean and deviation estimated (Stephens 1974)", math.NaN(), math.NaN()}
	n := float64(len(x))
	if len(x) < fewestForTest {
		return r
	}
	sorted := slices.Sorted(slices.Values(x))
	mean, sd := stat.MeanStdDev(sorted, nil)
	if !(sd > 0) {
		return r
	}
	unit, sum := distuv.UnitNormal, 0.0
	for i, v := range sorted {
		below := unit.CDF((v - mean) / sd)
		above := unit.CDF((mean - sorted[len(sorted)-1-i]) / sd)
		sum += (2*float64(i) + 1) * (math.Log(below) + math.Log(above))
	}
	a := -n - sum/n
	r.Statistic = a * (1 + 0.75/n + 2.25/(n*n))
	r.P = 0 // beyond the last piece
	for _, p := range pieces {
		if r.Statistic < p.end {
			r.P = math.Exp(p.a + p.b*r.Statistic + p.c*r.Statistic*r.Statistic)
			if p.complement {
				r.P = 1 - r.P
			}
			break
		}
	}
	return r
}
