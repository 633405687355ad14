package question

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit"
)

// leastRelative is the smallest relative uncertainty of a time that the back-solve takes at its word.
const leastRelative = 1e-7

// covariance is a symmetric 2 by 2 matrix of the mean high and the mean low time, s².
type covariance struct{ high, both, low float64 }

func (c covariance) plus(d covariance) covariance {
	return covariance{c.high + d.high, c.both + d.both, c.low + d.low}
}

func (c covariance) scaled(k float64) covariance {
	return covariance{c.high * k, c.both * k, c.low * k}
}

// inverse; a degenerate matrix counts as uncorrelated.
func (c covariance) inverse() covariance {
	det := c.high*c.low - c.both*c.both
	if !(det > 1e-12*c.high*c.low) {
		return covariance{1 / c.high, 0, 1 / c.low}
	}
	return covariance{c.low / det, -c.both / det, c.high / det}
}

func (c covariance) times(x [2]float64) [2]float64 {
	return [2]float64{c.high*x[0] + c.both*x[1], c.both*x[0] + c.low*x[1]}
}

// shares splits a measurement's covariance into what every new capture draws anew (type A) and what the same
// instrument brings each time (type B, its clock apart), by the budget; without one all of it is drawn anew.
func shares(m *fit.Measurement, onePulse bool) (anew, lasting covariance) {
	whole := covariance{sq(m.High.Uncertainty), m.Covariance, sq(m.Low.Uncertainty)}
	if onePulse {
		whole.both, whole.low = 0, 1
	}
	for _, t := range m.Budget {
		if t.Kind == "B" && !t.Clock {
			h, l := sq(t.High), sq(t.Low)
			lasting = lasting.plus(covariance{h, (sq(t.Period) - h - l) / 2, l})
		}
	}
	if onePulse {
		lasting.both, lasting.low = 0, 0
	}
	floor := covariance{sq(leastRelative * m.High.Value), 0, sq(leastRelative * m.Low.Value)}
	if onePulse {
		floor.low = 1
	}
	anew = whole.plus(lasting.scaled(-1))
	anew.high, anew.low = max(anew.high, floor.high), max(anew.low, floor.low)
	most := 0.999 * math.Sqrt(anew.high*anew.low)
	anew.both = min(max(anew.both, -most), most)
	return anew, lasting
}

// disagreement is the chance below which captures of one setting count as disagreeing.
const disagreement = 1e-3

// merge takes captures of one setting as one: generalised least squares with what each draws anew, what lasts added
// once. Where they scatter more than they should, the uncertainty is widened by the Birge ratio (R. T. Birge, Phys.
// Rev. 40 (1932) 207), and if that is beyond chance the note says so.
func merge(ms []*fit.Measurement, onePulse bool) (merged *fit.Measurement, note string) {
	if len(ms) == 1 {
		return ms[0], ""
	}
	var weight covariance
	var sum [2]float64
	var lasting covariance
	all := make([]covariance, len(ms)) // inverse of what each draws anew
	for i, m := range ms {
		anew, b := shares(m, onePulse)
		lasting = covariance{max(lasting.high, b.high), 0, max(lasting.low, b.low)}
		if lasting.high == b.high {
			lasting.both = b.both
		}
		all[i] = anew.inverse()
		weight = weight.plus(all[i])
		x := all[i].times(times(m))
		sum[0], sum[1] = sum[0]+x[0], sum[1]+x[1]
	}
	cov := weight.inverse()
	mean := cov.times(sum)
	chi2 := 0.0
	for i, m := range ms {
		x := times(m)
		d := [2]float64{x[0] - mean[0], x[1] - mean[1]}
		q := all[i].times(d)
		chi2 += d[0]*q[0] + d[1]*q[1]
	}
	freedom := float64(len(ms) - 1)
	if !onePulse {
		freedom *= 2
	}
	cov = cov.scaled(max(1, chi2/freedom)).plus(lasting)
	out := *ms[0]
	out.High = fit.Estimate{Value: mean[0], Uncertainty: math.Sqrt(cov.high)}
	out.Low = fit.Estimate{Value: mean[1], Uncertainty: math.Sqrt(cov.low)}
	if onePulse {
		out.Low, cov.both = ms[0].Low, 0
	}
	out.Covariance, out.Cycles = cov.both, 0
	out.Freedom = freedoms(ms)
	var sources []string
	for _, m := range ms {
		out.High.Count += m.High.Count
		if !onePulse {
			out.Low.Count += m.Low.Count
		}
		out.Cycles += m.Cycles
		sources = append(sources, m.Source)
	}
	if (distuv.ChiSquared{K: freedom}).Survival(chi2) < disagreement {
		note = fmt.Sprintf("captures of the same board under the same conditions (%s) disagree by %.0f times their uncertainty: it drifts, a contact is bad, or one of them is of another board; the uncertainty is widened to cover them",
			strings.Join(sources, ", "), math.Sqrt(chi2/freedom))
	}
	return &out, note
}

// freedoms are the effective degrees of freedom of a weighted mean (JCGM 100 G.4.1, equation G.2b), each capture with its share
// of the weight.
func freedoms(ms []*fit.Measurement) fit.Freedom {
	of := func(of func(m *fit.Measurement) (u, freedom float64)) float64 {
		total, sum := 0.0, 0.0
		for _, m := range ms {
			u, _ := of(m)
			total += 1 / sq(u)
		}
		for _, m := range ms {
			if u, v := of(m); v > 0 {
				sum += sq(1/sq(u)/total) / v
			}
		}
		if !(sum > 0) || math.IsInf(total, 1) {
			return 0
		}
		return 1 / sum
	}
	return fit.Freedom{
		High:   of(func(m *fit.Measurement) (float64, float64) { return m.High.Uncertainty, m.Freedom.High }),
		Low:    of(func(m *fit.Measurement) (float64, float64) { return m.Low.Uncertainty, m.Freedom.Low }),
		Period: of(func(m *fit.Measurement) (float64, float64) { return m.Period().Uncertainty, m.Freedom.Period }),
		Duty:   of(func(m *fit.Measurement) (float64, float64) { return m.Duty().Uncertainty, m.Freedom.Duty }),
	}
}

func times(m *fit.Measurement) [2]float64 { return [2]float64{m.High.Value, m.Low.Value} }

func sq(x float64) float64 { return x * x }
