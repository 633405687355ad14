package chart

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// ErrFew says that there are too few points for limits.
var ErrFew = errors.New("too few points for a control chart")

// Sigma is a process's standard deviation as a chart sees it: from neighbours, or within subgroups.
type Sigma struct {
	Value   float64
	Freedom float64 // effective degrees of freedom: half the inverse of the relative variance
}

// Chart is one chart: its points in order, centre and limits for each, and what stands out.
type Chart struct {
	Name    string // individuals, moving range, mean, range, standard deviation, EWMA
	Points  []float64
	Centre  float64   // mean of means, or of individuals; for ranges and deviations that of the usual subgroup
	Low     []float64 // one a point: EWMA limits widen at first, subgroups may differ in size
	High    []float64
	Signals []Signal
}

// beyond records rule 1 alone: the pattern rules suppose a symmetric distribution and independent points.
func (c *Chart) beyond() {
	for i, x := range c.Points {
		if x > c.High[i] || x < c.Low[i] {
			c.Signals = append(c.Signals, Signal{Rules[0].Number, Rules[0].Name, i})
		}
	}
}

func flat(v float64, n int) []float64 { return slices.Repeat([]float64{v}, n) }

// Individuals charts single values and their moving ranges of two. The first base values set the limits;
// 0 means all. Sigma is the mean moving range over d2.
func Individuals(x []float64, base int) (individuals, ranges Chart, sigma Sigma, err error) {
	if base <= 0 || base > len(x) {
		base = len(x)
	}
	if base < 2 {
		return individuals, ranges, sigma, ErrFew
	}
	moving := make([]float64, 0, len(x)-1)
	for i := range x[1:] {
		moving = append(moving, math.Abs(x[i+1]-x[i]))
	}
	d2, d3 := Range(2)
	mean := stat.Mean(moving[:base-1], nil)
	step := Step(x)
	sigma = Sigma{max(mean/d2, step/2), movingFreedom(base-1, d2, d3)}
	individuals = Chart{Name: "individuals", Points: slices.Clone(x), Centre: stat.Mean(x[:base], nil)}
	individuals.Low, individuals.High = flat(individuals.Centre-3*sigma.Value, len(x)), flat(individuals.Centre+3*sigma.Value, len(x))
	individuals.Signals = Signals(snapped(x, individuals.Centre, step), flat(individuals.Centre, len(x)), flat(sigma.Value, len(x)))
	ranges = Chart{Name: "moving range", Points: moving, Centre: mean, Low: flat(0, len(moving)), High: flat(mean+3*d3*sigma.Value, len(moving))}
	ranges.beyond()
	return individuals, ranges, sigma, nil
}

// Step is what values are rounded to, where that shows: the smallest difference between them, if a fifth or more of the
// neighbours are equal. A deviation below half a step is then not told from none, and ranges of nought say nothing of the
// process. 0: it does not show.
func Step(x []float64) float64 {
	equal := 0
	for i := 1; i < len(x); i++ {
		if x[i] == x[i-1] {
			equal++
		}
	}
	if 5*equal < len(x)-1 || equal == 0 {
		return 0
	}
	sorted := slices.Compact(slices.Sorted(slices.Values(x)))
	step := math.Inf(1)
	for i := 1; i < len(sorted); i++ {
		if d := sorted[i] - sorted[i-1]; d > 1e-9*math.Abs(sorted[i]) { // less is the noise of arithmetic
			step = min(step, d)
		}
	}
	if math.IsInf(step, 1) {
		return 0
	}
	return step
}

// snapped puts values that rounding may have taken off the centre on it.
func snapped(x []float64, centre, step float64) []float64 {
	if step == 0 {
		return x
	}
	out := slices.Clone(x)
	for i, v := range x {
		if math.Abs(v-centre) <= step/2 {
			out[i] = centre
		}
	}
	return out
}

// movingFreedom counts the overlap of m moving ranges: neighbours share a value, so that they are correlated.
// Two such differences have the correlation -1/2, and for normal variables of unit variance with correlation r
// the mean of |uv| is 2/pi (sqrt(1-r²) + r asin r).
func movingFreedom(m int, d2, d3 float64) float64 {
	product := 2 * 2 / math.Pi * (math.Sqrt(0.75) + 0.5*math.Asin(0.5))
	variance := (float64(m)*d3*d3 + 2*float64(m-1)*(product-d2*d2)) / float64(m*m)
	return d2 * d2 / (2 * variance)
}

// Spread says how the subgroups' spread is measured.
type Spread int

const (
	ByRange     Spread = iota // efficient up to about ten a subgroup
	ByDeviation               // for any size
)

// Subgroups charts the means of subgroups, and their ranges or standard deviations. Subgroups hold two values
// or more and may differ in size; the first base of them set the limits, 0 means all. Sigma is the mean over
// the subgroups of R/d2 or s/c4.
func Subgroups(groups [][]float64, by Spread, base int) (means, spreads Chart, sigma Sigma, err error) {
	if base <= 0 || base > len(groups) {
		base = len(groups)
	}
	if base < 2 || slices.ContainsFunc(groups, func(g []float64) bool { return len(g) < 2 }) {
		return means, spreads, sigma, ErrFew
	}
	unit := make([]moments, len(groups)) // of the spread of a subgroup of that size, sigma being 1
	known := map[int]moments{}
	total, count, variance := 0.0, 0, 0.0
	for i, g := range groups {
		u, ok := known[len(g)]
		if !ok {
			u = unitSpread(by, len(g))
			known[len(g)] = u
		}
		unit[i] = u
		means.Points = append(means.Points, stat.Mean(g, nil))
		spreads.Points = append(spreads.Points, spread(by, g))
		if i < base {
			sigma.Value += spreads.Points[i] / u.mean / float64(base)
			variance += u.sd * u.sd / (u.mean * u.mean) / float64(base*base)
			total += means.Points[i] * float64(len(g))
			count += len(g)
		}
	}
	sigma.Freedom = 1 / (2 * variance)
	means.Name, means.Centre = "mean", total/float64(count)
	spreads.Name, spreads.Centre = "range", sigma.Value*unit[0].mean
	if by == ByDeviation {
		spreads.Name = "standard deviation"
	}
	errors := make([]float64, len(groups))
	for i, g := range groups {
		errors[i] = sigma.Value / math.Sqrt(float64(len(g)))
		means.Low = append(means.Low, means.Centre-3*errors[i])
		means.High = append(means.High, means.Centre+3*errors[i])
		spreads.Low = append(spreads.Low, max(0, sigma.Value*(unit[i].mean-3*unit[i].sd)))
		spreads.High = append(spreads.High, sigma.Value*(unit[i].mean+3*unit[i].sd))
	}
	means.Signals = Signals(means.Points, flat(means.Centre, len(groups)), errors)
	spreads.beyond()
	return means, spreads, sigma, nil
}

type moments struct{ mean, sd float64 }

func unitSpread(by Spread, n int) moments {
	if by == ByRange {
		d2, d3 := Range(n)
		return moments{d2, d3}
	}
	c4 := C4(n)
	return moments{c4, math.Sqrt(1 - c4*c4)}
}

func spread(by Spread, g []float64) float64 {
	if by == ByRange {
		return slices.Max(g) - slices.Min(g)
	}
	return stat.StdDev(g, nil)
}

// EWMAOptions set an EWMA chart. The zero value takes the usual weight and limits.
type EWMAOptions struct {
	Weight float64 // lambda, of the newest value; 0: 0.2 (common practice)
	Width  float64 // limits in standard deviations; 0: 3
	Steady bool    // limits of a long-running chart from the first point on, in place of those that widen
}

// EWMA charts the exponentially weighted moving average of x, started at target, with that sigma of a single
// value. Limits: target ± width sigma sqrt(lambda/(2-lambda) (1-(1-lambda)^2i)) (Roberts 1959; ISO 7870-6).
func EWMA(x []float64, target, sigma float64, opt EWMAOptions) (Chart, error) {
	if len(x) < 2 || !(sigma > 0) {
		return Chart{}, ErrFew
	}
	if opt.Weight <= 0 || opt.Weight > 1 {
		opt.Weight = 0.2
	}
	if opt.Width <= 0 {
		opt.Width = 3
	}
	c := Chart{Name: "EWMA", Centre: target}
	at, rest := target, 1.0
	for _, v := range x {
		at += opt.Weight * (v - at)
		rest *= (1 - opt.Weight) * (1 - opt.Weight)
		share := 1 - rest
		if opt.Steady {
			share = 1
		}
		half := opt.Width * sigma * math.Sqrt(opt.Weight/(2-opt.Weight)*share)
		c.Points = append(c.Points, at)
		c.Low, c.High = append(c.Low, target-half), append(c.High, target+half)
	}
	c.beyond()
	return c, nil
}
