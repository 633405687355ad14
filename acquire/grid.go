package acquire

import (
	"math"
	"slices"

	"offbeat/acquire/internal/scan"
)

// resolution is how finely a column prints its times. The zero value knows nothing and claims no rounding.
type resolution struct {
	fixed  float64 // s, unit of the last decimal, where all cells have as many; 0: they don't
	digits int     // significant digits, where the exponent or the number of decimals varies
	finest float64 // s, the finest unit seen
	single bool    // the times were kept in single precision and printed with more digits than that has
}

// singleRounding is the rounding of single precision below 1, half a unit of 24 bits each way.
const singleRounding = 1.0 / (1 << 24)

// at is the full width of the rounding at time t.
func (r resolution) at(t float64) float64 {
	t = math.Abs(t)
	unit := r.fixed
	if unit == 0 && r.digits > 0 {
		unit = r.finest
		if t > 0 {
			unit = max(unit, math.Pow(10, math.Floor(math.Log10(t))+1-float64(r.digits)))
		}
	}
	if r.single {
		_, e := math.Frexp(t)
		unit = max(unit, math.Ldexp(singleRounding, e))
	}
	return unit
}

// resolutionOf looks at the cells of a time column.
func resolutionOf(cells [][]byte, point byte, shift int) resolution {
	var r resolution
	low, high := math.MaxInt, math.MinInt
	sci, single, long := false, true, 0
	for _, c := range cells {
		d, ok := scan.ParseDecimal(c, point)
		if !ok {
			continue
		}
		low, high = min(low, d.Unit), max(high, d.Unit)
		r.digits = max(r.digits, d.Digits)
		sci = sci || d.Sci
		if d.Digits > 7 {
			f := d.Float(c, point, 0)
			long++
			// The digits past the seventh say nothing but what single precision made of the number.
			single = single && math.Abs(f-float64(float32(f))) <= scan.Pow10(d.Unit)
		}
	}
	if low > high {
		return resolution{}
	}
	r.finest = scan.Pow10(low + shift)
	if !sci && low == high {
		r.fixed = r.finest
	}
	r.single = single && long >= 8
	return r
}

// grid is what makes times an even grid: each step lies within slack of the mean step.
type grid struct {
	step  float64 // s; 0: no grid
	slack float64 // s, where no rounding is at work; 0: the rounding tells
	res   resolution
}

// slackAt is how far a step from time a to time b may lie from the mean one.
func (g grid) slackAt(a, b float64) float64 {
	if g.slack > 0 {
		return g.slack
	}
	return max(g.res.at(a), g.res.at(b))*1.01 + 0.01*g.step
}

// even counts how many of the times t follow evenly on the time before them; first is the time before t[0].
func (g grid) even(first float64, t []float64) int {
	n := len(t)
	if n == 0 {
		return 0
	}
	last := first
	a, b := g.slackAt(first, first), g.slackAt(t[n-1], t[n-1])
	if a == b && (first < 0) == (t[n-1] < 0) { // the rounding is the same throughout
		low, high := g.step-a, g.step+a
		for i, x := range t {
			if d := x - last; !(d >= low && d <= high && d >= 0) {
				return i
			}
			last = x
		}
		return n
	}
	for i, x := range t {
		if d := x - last; !(math.Abs(d-g.step) <= g.slackAt(last, x) && d >= 0) {
			return i
		}
		last = x
	}
	return n
}

// coarse reports whether the rounding at time t is so wide that single steps say little.
func (g grid) coarse(t float64) bool { return g.slack == 0 && g.res.at(t) > g.step/4 }

// evenGrid tells whether times lie on an even grid as closely as their printed digits allow; stated is the
// interval that the file states, or 0.
func evenGrid(t []float64, res resolution, stated float64) (grid, bool) {
	for i := 1; i < len(t); i++ { // a record that is cut early shows its grid before the cut
		if t[i] < t[i-1] {
			t = t[:i]
			break
		}
	}
	n := len(t)
	if n < 3 {
		return grid{step: stated, slack: stated / 4}, stated > 0
	}
	g := grid{step: typicalStep(t, res), res: res}
	if !(g.step > 0) {
		return grid{step: stated, res: res}, stated > 0
	}
	worst, even := 0.0, 0
	for i := 1; i < n; i++ {
		if d := math.Abs(t[i] - t[i-1] - g.step); d <= g.slackAt(t[i-1], t[i]) {
			worst = max(worst, d)
			even++
		}
	}
	if even < n-1-n/20 { // a gap or two do not unmake a grid
		return grid{}, false
	}
	if worst < 0.05*g.step && !slips(stated, res.at(t[n-1])) {
		// The steps are exact: the interval is a whole number of printed units, and any other step is a gap.
		g.slack = max(4*worst, 0.02*g.step)
	}
	return g, true
}

// slips reports whether a stated interval is no whole number of printed units, so that now and then a step is
// printed one unit longer.
func slips(stated, unit float64) bool {
	if stated <= 0 || unit <= 0 {
		return false
	}
	n := stated / unit
	return math.Abs(n-math.Round(n)) > 1e-6*max(n, 1)
}

// typicalStep is the mean step where that is typical, and else the median of steps, which is deaf to gaps.
func typicalStep(t []float64, res resolution) float64 {
	n := len(t)
	mean := (t[n-1] - t[0]) / float64(n-1)
	d := make([]float64, n-1)
	for i := range d {
		d[i] = t[i+1] - t[i]
	}
	slices.Sort(d)
	median := d[len(d)/2]
	if math.Abs(median-mean) <= 0.01*mean || res.at(t[0]) > median/4 {
		return mean
	}
	return median
}

// survey is what a look over a batch's times has shown.
type survey struct {
	even   bool // on the expected grid from first to last
	rising bool // never falling
	common int64
}

// surveyor looks over times while they are in the cache: on a worker, so that the caller need not.
type surveyor struct {
	grid grid
	tick float64 // s, unit of the greatest common step; 0: not wanted
}

func (s surveyor) survey(t []float64) survey {
	n := len(t)
	if n == 0 {
		return survey{}
	}
	if s.grid.step > 0 && s.grid.even(t[0], t[1:]) == n-1 {
		return survey{even: true, rising: true}
	}
	v := survey{rising: true}
	for i := 1; i < n; i++ {
		if t[i] < t[i-1] {
			v.rising = false
		}
	}
	if s.tick > 0 {
		v.common = commonStep(t, 0, s.tick)
	}
	return v
}

// commonStep carries the greatest common divisor of the steps of t on from common, in ticks.
func commonStep(t []float64, common int64, tick float64) int64 {
	scale := 1 / tick
	for i := 1; i < len(t) && common != 1; i++ {
		d := int64(math.Round((t[i] - t[i-1]) * scale))
		if common == 0 || d%common != 0 {
			common = gcd(common, d)
		}
	}
	return common
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, -a)
}

// tickOf is the unit in which times up to t can be counted without the rounding of a float64 getting in.
func tickOf(res resolution, t float64) float64 {
	tick := res.finest
	if tick == 0 {
		return 0
	}
	for tick < math.Abs(t)*0x1p-50 {
		tick *= 10
	}
	return tick
}
