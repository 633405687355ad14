package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

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
		c.density(p, x, base, 48)
		c.line("centre", x.at(p.Nominal), top+22, x.at(p.Nominal), base)
		c.line("axis", left, base, right, base)
		c.partTicks(p, x, linear, base)
		c.line("measured", x.clamp(p.Interval[0]), base, x.clamp(p.Interval[1]), base)
		c.circle("found", point{x.clamp(p.Value), base}, 4)
		prose = append(prose, fmt.Sprintf("%s: likely %s, 95 %% between %s and %s; tolerance %s to %s; probability of being out of tolerance %s.",
			p.Name, quantity.Format(p.Value, p.Unit), quantity.Format(p.Interval[0], p.Unit), quantity.Format(p.Interval[1], p.Unit),
			quantity.Format(p.Low, p.Unit), quantity.Format(p.High, p.Unit), quantity.Probability(p.OutOfTolerance)))
	}
	caption := "What each part likely is: the taller the curve, the likelier the value. Hatched: the part's tolerance about its nominal (dash-dotted). The dot is the median, the heavy line the 95 % coverage interval. What lies outside is drawn ten or a hundred times too high where it says × 10 or × 100."
	return c.picture("The parts against their tolerance", caption, strings.Join(prose, " "))
}

// across is the scale of a part's picture: it holds the tolerance and all but a hundredth of the belief, and is
// logarithmic (then its values are natural logarithms) where that spans more than a factor of three.
func (p *PartValue) across(left, right float64) (partScale, bool) {
	values, weights := slices.Clone(p.Values), slices.Clone(p.Weights)
	stat.SortWeighted(values, weights)
	lo := min(p.Low, p.Interval[0], stat.Quantile(0.005, stat.Empirical, values, weights))
	hi := max(p.High, p.Interval[1], stat.Quantile(0.995, stat.Empirical, values, weights))
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

// stretch is a run of equal bins that no limit of the tolerance cuts: below it, within it, above it.
type stretch struct {
	from, to float64 // user units
	heights  []float64
	mass     float64
	times    float64 // by how much it is drawn too high
}

// binWidth is about how wide a bin is drawn, in user units; the tolerance holds leastBins at least, so that a part of 1 %
// beside a wide doubt is still drawn with its own shape.
const (
	binWidth  = 8.0
	leastBins = 8
)

// stretches are the samples' histogram: bins that end on the limits, and what lies outside magnified where it would not show.
func (p *PartValue) stretches(x partScale) []stretch {
	edges := []float64{x.a, x.clamp(p.Low), x.clamp(p.High), x.b}
	reach := min(int(manySamples*floats.Dot(p.Weights, p.Weights)), mostReach)
	var out []stretch
	for i := range 3 {
		v := stretch{from: edges[i], to: edges[i+1], times: 1}
		if v.to <= v.from {
			continue
		}
		n := max(int(math.Round((v.to-v.from)/binWidth)), 1)
		if i == 1 {
			n = max(n, leastBins)
		}
		sum, squares := make([]float64, n), make([]float64, n)
		for k, value := range p.Values {
			at := x.at(value)
			if within := at >= v.from && at < v.to; !within {
				continue
			}
			bin := min(int((at-v.from)/(v.to-v.from)*float64(n)), n-1)
			sum[bin] += p.Weights[k]
			squares[bin] += p.Weights[k] * p.Weights[k]
			v.mass += p.Weights[k]
		}
		v.heights = smoothed(sum, squares, reach)
		for k := range v.heights {
			v.heights[k] *= float64(n) / (v.to - v.from) // mass a unit of width
		}
		out = append(out, v)
	}
	magnify(out, p.OutOfTolerance)
	return out
}

// magnify draws what lies outside ten or a hundred times too high where it would otherwise be a line on the axis.
func magnify(all []stretch, outside float64) {
	top := 0.0
	for _, v := range all {
		top = max(top, slices.Max(v.heights))
	}
	for i := range all {
		v := &all[i]
		if most := slices.Max(v.heights); v.mass > 0 && v.mass < 0.5 && outside < 0.5 && most < top/10 {
			for v.times < 100 && most*v.times*10 <= top {
				v.times *= 10
			}
		}
	}
}

// density draws the histogram, its outline open to the axis, and says beside a magnified stretch how much lies there.
func (c *canvas) density(p *PartValue, x partScale, base, height float64) {
	all := p.stretches(x)
	top := math.SmallestNonzeroFloat64
	for _, v := range all {
		top = max(top, slices.Max(v.heights)*v.times)
	}
	for _, v := range all {
		width := (v.to - v.from) / float64(len(v.heights))
		out := []point{{v.from, base}}
		for k, n := range v.heights {
			y := base - n*v.times/top*height
			out = append(out, point{v.from + float64(k)*width, y}, point{v.from + float64(k+1)*width, y})
		}
		if v.mass > 0 {
			c.area("density", append(out, point{v.to, base}))
		}
		if note := fmt.Sprintf("%s, × %.0f", quantity.Probability(v.mass), v.times); v.times > 1 && v.mass > 0 && v.to-v.from > measure(note) {
			c.text("tick halo", middle, (v.from+v.to)/2, base-height+4, note)
		}
	}
}

// Weighted samples count as (sum of the weights)² over (sum of their squares) equal ones (Kish 1965). Of fewer than
// manySamples a bin would show chance more than belief: it then takes in its neighbours, mostReach on either
// side at most, until it holds enoughSamples; none across a limit of the tolerance, where belief may well end.
const (
	manySamples   = 500
	mostReach     = 5
	enoughSamples = 25
)

// smoothed averages each bin with its neighbours up to reach, where the samples are few.
func smoothed(sum, squares []float64, reach int) []float64 {
	out := make([]float64, len(sum))
	for k := range sum {
		s, q, n := sum[k], squares[k], 1
		for r := 1; r <= reach && s*s < enoughSamples*q+math.SmallestNonzeroFloat64; r++ {
			for _, i := range []int{k - r, k + r} {
				if i >= 0 && i < len(sum) {
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
