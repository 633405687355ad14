// Package grid tells whether times lie on an even grid, as closely as their printed digits allow.
package grid

import (
	"math"
	"slices"

	"offbeat/acquire/internal/scan"
)

// Resolution is how finely a column prints its times. The zero value knows nothing and claims no rounding.
type Resolution struct {
	Fixed  float64 // s, unit of the last decimal, where all cells have as many; 0: they don't
	Digits int     // significant digits, where the exponent or the number of decimals varies
	Finest float64 // s, the finest unit seen
	Open   bool    // zeros at the end are left out, and no cell seen shows how many digits there are at most: Fixed holds until one does
	Single bool    // the times were kept in single precision and printed with more digits than that has
}

// singleRounding is the rounding of single precision below 1, half a unit of 24 bits each way.
const singleRounding = 1.0 / (1 << 24)

// At is the full width of the rounding at time t.
func (r Resolution) At(t float64) float64 {
	t = math.Abs(t)
	unit := r.Fixed
	if unit == 0 && r.Digits > 0 {
		unit = r.Finest
		if t > 0 {
			unit = max(unit, math.Pow(10, math.Floor(math.Log10(t))+1-float64(r.Digits)))
		}
	}
	if r.Single {
		_, e := math.Frexp(t)
		unit = max(unit, math.Ldexp(singleRounding, e))
	}
	return unit
}

// ResolutionOf looks at the cells of a time column.
func ResolutionOf(cells [][]byte, l *scan.Layout) Resolution {
	var r Resolution
	low, high := math.Inf(1), 0.0
	fewest, whole := math.MaxInt, 0.0 // digits; the coarsest unit of a cell with the most of them
	open := len(cells) >= 20
	finest := map[float64]float64{} // by unit, of cells that each have one: zeros at the end may be left out
	sci, single, long := false, l.TimeForm == scan.PlainTime, 0
	for _, c := range cells {
		if l.TimeForm != scan.PlainTime {
			if unit, of, ok := l.Digit(c); ok {
				if f, seen := finest[of]; !seen || unit < f {
					finest[of] = unit
				}
				low = min(low, unit)
			}
			continue
		}
		d, ok := scan.ParseDecimal(c, l.Point)
		if !ok {
			continue
		}
		unit := l.LastDigit(d)
		low, high = min(low, unit), max(high, unit)
		if d.Digits > r.Digits {
			whole = unit
		} else if d.Digits == r.Digits {
			whole = max(whole, unit)
		}
		r.Digits, fewest = max(r.Digits, d.Digits), min(fewest, d.Digits)
		open = open && (d.Unit >= 0 || d.Significant() == d.Digits)
		sci = sci || d.Sci
		if d.Digits > 7 {
			f := d.Float(c, l.Point, 0)
			long++
			// The digits past the seventh say nothing but what single precision made of the number.
			single = single && math.Abs(f-float64(float32(f))) <= scan.Pow10(d.Unit)
		}
	}
	for _, unit := range finest {
		high = max(high, unit)
	}
	if low > high {
		return Resolution{}
	}
	r.Finest = low
	if !sci && (low == high || l.TimeForm != scan.PlainTime) {
		r.Fixed = high
	}
	r.Single = single && long >= 8
	if r.Open = open && r.Fixed == 0 && !r.Single && l.TimeForm == scan.PlainTime && fewest < r.Digits && whole == low; r.Open {
		r.Fixed = r.Finest
	}
	return r
}

// Grid is what makes times an even grid: each step lies within slack of the mean step.
type Grid struct {
	Step  float64 // s; 0: no grid
	Slack float64 // s, where no digit is rounded away; 0: digits are
	Res   Resolution
}

// ExactAt reports whether times about t show the steps as they are: the interval is a whole number of printed units.
func (g Grid) ExactAt(t float64) bool { return g.Slack > 0 && whole(g.Step, g.Res.At(t)) }

// whole reports whether a step is a whole number of units, or so many that one more or less does not matter.
func whole(step, unit float64) bool {
	if unit == 0 {
		return true
	}
	n := step / unit
	return math.Abs(n-math.Round(n)) <= exactly*n && n > 0.5
}

// SlackAt is how far a step from time a to time b may lie from the mean one.
func (g Grid) SlackAt(a, b float64) float64 {
	if math.Abs(a) < math.Abs(b) {
		a = b
	}
	if g.ExactAt(a) {
		return g.Slack
	}
	return g.Res.At(a)*1.01 + 0.01*g.Step
}

// Closed is a grid for times from the first of t on, where these show that there are fewer digits than an open resolution
// holds for; ok is false if there is none on which all of them lie.
func (g Grid) Closed(t []float64) (closed Grid, ok bool) {
	if !g.Res.Open || !(math.Abs(t[0]) > 0) {
		return g, false
	}
	closed = g
	closed.Res.Open, closed.Res.Fixed, closed.Slack = false, 0, 0
	at := int(math.Floor(math.Log10(math.Abs(t[0])))) + 1
	for n := at - int(math.Round(math.Log10(g.Res.Finest))); n >= g.Res.Digits; n-- {
		if closed.Res.Digits = n; closed.Even(t[0], t[1:]) == len(t)-1 {
			return closed, true
		}
	}
	return g, false
}

// Even counts how many of the times t follow evenly on the time before them; first is the time before t[0].
func (g Grid) Even(first float64, t []float64) int {
	n := len(t)
	if n == 0 {
		return 0
	}
	last := first
	a := g.SlackAt(first, first)
	if g.sameThrough(first, t[n-1]) {
		// The common case, without a look at each time's own rounding.
		low, high := g.Step-a, g.Step+a
		for i, x := range t {
			if d := x - last; !(d >= low && d <= high && d >= 0) {
				return i
			}
			last = x
		}
		return n
	}
	for i, x := range t {
		if d := x - last; !(math.Abs(d-g.Step) <= g.SlackAt(last, x) && d >= 0) {
			return i
		}
		last = x
	}
	return n
}

// sameThrough reports whether the rounding is the same for all times from a to b.
func (g Grid) sameThrough(a, b float64) bool {
	return g.Res.At(a) == g.Res.At(b) && ((a < 0) == (b < 0) || g.Res.Fixed > 0 && !g.Res.Single)
}

// Coarse reports whether the rounding at time t is so wide that single steps say little.
func (g Grid) Coarse(t float64) bool { return !g.ExactAt(t) && g.Res.At(t) > g.Step/4 }

// Find tells whether times lie on an even grid as closely as their printed digits allow; stated is the
// interval that the file states, or 0.
func Find(t []float64, res Resolution, stated float64) (Grid, bool) {
	t = t[:Rising(t)] // a record that is cut early shows its grid before the cut
	n := len(t)
	if n < 3 {
		return Grid{Step: stated, Slack: stated / 4}, stated > 0
	}
	steps := make([]float64, n-1)
	for i := range steps {
		steps[i] = t[i+1] - t[i]
	}
	median := slices.Sorted(slices.Values(steps))[len(steps)/2]
	unit := res.At(t[n/2])
	if near, mean := meanNear(steps, median, exactly*median); len(steps)-near <= max(2, n/200) && near*2 > len(steps) && !slips(stated, unit) {
		// The steps are alike: the interval is a whole number of printed units, and any other step is a gap.
		return Grid{Step: mean, Slack: 10 * exactly * mean, Res: res}, true
	}
	g := Grid{Res: res}
	if _, g.Step = meanNear(steps, median, 1.01*unit+0.01*median); !(g.Step > 0) {
		return Grid{Step: stated, Res: res}, stated > 0
	}
	even := 0
	for i, d := range steps {
		if math.Abs(d-g.Step) <= g.SlackAt(t[i], t[i+1]) {
			even++
		}
	}
	if len(steps)-even > n/20 { // a gap or two do not unmake a grid
		return Grid{}, false
	}
	return g, true
}

// exactly is how closely steps are alike where no printed digit is rounded, relative: far above what a float64
// makes of a time, far below a step that is off by a printed unit of any use.
const exactly = 2e-3

// meanNear averages the steps that lie within slack of the middle, and counts them.
func meanNear(steps []float64, middle, slack float64) (n int, mean float64) {
	sum := 0.0
	for _, d := range steps {
		if math.Abs(d-middle) <= slack {
			sum += d
			n++
		}
	}
	return n, sum / float64(max(n, 1))
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

// CommonStep carries the greatest common divisor of the steps of t on from common, in ticks.
func CommonStep(t []float64, common int64, tick float64) int64 {
	scale := 1 / tick
	for i := 1; i < len(t) && common != 1; i++ {
		d := int64(math.Round((t[i] - t[i-1]) * scale))
		if common == 0 || d%common != 0 {
			common = GCD(common, d)
		}
	}
	return common
}

const (
	// Kinds is how many different differences of times tell their common step.
	Kinds = 6
	// byChance: of fewer, so few as n have a step of s in common by chance in one case of s^n: a train without jitter has but two.
	byChance = 500
)

// Shown is the common step that different differences, so many or Kinds, show; 1 where they may have it by chance.
func Shown(step int64, kinds int) int64 {
	if step > 1 && kinds < Kinds && math.Pow(float64(step), float64(kinds)) < byChance {
		return 1
	}
	return step
}

// Differences gathers up to Kinds different steps of t, in ticks.
func Differences(kinds []int64, t []float64, tick float64) []int64 {
	scale := 1 / tick
	for i := 1; i < len(t) && len(kinds) < Kinds; i++ {
		if d := int64(math.Round((t[i] - t[i-1]) * scale)); d != 0 && !slices.Contains(kinds, d) {
			kinds = append(kinds, d)
		}
	}
	return kinds
}

func GCD(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, -a)
}

// TickOf is the unit in which times up to t can be counted without the rounding of a float64 getting in.
func TickOf(res Resolution, t float64) float64 {
	tick := res.Finest
	if tick == 0 {
		return 0
	}
	for tick < math.Abs(t)*0x1p-50 {
		tick *= 10
	}
	return tick
}

// Rising counts the times before the first fall.
func Rising(t []float64) int {
	for i := 1; i < len(t); i++ {
		if t[i] < t[i-1] {
			return i
		}
	}
	return len(t)
}

// Ascends reports whether each time lies behind the one before it.
func Ascends(t []float64) bool {
	for i := 1; i < len(t); i++ {
		if !(t[i] > t[i-1]) {
			return false
		}
	}
	return true
}
