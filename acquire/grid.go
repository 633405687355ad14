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
func resolutionOf(cells [][]byte, l *scan.Layout) resolution {
	var r resolution
	low, high := math.MaxInt, math.MinInt
	sci, single, long := false, l.TimeForm == scan.PlainTime, 0
	for _, c := range cells {
		unit, ok := l.Unit(c)
		if !ok {
			continue
		}
		low, high = min(low, unit), max(high, unit)
		if l.TimeForm != scan.PlainTime {
			continue
		}
		d, _ := scan.ParseDecimal(c, l.Point)
		r.digits = max(r.digits, d.Digits)
		sci = sci || d.Sci
		if d.Digits > 7 {
			f := d.Float(c, l.Point, 0)
			long++
			// The digits past the seventh say nothing but what single precision made of the number.
			single = single && math.Abs(f-float64(float32(f))) <= scan.Pow10(d.Unit)
		}
	}
	if low > high {
		return resolution{}
	}
	r.finest = scan.Pow10(low)
	if !sci && (low == high || l.TimeForm != scan.PlainTime) {
		r.fixed = scan.Pow10(high)
	}
	r.single = single && long >= 8
	return r
}

// grid is what makes times an even grid: each step lies within slack of the mean step.
type grid struct {
	step  float64 // s; 0: no grid
	slack float64 // s, where no digit is rounded away; 0: digits are
	res   resolution
}

// exactAt reports whether times about t show the steps as they are: the interval is a whole number of printed units.
func (g grid) exactAt(t float64) bool { return g.slack > 0 && whole(g.step, g.res.at(t)) }

// whole reports whether a step is a whole number of units, or so many that one more or less does not matter.
func whole(step, unit float64) bool {
	if unit == 0 {
		return true
	}
	n := step / unit
	return math.Abs(n-math.Round(n)) <= exactly*n && n > 0.5
}

// slackAt is how far a step from time a to time b may lie from the mean one.
func (g grid) slackAt(a, b float64) float64 {
	if math.Abs(a) < math.Abs(b) {
		a = b
	}
	if g.exactAt(a) {
		return g.slack
	}
	return g.res.at(a)*1.01 + 0.01*g.step
}

// even counts how many of the times t follow evenly on the time before them; first is the time before t[0].
func (g grid) even(first float64, t []float64) int {
	n := len(t)
	if n == 0 {
		return 0
	}
	last := first
	a := g.slackAt(first, first)
	if g.sameThrough(first, t[n-1]) {
		// The common case, without a look at each time's own rounding.
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

// sameThrough reports whether the rounding is the same for all times from a to b.
func (g grid) sameThrough(a, b float64) bool {
	return g.res.at(a) == g.res.at(b) && ((a < 0) == (b < 0) || g.res.fixed > 0 && !g.res.single)
}

// coarse reports whether the rounding at time t is so wide that single steps say little.
func (g grid) coarse(t float64) bool { return !g.exactAt(t) && g.res.at(t) > g.step/4 }

// evenGrid tells whether times lie on an even grid as closely as their printed digits allow; stated is the
// interval that the file states, or 0.
func evenGrid(t []float64, res resolution, stated float64) (grid, bool) {
	t = t[:rising(t)] // a record that is cut early shows its grid before the cut
	n := len(t)
	if n < 3 {
		return grid{step: stated, slack: stated / 4}, stated > 0
	}
	steps := make([]float64, n-1)
	for i := range steps {
		steps[i] = t[i+1] - t[i]
	}
	median := slices.Sorted(slices.Values(steps))[len(steps)/2]
	unit := res.at(t[n/2])
	if near, mean := meanNear(steps, median, exactly*median); len(steps)-near <= max(2, n/200) && near*2 > len(steps) && !slips(stated, unit) {
		// The steps are alike: the interval is a whole number of printed units, and any other step is a gap.
		return grid{step: mean, slack: 10 * exactly * mean, res: res}, true
	}
	g := grid{res: res}
	if _, g.step = meanNear(steps, median, 1.01*unit+0.01*median); !(g.step > 0) {
		return grid{step: stated, res: res}, stated > 0
	}
	even := 0
	for i, d := range steps {
		if math.Abs(d-g.step) <= g.slackAt(t[i], t[i+1]) {
			even++
		}
	}
	if len(steps)-even > n/20 { // a gap or two do not unmake a grid
		return grid{}, false
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

// survey is what a look over a batch's times has shown.
type survey struct {
	even   bool // on the expected grid from first to last
	rising bool // never falling
	strict bool // always rising
	common int64
}

// surveyor looks over times while they are in the cache: on a worker, so that the caller need not.
type surveyor struct {
	grid   grid
	tick   float64 // s, unit of the greatest common step; 0: not wanted
	states bool    // levels are 0 or 1, and whatever else is none
}

// clean puts NoLevel for each level that is no state.
func (s surveyor) clean(b *batch) {
	if !s.states {
		return
	}
	for _, v := range b.value {
		for i, x := range v[:b.n] {
			if x != 0 && x != 1 && x == x {
				v[i], b.marked = scan.NoLevel, true
			}
		}
	}
}

func (s surveyor) survey(b *batch) survey {
	n := len(b.time)
	if n == 0 {
		return survey{}
	}
	if s.grid.step > 0 && s.grid.evenBatch(b) {
		return survey{even: true, rising: true, strict: true}
	}
	b.fill()
	v := survey{strict: ascends(b.time)}
	v.rising = v.strict || rising(b.time) == n
	if s.tick > 0 {
		v.common = commonStep(b.time, 0, s.tick)
	}
	return v
}

// evenBatch reports whether a batch's times are even throughout. Within a run one step tells for all.
func (g grid) evenBatch(b *batch) bool {
	t, from := b.time, 0
	even := func(to int) bool { return g.even(t[from], t[from+1:to+1]) == to-from }
	if b.rows != nil {
		for _, r := range b.rows.Runs {
			last := r.To - 1
			if !even(r.From) || math.Abs(r.Step()-g.step) > g.slackAt(t[r.From], t[last]) || t[last] < t[r.From] {
				return false
			}
			from = last
		}
	}
	return even(len(t) - 1)
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
