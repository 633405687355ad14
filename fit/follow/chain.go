package follow

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// span is an unbroken stretch of pulses: their widths in order, less the whole point's medians, and their levels.
type span struct {
	width []float64 // s
	level []int     // 0 low, 1 high
}

// noise is what the widths of a point say of their noise, for each of a row of ratios of two variances: that of a pulse's own
// length, which adds up from pulse to pulse, to that of an edge, which cancels between neighbours and leaves the two ends of a
// span. What several points say is their sum.
type noise struct {
	logs, rest [ratios]float64 // terms of the restricted likelihood: logarithms, and squares left over in s²
	free       float64         // degrees of freedom
	pulses     float64
}

// The ratios that are tried.
const (
	ratios     = 21
	leastRatio = 1e-6
	ratioStep  = 2.5
	stillOdds  = 1.2 // prior odds of no walk: a lone point of eight cycles errs as little to the one side as to the other then
)

// newNoise looks at the spans of a point. The times of the edges are a walk seen with noise, the local level model (Durbin and
// Koopman, Time Series Analysis by State Space Methods, 2012, 2.2), with a mean high time, a mean low time and a linear drift
// that are not known: the Kalman filter gives the likelihood with these taken out (restricted likelihood; ibid. 7.3.6).
func newNoise(spans []span) *noise {
	s := &noise{free: -means}
	for _, p := range spans {
		s.pulses += float64(len(p.width))
	}
	s.free += s.pulses
	if s.pulses < driftPulses {
		s.free++
	}
	ratio := leastRatio
	for k := range ratios {
		var ok bool
		if s.logs[k], s.rest[k], ok = filter(spans, ratio, s.pulses); !ok {
			return nil
		}
		ratio *= ratioStep
	}
	return s
}

// add joins what another point says.
func (s *noise) add(o *noise) {
	for k := range ratios {
		s.logs[k] += o.logs[k]
		s.rest[k] += o.rest[k]
	}
	s.free += o.free
	s.pulses += o.pulses
}

// sum is the variance of the sum of all widths, in s², where they lie in so many unbroken stretches: the average over the ratios
// by their likelihood, and over no walk at all. Those by which the walk would be less than a tenth of what two ends add are as good
// as none.
func (s *noise) sum(stretches int) float64 {
	var likelihood, variance [ratios]float64
	best, walks := math.Inf(-1), 0.0
	ratio := leastRatio
	for k := range ratios {
		likelihood[k] = -0.5 * (s.logs[k] + s.free*math.Log(s.rest[k]))
		variance[k] = s.rest[k] / (s.free - 2) * (2*float64(stretches) + ratio*s.pulses)
		if ratio *= ratioStep; ratio*s.pulses >= 0.2 {
			walks++
		} else if k > 0 {
			likelihood[k] = math.Inf(-1)
		}
		best = max(best, likelihood[k])
	}
	total, sum := 0.0, 0.0
	for k := range ratios {
		w := math.Exp(likelihood[k] - best)
		if k == 0 {
			w *= walks * stillOdds
		}
		total += w
		sum += w * variance[k]
	}
	return sum / total
}

// means are what the widths are known by: mean high time, mean low time, drift; the drift from so many pulses on.
const (
	means       = 3
	driftPulses = 24
)

// filter runs the spans of n pulses through the filter of a ratio.
func filter(spans []span, ratio, n float64) (logs, rest float64, ok bool) {
	var a [means * means]float64 // normal equations for the means
	var b [means]float64
	c, index := 0.0, 0.0
	for _, s := range spans {
		// Levels are seen from the first edge on, whose own noise they share: y that of the edges, x those of the means.
		var y, level float64
		var x, levels [means]float64
		p := 1.0
		for i, w := range s.width {
			y += w
			x[s.level[i]]++
			x[2] += index / n
			index++
			p += ratio
			f := p + 1
			gain := p / f
			p = gain
			v := y - level
			level += gain * v
			var u [means]float64
			for k := range u {
				u[k] = x[k] - levels[k]
				levels[k] += gain * u[k]
			}
			for k := range u {
				for j := range u {
					a[k*means+j] += u[k] * u[j] / f
				}
				b[k] += u[k] * v / f
			}
			c += v * v / f
			logs += math.Log(f)
		}
	}
	if n < driftPulses {
		a[means*means-1] = 1e12 // none: what is left of so few pulses without one would hardly tell a walk from jitter
	}
	var chol mat.Cholesky
	if !chol.Factorize(mat.NewSymDense(means, a[:])) {
		return 0, 0, false
	}
	var beta mat.VecDense
	if chol.SolveVecTo(&beta, mat.NewVecDense(means, b[:])) != nil {
		return 0, 0, false
	}
	rest = c - mat.Dot(&beta, mat.NewVecDense(means, b[:]))
	return logs + chol.LogDet(), rest, rest > 0
}
