package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
)

// PartValue is what is believed of one part.
type PartValue struct {
	Name           string
	Unit           quantity.Unit
	Nominal        float64
	Low, High      float64    // tolerance limits
	Value          float64    // median
	Interval       [2]float64 // 95 %
	OutOfTolerance float64    // probability
	Values         []float64  // samples
	Weights        []float64  // of the samples, summing to one
}

const densityBins = 56

// Parts draws each part's distribution against its tolerance.
func Parts(id string, parts []PartValue) Picture {
	const row, left, right = 104.0, 10.0, 370.0
	c := newCanvas(id, float64(len(parts))*row+2)
	var prose []string
	for i := range parts {
		p := &parts[i]
		top := float64(i) * row
		base := top + 76
		x, linear := p.across(left, right)
		c.text("label strong", start, 0, top+13, p.Name)
		c.text("label", end, Width, top+13, "out of tolerance: "+quantity.Probability(p.OutOfTolerance))
		c.hatch("zone", box{x.clamp(p.Low), top + 24, x.clamp(p.High), base})
		c.area("density", p.density(x, base, 48))
		c.line("centre", x.at(p.Nominal), top+22, x.at(p.Nominal), base)
		c.line("axis", left, base, right, base)
		c.partTicks(p, x, linear, base)
		c.line("measured", x.clamp(p.Interval[0]), base, x.clamp(p.Interval[1]), base)
		c.circle("found", point{x.clamp(p.Value), base}, 4)
		prose = append(prose, fmt.Sprintf("%s: likely %s, 95 %% between %s and %s; tolerance %s to %s; probability of being out of tolerance %s.",
			p.Name, quantity.Format(p.Value, p.Unit), quantity.Format(p.Interval[0], p.Unit), quantity.Format(p.Interval[1], p.Unit),
			quantity.Format(p.Low, p.Unit), quantity.Format(p.High, p.Unit), quantity.Probability(p.OutOfTolerance)))
	}
	caption := "What each part likely is: the taller the curve, the likelier the value. Hatched: the part's tolerance about its nominal (dash-dotted). The dot is the median, the heavy line the 95 % interval. A curve that spills out of the hatching is a part to suspect."
	return c.picture("The parts against their tolerance", caption, strings.Join(prose, " "))
}

// across is the scale of a part's picture: it holds the tolerance and all but a hundredth of the belief, and is
// logarithmic (then its values are natural logarithms) where that spans more than a factor of three.
func (p *PartValue) across(left, right float64) (partScale, bool) {
	lo, hi := p.Low, p.High
	order := make([]int, len(p.Values))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(p.Values[a], p.Values[b]) })
	sum := 0.0
	for _, i := range order {
		sum += p.Weights[i]
		if sum >= 0.005 && sum-p.Weights[i] < 0.005 {
			lo = min(lo, p.Values[i])
		}
		if sum >= 0.995 {
			hi = max(hi, p.Values[i])
			break
		}
	}
	lo, hi = min(lo, p.Interval[0]), max(hi, p.Interval[1])
	if hi > 3*lo && lo > 0 {
		l, h := padded(math.Log(lo), math.Log(hi), 0.06)
		return partScale{scale{l, h, left, right}, true}, false
	}
	l, h := padded(lo, hi, 0.08)
	return partScale{scale{l, h, left, right}, false}, true
}

// partScale is a scale of values or of their logarithms.
type partScale struct {
	scale
	log bool
}

func (s partScale) value(v float64) float64 {
	if s.log {
		return math.Log(v)
	}
	return v
}

func (s partScale) at(v float64) float64    { return s.scale.at(s.value(v)) }
func (s partScale) clamp(v float64) float64 { return s.scale.clamp(s.value(v)) }

// density is the outline of the samples' histogram.
func (p *PartValue) density(x partScale, base, height float64) []point {
	var sum, squares [densityBins]float64
	width := (x.b - x.a) / densityBins
	whole := 0.0
	for i, v := range p.Values {
		whole += p.Weights[i] * p.Weights[i]
		if k := int(math.Floor((x.at(v) - x.a) / width)); k >= 0 && k < densityBins {
			sum[k] += p.Weights[i]
			squares[k] += p.Weights[i] * p.Weights[i]
		}
	}
	side := func(k int) int { // of the tolerance: below, touching it, above
		left := x.a + float64(k)*width
		switch {
		case left+width <= x.at(p.Low):
			return -1
		case left >= x.at(p.High):
			return 1
		}
		return 0
	}
	bins := smoothed(sum, squares, min(int(manySamples*whole), mostReach), side)
	top := slices.Max(bins[:])
	out := []point{{x.a, base}}
	for k, n := range bins {
		y := base
		if top > 0 {
			y = base - n/top*height
		}
		out = append(out, point{x.a + float64(k)*width, y}, point{x.a + float64(k+1)*width, y})
	}
	return append(out, point{x.b, base})
}

// Weighted samples count as (sum of the weights)² over (sum of their squares) equal ones (Kish 1965). Of fewer than
// manySamples a bin would show chance more than belief: it then takes in its neighbours, mostReach on either
// side at most, until it holds enoughSamples; but none across a limit of the tolerance, where belief may well end.
const (
	manySamples   = 500
	mostReach     = 4
	enoughSamples = 25
)

// smoothed averages each bin with its neighbours up to reach, where the samples are few.
func smoothed(sum, squares [densityBins]float64, reach int, side func(int) int) (out [densityBins]float64) {
	for k := range sum {
		s, q, n := sum[k], squares[k], 1
		for r := 1; r <= reach && s*s < enoughSamples*q+math.SmallestNonzeroFloat64; r++ {
			for _, i := range []int{k - r, k + r} {
				if i >= 0 && i < densityBins && side(i) == side(k) {
					s, q, n = s+sum[i], q+squares[i], n+1
				}
			}
		}
		out[k] = s / float64(n)
	}
	return out
}

func (c *canvas) partTicks(p *PartValue, x partScale, linear bool, base float64) {
	var at []float64
	var text []string
	if linear {
		v, d := ticks(x.from, x.to, 5)
		var symbol string
		text, symbol = labels(v, d, p.Unit)
		if len(text) > 0 {
			text[len(text)-1] += " " + symbol
		}
		at = v
	} else {
		for k := -12.0; k <= 9; k++ {
			for _, m := range []float64{1, 2, 5} {
				if v := m * math.Pow(10, k); math.Log(v) >= x.from && math.Log(v) <= x.to && (m == 1 || x.to-x.from < 4) {
					at, text = append(at, v), append(text, quantity.Format(v, p.Unit))
				}
			}
		}
	}
	last := math.Inf(-1)
	for i, v := range at {
		q := x.at(v)
		c.line("axis", q, base, q, base+4)
		if b := textBox(middle, q, base+20, text[i]); b.x0 > last+4 {
			shift := max(b.x1-Width, 0)
			c.text("tick", middle, q-shift, base+20, text[i])
			last = b.x1
		}
	}
}
