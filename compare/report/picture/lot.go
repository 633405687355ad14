package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"offbeat/acquire/quantity"
)

// Boards are the boards of a lot in order.
type Boards struct {
	Name     string // of the quantity
	Unit     quantity.Unit
	Names    []string
	Values   []float64
	Verdicts []string
	Limits   [2]float64 // of the target; equal: none. An infinite one is none
}

// farOut is by how many interquartile ranges a value lies beyond the quartiles that is shown as an arrow at the rim (Tukey's
// outer fences).
const farOut = 3

// Strip draws the boards in order against the limits, what passes as a dot, what fails as a cross and what is undecided as a
// ring; what lies far from all others is an arrow at the rim. It needs two boards, else it is empty.
func Strip(id string, k Boards) Picture {
	if len(k.Values) < 2 {
		return Picture{}
	}
	const left, right, top, bottom = 58.0, 372.0, 32.0, 190.0
	c := newCanvas(id, 214)
	v := slices.Sorted(slices.Values(k.Values))
	q1, q3 := v[len(v)/4], v[len(v)*3/4]
	fence := farOut * (q3 - q1)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range v {
		if x >= q1-fence && x <= q3+fence {
			lo, hi = min(lo, x), max(hi, x)
		}
	}
	limits := k.Limits[0] != k.Limits[1]
	for _, l := range k.Limits {
		if limits && !math.IsInf(l, 0) {
			lo, hi = min(lo, l), max(hi, l)
		}
	}
	lo, hi = padded(lo, hi, 0.1)
	x, y := scale{0, float64(len(k.Values) - 1), left + 8, right - 8}, scale{lo, hi, bottom, top}
	if limits {
		for i, l := range k.Limits {
			if !math.IsInf(l, 0) {
				c.hatch("none", box{left, min(y.at(l), [2]float64{bottom, top}[i]), right, max(y.at(l), [2]float64{bottom, top}[i])})
				c.line("limit", left, y.at(l), right, y.at(l))
			}
		}
	}
	r := 3.0
	if len(k.Values) > 120 {
		r = 1.6
	}
	const most = 8 // names of boards that fail or lie far out; of more none says anything
	counts := map[string]int{}
	var dots, apart []point
	var names []string
	for i, value := range k.Values {
		q, verdict := point{x.at(float64(i)), y.at(value)}, k.Verdicts[i]
		switch {
		case value < lo || value > hi:
			verdict = "at the rim"
			tip, foot := bottom-1, bottom-9
			if value > hi {
				tip, foot = top+1, top+9
			}
			q.y = foot
			c.area("mark", []point{{q.x, tip}, {q.x - 4, foot}, {q.x + 4, foot}})
		case verdict == "fail":
			c.line("thin", q.x-r, q.y-r, q.x+r, q.y+r)
			c.line("thin", q.x-r, q.y+r, q.x+r, q.y-r)
		case verdict == "undecided":
			c.circle("open", q, r)
		default:
			dots = append(dots, q)
		}
		counts[verdict]++
		if verdict == "fail" || verdict == "at the rim" {
			apart, names = append(apart, q), append(names, k.Names[i])
		}
	}
	c.dots("dots", dots)
	if len(names) > most && counts["at the rim"] <= most { // all fail: those far out alone
		kept := 0
		for i, q := range apart {
			if q.y == bottom-9 || q.y == top+9 {
				apart[kept], names[kept] = q, names[i]
				kept++
			}
		}
		apart, names = apart[:kept], names[:kept]
	}
	for i, q := range apart {
		if len(apart) <= most {
			c.place(q, shortened(names[i], 120), "tick halo")
		}
	}
	c.text("label", start, 0, 13, withUnit(k.Name, c.axisY(y, left, 4, k.Unit)))
	c.line("axis", left, bottom, right, bottom)
	c.text("tick", start, left, bottom+18, shortened(k.Names[0], 150))
	c.text("tick", end, right, bottom+18, shortened(k.Names[len(k.Names)-1], 150))
	caption := "The boards in order: a dot passes, a cross fails, a ring is undecided, an arrow at the rim lies far from the others."
	if limits {
		caption += " Hatched: outside the target."
	}
	prose := fmt.Sprintf("%d boards: %d pass, %d fail, %d undecided, %d far from the others; median %s.", len(v), counts["pass"], counts["fail"], counts["undecided"], counts["at the rim"], quantity.Format(v[len(v)/2], k.Unit))
	return c.picture("The boards in order", caption, prose)
}

// Control is a control chart.
type Control struct {
	Unit      quantity.Unit
	Points    []float64
	Low, High []float64 // limits, one a point
	Centre    float64
	Labels    []string   // of the points
	Signals   []int      // indexes of points at which a rule fired
	Target    [2]float64 // limits of the target, drawn where they lie in the picture; equal: none
}

// ControlChart draws points in order with centre and limits; points at which a rule fired are ringed.
func ControlChart(id, title, caption string, k Control) Picture {
	const left, right, top, bottom = 58.0, 312.0, 32.0, 172.0
	c := newCanvas(id, 196)
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, v := range k.Points {
		lo, hi = min(lo, v, k.Low[i]), max(hi, v, k.High[i])
	}
	lo, hi = padded(lo, hi, 0.05)
	x, y := scale{0, float64(max(len(k.Points)-1, 1)), left + 6, right - 4}, scale{lo, hi, bottom, top}
	for _, l := range k.Target {
		if k.Target[0] != k.Target[1] && l > lo && l < hi {
			c.line("level", left, y.at(l), right, y.at(l))
		}
	}
	c.line("centre", left, y.at(k.Centre), right, y.at(k.Centre))
	var line, low, high, dots []point
	for i, v := range k.Points {
		low, high = append(low, point{x.at(float64(i)), y.at(k.Low[i])}), append(high, point{x.at(float64(i)), y.at(k.High[i])})
		line = append(line, point{x.at(float64(i)), y.at(v)})
	}
	if len(line) <= 200 {
		dots = line
	}
	c.path("limit", thinOut(low))
	c.path("limit", thinOut(high))
	c.path("signal", thinOut(line))
	c.dots("dots", dots)
	c.levels(k, y, right+5)
	far := slices.SortedStableFunc(slices.Values(k.Signals), func(a, b int) int { // the farthest are named
		return -cmp.Compare(math.Abs(k.Points[a]-k.Centre), math.Abs(k.Points[b]-k.Centre))
	})
	for n, i := range far {
		q := point{x.at(float64(i)), y.at(k.Points[i])}
		if n < 60 {
			c.circle("ring", q, 5)
		}
		if n < 3 {
			c.place(q, shortened(k.Labels[i], 110), "tick halo")
		}
	}
	symbol := c.axisY(y, left, 4, k.Unit)
	c.line("axis", left, bottom+4, right, bottom+4)
	c.text("tick", start, left, bottom+20, k.Labels[0])
	c.text("tick", end, right, bottom+20, k.Labels[len(k.Labels)-1])
	c.text("label", start, 0, 13, withUnit(title, symbol))
	prose := fmt.Sprintf("%d points between %s and %s; centre %s; %d signals.", len(k.Points), quantity.Format(slices.Min(k.Points), k.Unit), quantity.Format(slices.Max(k.Points), k.Unit), quantity.Format(k.Centre, k.Unit), len(k.Signals))
	return c.picture(title, caption, prose)
}

// levels writes the last limits and the centre beside their lines, with the digits that tell them apart.
func (c *canvas) levels(k Control, y scale, at float64) {
	n := len(k.Points) - 1
	s := quantity.ScaleOf(k.Unit, (k.High[n]-k.Low[n])/5, k.Low[n], k.Centre, k.High[n])
	for _, v := range []float64{k.High[n], k.Low[n], k.Centre} {
		if text := quantity.Minus(s.Digits(v)); c.free(textBox(start, at, y.at(v)+4.5, text)) {
			c.text("tick", start, at, y.at(v)+4.5, text)
		}
	}
}

// Histogram draws how many values fall into each of some even classes, with the normal curve of their mean and
// deviation and, hatched, what lies outside the limits; an infinite limit is none.
func Histogram(id, title, caption, name string, unit quantity.Unit, values []float64, mean, deviation, low, high float64) Picture {
	const left, right, top, bottom = 40.0, 372.0, 32.0, 172.0
	c := newCanvas(id, 212)
	from, to := slices.Min(values), slices.Max(values)
	for _, l := range []float64{low, high} {
		if !math.IsInf(l, 0) {
			from, to = min(from, l), max(to, l)
		}
	}
	from, to = padded(from, to, 0.06)
	n := classes(values, to-from)
	counts := make([]int, n)
	most := 0
	for _, v := range values {
		k := min(int(float64(n)*(v-from)/(to-from)), n-1)
		counts[k]++
		most = max(most, counts[k])
	}
	class := (to - from) / float64(n)
	peak := float64(len(values)) * class / (deviation * math.Sqrt(2*math.Pi))
	x, y := scale{from, to, left, right}, scale{0, float64(most) * 1.1, bottom, top}
	if !math.IsInf(low, 0) {
		c.hatch("none", box{left, top, x.at(low), bottom})
		c.line("limit", x.at(low), top, x.at(low), bottom)
	}
	if !math.IsInf(high, 0) {
		c.hatch("none", box{x.at(high), top, right, bottom})
		c.line("limit", x.at(high), top, x.at(high), bottom)
	}
	for k, v := range counts {
		if v > 0 {
			c.rect("bar", box{x.at(from+class*float64(k)) + 0.5, y.at(float64(v)), x.at(from+class*float64(k+1)) - 0.5, bottom})
		}
	}
	var curve []point
	for i := range 121 {
		v := from + (to-from)*float64(i)/120
		z := (v - mean) / deviation
		n := peak * math.Exp(-0.5*z*z)
		if n > y.to { // the bars set the scale
			n = math.NaN()
		}
		curve = append(curve, point{x.at(v), y.at(n)})
	}
	c.path("c1", curve)
	c.line("axis", left, bottom, left, top)
	for v := 0.0; v <= y.to; v += max(step(y.to, 4), 1) {
		c.line("axis", left-4, y.at(v), left, y.at(v))
		c.text("tick", end, left-7, y.at(v)+4.5, fmt.Sprint(v))
	}
	c.text("label", start, 0, 13, "boards")
	c.axisX(x, bottom, 5, unit, name)
	prose := fmt.Sprintf("%d values, mean %s, standard deviation %s.", len(values), quantity.Format(mean, unit), quantity.Format(quantity.Rounded(deviation, 2), unit))
	return c.picture(title, caption, prose)
}

// classes is how many classes a range is parted into, by the rule of Freedman and Diaconis (1981), 2 IQR n^(-1/3), which
// a few values far out do not widen; held to what the width shows.
func classes(values []float64, span float64) int {
	v := slices.Sorted(slices.Values(values))
	width := 2 * (v[len(v)*3/4] - v[len(v)/4]) / math.Cbrt(float64(len(v)))
	if !(width > 0) {
		return leastClasses
	}
	return int(min(max(math.Ceil(span/width), leastClasses), mostClasses))
}

const leastClasses, mostClasses = 8, 60

// Operating draws a sampling plan's operating characteristic: the chance that a lot is accepted against the
// fraction nonconforming in it, with the points of 95 % and 10 %.
func Operating(id, title, caption string, fraction, probability []float64, producer, consumer float64) Picture {
	const left, right, top, bottom = 46.0, 372.0, 34.0, 192.0
	c := newCanvas(id, 232)
	x, y := scale{0, fraction[len(fraction)-1], left, right}, scale{0, 1, bottom, top}
	var curve []point
	for i := range fraction {
		curve = append(curve, point{x.at(fraction[i]), y.at(probability[i])})
	}
	for _, p := range [][2]float64{{producer, 0.95}, {consumer, 0.10}} {
		c.line("level", left, y.at(p[1]), x.at(p[0]), y.at(p[1]))
		c.line("level", x.at(p[0]), y.at(p[1]), x.at(p[0]), bottom)
	}
	c.path("signal", curve)
	for _, p := range [][2]float64{{producer, 0.95}, {consumer, 0.10}} {
		c.circle("found", point{x.at(p[0]), y.at(p[1])}, 4)
		c.text("label halo", start, x.at(p[0])+8, y.at(p[1])-6, quantity.Format(quantity.Rounded(p[0], 2), quantity.Number))
	}
	c.text("label", start, 0, 13, withUnit("lots accepted", c.axisY(y, left, 5, quantity.Number)))
	c.axisX(x, bottom, 5, quantity.Number, "nonconforming in the lot")
	prose := fmt.Sprintf("Accepted with 95 %% at %s nonconforming, with 10 %% at %s.", quantity.Format(quantity.Rounded(producer, 2), quantity.Number), quantity.Format(quantity.Rounded(consumer, 2), quantity.Number))
	return c.picture(title, caption, prose)
}
