package capability

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/compare/lot/chart"
)

// ErrFew says that there are too few values, or that they do not vary.
var ErrFew = errors.New("too few different values for a capability")

// Index is a capability index with its 95 % confidence limits. It is NaN where it has no meaning: Cp and Pp
// with one limit only.
type Index struct{ Value, Low, High float64 }

// Result holds the indexes and what they come from.
type Result struct {
	N         int
	Mean      float64
	Deviation float64     // overall standard deviation, n-1
	Within    chart.Sigma // short-term standard deviation from a control chart
	Cp, Cpk   Index       // with Within
	Pp, Ppk   Index       // with Deviation
	Outside   float64     // fraction beyond the limits that a normal process of that mean and overall deviation has
	Normality Normality
}

const z95 = 1.959963984540054 // normal quantile of 0.975

// Of computes the indexes of x against limits; -Inf and +Inf mean none. Within is the short-term standard
// deviation. Definitions and the intervals of Cpk: NIST/SEMATECH e-Handbook 6.1.6; those of Cp: chi-squared.
func Of(x []float64, low, high float64, within chart.Sigma) (Result, error) {
	r := Result{N: len(x), Within: within}
	if len(x) < 2 {
		return r, ErrFew
	}
	r.Mean, r.Deviation = stat.MeanStdDev(x, nil)
	if !(r.Deviation > 0) || !(within.Value > 0) {
		return r, ErrFew
	}
	r.Cp, r.Cpk = indexes(r.Mean, within, low, high, r.N)
	r.Pp, r.Ppk = indexes(r.Mean, chart.Sigma{Value: r.Deviation, Freedom: float64(len(x) - 1)}, low, high, r.N)
	unit := distuv.UnitNormal
	r.Outside = unit.CDF((low-r.Mean)/r.Deviation) + unit.CDF((r.Mean-high)/r.Deviation)
	r.Normality = AndersonDarling(x)
	return r, nil
}

func indexes(mean float64, s chart.Sigma, low, high float64, n int) (spread, centred Index) {
	nan := math.NaN()
	spread = Index{nan, nan, nan}
	if width := (high - low) / (6 * s.Value); !math.IsInf(width, 0) {
		chi := distuv.ChiSquared{K: s.Freedom}
		spread = Index{width, width * math.Sqrt(chi.Quantile(0.025)/s.Freedom), width * math.Sqrt(chi.Quantile(0.975)/s.Freedom)}
	}
	k := min(mean-low, high-mean) / (3 * s.Value)
	half := z95 * math.Sqrt(1/(9*float64(n))+k*k/(2*s.Freedom))
	return spread, Index{k, k - half, k + half}
}
