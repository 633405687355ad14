package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare/plane"
)

// sheet is the plane while it is drawn.
type sheet struct{ *plane.Plane }

// ring is the factor from standard deviations to the ellipse that holds 95 % of a normal in two dimensions,
// the root of the chi-square quantile 5.991.
const ring = 2.4477

// lineStyles is how many classes c0, c1 … style.css has.
const lineStyles = 6

// Plane puts a plane of times on paper.
func Plane(id string, of *plane.Plane) Picture {
	p := sheet{of}
	if p.OnePulse || p.Along != nil {
		return p.strip(id)
	}
	const left, top, side = 58.0, 24.0, 310.0
	key := keyPlaces(p.Curves, top+side+46)
	c := newCanvas(id, key[len(p.Curves)].y)
	lo, hi := p.view()
	x := scale{lo[0], hi[0], left, left + side}
	y := scale{lo[1], hi[1], top + side, top}
	at := func(q [2]float64) point { return point{x.at(q[0]), y.at(q[1])} }
	places := func(q [][2]float64) []point {
		out := make([]point, len(q))
		for i := range q {
			out[i] = at(q[i])
		}
		return out
	}
	frame := box{left, top, left + side, top + side}
	fmt.Fprintf(&c.b, `<clipPath id="%s-frame"><rect x="%s" y="%s" width="%s" height="%s"/></clipPath><g clip-path="url(#%s-frame)">`, id, number(left), number(top), number(side), number(side), id)
	c.hatchArea("zone", places(p.Region))
	c.line("faint", x.at(lo[0]), y.at(0), x.at(hi[0]), y.at(0))
	c.line("faint", x.at(0), y.at(lo[1]), x.at(0), y.at(hi[1]))
	for _, k := range p.Curves {
		if !k.Dots {
			c.path(curveClass(k), places(k.Points))
		}
	}
	for _, k := range p.Curves {
		if k.Dots {
			for _, q := range places(k.Points) {
				c.diamond(q.x, q.y)
			}
		}
	}
	m := at(p.Measured)
	name := "measured"
	if p.Cloud == nil {
		c.area("ring", p.ellipse(x, y))
	} else {
		name = "centre"
		c.dots("dots", thinPoints(places(p.Cloud)))
	}
	c.b.WriteString("</g>")
	c.ratioAxes(x, y, frame)
	c.line("measured", m.x-7, m.y, m.x+7, m.y)
	c.line("measured", m.x, m.y-7, m.x, m.y+7)
	c.texts = append(c.texts, box{m.x - 9, m.y - 9, m.x + 9, m.y + 9})
	c.place(m, name, "label accent strong halo")
	if p.Before != nil {
		b := at(*p.Before)
		c.line("measured", b.x-4, b.y-4, b.x+4, b.y+4)
		c.line("measured", b.x-4, b.y+4, b.x+4, b.y-4)
		c.texts = append(c.texts, box{b.x - 6, b.y - 6, b.x + 6, b.y + 6})
		c.place(b, "before", "label accent halo")
	}
	for _, b := range p.Named {
		q := at(b.At)
		if frame.holds(q) {
			c.circle("ring", q, 6)
		} else {
			q = c.arrow(q, frame)
		}
		c.place(q, shortened(b.Name, 120), "tick halo")
	}
	var outside []string
	for i, k := range p.Curves {
		if seen := within(frame, places(k.Points)); len(seen) == 0 {
			outside = append(outside, k.Name)
		} else if k.Number > 0 {
			c.badge(k.Number, seen, frame, m)
		}
		c.key(k, key[i])
	}
	if p.Cloud != nil {
		caption := "A dot a board: where its two times lie against their prediction. Hatched: reached by parts in tolerance. Each numbered line is one cause as it grows, a diamond another preferred value. A cloud along one line is a part that scatters; a cloud off the middle is a batch that is off; a ringed dot, or an arrow to one outside, is a board with a fault of its own." + beyond(outside)
		return c.picture("The lot's times against their causes", caption, p.lotProse())
	}
	caption := "Where the two times lie against their prediction. Hatched: reached by parts in tolerance. Each numbered line is one cause as it grows, a diamond another preferred value. The dotted ring about the measured cross is what the timer's own spread and the measurement leave open (95 %)." + p.since() + beyond(outside) + p.odds()
	return c.picture("The times against their causes", caption, p.prose())
}

// arrow points from a frame's rim to a place outside, and gives where it stands.
func (c *canvas) arrow(to point, frame box) point {
	middle := point{(frame.x0 + frame.x1) / 2, (frame.y0 + frame.y1) / 2}
	dx, dy := to.x-middle.x, to.y-middle.y
	r := min((frame.x1-frame.x0)/2/max(math.Abs(dx), 1e-9), (frame.y1-frame.y0)/2/max(math.Abs(dy), 1e-9))
	tip, d := point{middle.x + r*dx, middle.y + r*dy}, math.Hypot(dx, dy)
	dx, dy = dx/d, dy/d
	foot := point{tip.x - 11*dx, tip.y - 11*dy}
	c.area("found", []point{tip, {foot.x - 4.5*dy, foot.y + 4.5*dx}, {foot.x + 4.5*dy, foot.y - 4.5*dx}})
	return foot
}

// since says what the earlier times are there for.
func (p sheet) since() string {
	if p.Before == nil {
		return ""
	}
	return " The slanted cross is where the times lay before: what has moved leads from there to the measured cross."
}

// beyond names the causes that have no place in the picture.
func beyond(names []string) string {
	if len(names) == 0 {
		return ""
	}
	return " Outside the picture: " + strings.Join(names, ", ") + "."
}

// odds reminds that distance in the picture is not all.
func (p sheet) odds() string {
	if p.Likely == "" {
		return ""
	}
	return " The nearest curve is not always the likeliest cause, since the odds count too; likeliest here: " + p.Likely + "."
}

func (p sheet) prose() string {
	var names []string
	for _, k := range p.Curves {
		names = append(names, fmt.Sprintf("%s, probability %s", k.Name, quantity.Probability(k.Probability)))
	}
	before := ""
	if p.Before != nil {
		before = fmt.Sprintf(" Before, they lay %s and %s from nominal.", ratioProse(p.Before[0]), ratioProse(p.Before[1]))
	}
	return fmt.Sprintf("The measured high time lies %s and the low time %s from nominal; the point is %s the region that parts in tolerance reach.%s Causes drawn: %s.",
		ratioProse(p.Measured[0]), ratioProse(p.Measured[1]), map[bool]string{true: "inside", false: "outside"}[inside(p.Region, p.Measured)], before, strings.Join(names, "; "))
}

// lotProse says where a lot's boards lie.
func (p sheet) lotProse() string {
	in := 0
	for _, q := range p.Cloud {
		if inside(p.Region, q) {
			in++
		}
	}
	s := fmt.Sprintf("%d of %d boards lie inside the region that parts in tolerance reach; the centre of those that do not stand out lies %s in high time and %s in low time from nominal.", in, len(p.Cloud), ratioProse(p.Measured[0]), ratioProse(p.Measured[1]))
	for _, b := range p.Named {
		s += fmt.Sprintf(" %s stands out at %s and %s.", b.Name, ratioProse(b.At[0]), ratioProse(b.At[1]))
	}
	return s
}

func ratioProse(ln float64) string {
	r := math.Exp(ln) - 1
	if math.Abs(r) < 5e-5 {
		return "0 %"
	}
	return signed(quantity.Format(math.Round(r*1e4)/1e4, quantity.Number), r)
}

func curveClass(k plane.Curve) string {
	class := numberClass(k.Number)
	if k.Probability < 0.01 {
		class += " unlikely"
	}
	return class
}

// view is a square window in logarithms that holds the region, the measured point and its ring; of a lot the boards that do not
// stand out.
func (p sheet) view() (lo, hi [2]float64) {
	lo, hi = [2]float64{p.Measured[0], p.Measured[1]}, [2]float64{p.Measured[0], p.Measured[1]}
	all := slices.Concat([][2]float64{{0, 0}}, p.Region)
	for _, q := range p.Cloud {
		if !p.named(q) {
			all = append(all, q)
		}
	}
	if p.Before != nil {
		all = append(all, *p.Before)
	}
	for _, q := range all {
		for i := range q {
			lo[i], hi[i] = min(lo[i], q[i]), max(hi[i], q[i])
		}
	}
	for i := range lo {
		d := ring * math.Sqrt(p.Spread[i][i])
		lo[i], hi[i] = min(lo[i], p.Measured[i]-d), max(hi[i], p.Measured[i]+d)
	}
	half := 0.5 * max(hi[0]-lo[0], hi[1]-lo[1], 1e-6) * 1.35
	for i := range lo {
		centre := (lo[i] + hi[i]) / 2
		lo[i], hi[i] = centre-half, centre+half
	}
	return lo, hi
}

// named says whether a board of a lot stands out.
func (p sheet) named(q [2]float64) bool {
	return slices.ContainsFunc(p.Named, func(b plane.Named) bool { return b.At == q })
}

// ellipse is the ring about the measured point.
func (p sheet) ellipse(x, y scale) []point {
	// Cholesky: a circle through the root of the covariance.
	a := math.Sqrt(p.Spread[0][0])
	b, d := 0.0, 0.0
	if a > 0 {
		b = p.Spread[0][1] / a
	}
	d = math.Sqrt(max(p.Spread[1][1]-b*b, 0))
	out := make([]point, 72)
	for i := range out {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(len(out)))
		out[i] = point{x.at(p.Measured[0] + ring*a*c), y.at(p.Measured[1] + ring*(b*c+d*s))}
	}
	return out
}

// ratioTicks are round ratios in a range of logarithms: per cent while the range is small, else factors.
func ratioTicks(lo, hi float64) (at []float64, text []string) {
	if hi-lo < 1.2 {
		v, d := ticks(math.Exp(lo)-1, math.Exp(hi)-1, 7)
		s := quantity.ScaleOf(quantity.Number, 10*d, v...)
		for _, r := range v {
			if r > -0.999 {
				at, text = append(at, math.Log1p(r)), append(text, signed(digits(s, r), r)+" %")
			}
		}
		return at, text
	}
	for k := -6.0; k <= 6; k++ {
		for _, m := range []float64{1, 2, 5} {
			if hi-lo > 6 && m != 1 {
				continue
			}
			if l := math.Log(m) + k*math.Ln10; l >= lo && l <= hi {
				at, text = append(at, l), append(text, "×"+quantity.Exact(math.Round(m*math.Pow(10, k)*1e6)/1e6))
			}
		}
	}
	return at, text
}

// ratioAxes draws both axes of a plane of logarithms round a frame.
func (c *canvas) ratioAxes(x, y scale, f box) {
	at, text := ratioTicks(x.from, x.to)
	last := math.Inf(-1)
	c.level(x, f.y1, at, text, func(b box) bool {
		if b.x0 <= last+4 || b.x1 >= Width {
			return false
		}
		last = b.x1
		return true
	})
	c.line("axis", f.x0, f.y0, f.x0, f.y1)
	at, text = ratioTicks(y.from, y.to)
	for i := range at {
		p := y.at(at[i])
		c.line("axis", f.x0-4, p, f.x0, p)
		c.text("tick", end, f.x0-6, p+4.5, text[i])
	}
	c.text("label", end, f.x1, f.y1+34, "high time, against nominal")
	c.text("label", start, 0, f.y0-9, "low time, against nominal")
}

// place writes a label beside a point, on the first side that is free.
func (c *canvas) place(p point, s, class string) {
	w := measure(s)
	for _, q := range []point{{p.x + 12, p.y - 8}, {p.x - 12 - w, p.y - 8}, {p.x + 12, p.y + 17}, {p.x - 12 - w, p.y + 17}, {p.x - w/2, p.y - 14}, {p.x - w/2, p.y + 22}} {
		if c.free(textBox(start, q.x, q.y, s)) {
			c.text(class, start, q.x, q.y, s)
			return
		}
	}
}

// within are the points that a frame holds.
func within(frame box, p []point) []point {
	return slices.DeleteFunc(slices.Clone(p), func(q point) bool { return !frame.holds(q) })
}

// badge puts a curve's number on it, as far from the measured point's crowd as it finds room in the frame.
func (c *canvas) badge(n int, p []point, frame box, measured point) {
	const r = discRadius
	best, room := point{}, -1.0
	for _, q := range p {
		q = point{min(max(q.x, frame.x0+r), frame.x1-r), min(max(q.y, frame.y0+r), frame.y1-r)}
		b := box{q.x - r, q.y - r, q.x + r, q.y + r}
		if !c.free(b) {
			continue
		}
		// The end on the measured point's side says most; of that side the outermost place is the clearest.
		d := math.Hypot(q.x-(frame.x0+frame.x1)/2, q.y-(frame.y0+frame.y1)/2) - 0.3*math.Hypot(q.x-measured.x, q.y-measured.y)
		if room < 0 || d > room {
			best, room = q, max(d, 0)
		}
	}
	if room < 0 {
		return
	}
	c.disc(n, best.x, best.y)
	c.texts = append(c.texts, box{best.x - r, best.y - r, best.x + r, best.y + r})
}

// keyPlaces is where each curve's entry in the key begins, and where the key ends: a likely one takes a line with its
// probability, of the others two share one.
func keyPlaces(curves []plane.Curve, top float64) []point {
	const line = 20.0
	var out []point
	at := point{0, top}
	for _, k := range curves {
		if likely := k.Probability >= 0.01; likely && at.x > 0 {
			at = point{0, at.y + line}
		}
		out = append(out, at)
		if at.x > 0 || k.Probability >= 0.01 {
			at = point{0, at.y + line}
		} else {
			at.x = Width / 2
		}
	}
	if at.x > 0 {
		at = point{0, at.y + line}
	}
	return append(out, at)
}

// key writes a curve's entry: its number, its line and its name.
func (c *canvas) key(k plane.Curve, at point) {
	x, y := at.x, at.y+14
	if k.Number > 0 {
		c.disc(k.Number, x+9, y-4.5)
	}
	if k.Dots {
		c.diamond(x+35, y-5)
	} else {
		c.line(curveClass(k), x+21, y-5, x+49, y-5)
	}
	if k.Probability >= 0.01 {
		c.text("label", start, x+54, y, shortened(k.Name, Width-54-50))
		c.text("tick", end, Width, y, quantity.Probability(k.Probability))
		return
	}
	c.text("label", start, x+54, y, shortened(k.Name, Width/2-54))
}

// inside says whether a point lies in a convex polygon whose corners run in order.
func inside(polygon [][2]float64, q [2]float64) bool {
	sign := 0.0
	for i := range polygon {
		a, b := polygon[i], polygon[(i+1)%len(polygon)]
		cross := (b[0]-a[0])*(q[1]-a[1]) - (b[1]-a[1])*(q[0]-a[0])
		if cross*sign < 0 {
			return false
		}
		if cross != 0 {
			sign = cross
		}
	}
	return len(polygon) > 2
}

// place is where times lie on the one axis of a strip, and spread the standard deviation along it: of the high time, or of both
// where they move together.
func (p sheet) place(q [2]float64) float64 {
	if p.Along == nil {
		return q[0]
	}
	return (q[0]*p.Along[0] + q[1]*p.Along[1]) / (p.Along[0] + p.Along[1])
}

func (p sheet) spread() float64 {
	if p.Along == nil {
		return math.Sqrt(p.Spread[0][0])
	}
	a, b := p.Along[0], p.Along[1]
	return math.Sqrt(max(a*a*p.Spread[0][0]+2*a*b*p.Spread[0][1]+b*b*p.Spread[1][1], 0)) / (a + b)
}

// strip is the plane of a single pulse, or of times that move together: one axis, one bar a cause.
func (p sheet) strip(id string) Picture {
	const left, right, row = 8.0, 372.0, 36.0
	c := newCanvas(id, 40+float64(len(p.Curves))*row+48)
	measured, d := p.place(p.Measured), 2*p.spread()
	from, to := math.Inf(1), math.Inf(-1)
	for _, q := range p.Region {
		from, to = min(from, p.place(q)), max(to, p.place(q))
	}
	lo, hi := min(from, measured-d, 0), max(to, measured+d, 0)
	for _, q := range p.Cloud {
		if !p.named(q) {
			lo, hi = min(lo, p.place(q)), max(hi, p.place(q))
		}
	}
	if p.Before != nil {
		lo, hi = min(lo, p.place(*p.Before)), max(hi, p.place(*p.Before))
	}
	lo, hi = padded(lo, hi, 0.175)
	x := scale{lo, hi, left, right}
	bottom := c.height - 48
	if len(p.Region) > 0 {
		c.hatch("zone", box{x.at(from), 26, x.at(to), bottom})
	}
	for i, k := range p.Curves {
		y := 40 + float64(i)*row
		var reach []point
		for _, q := range k.Points {
			v := p.place(q)
			if !(v >= lo && v <= hi) {
				continue
			}
			at := x.at(v)
			reach = append(reach, point{at, y + 19})
			if k.Dots {
				c.diamond(at, y+19)
			}
		}
		if !k.Dots {
			c.path(curveClass(k), reach)
		}
	}
	m := x.at(measured)
	name := "measured"
	c.line("measured", m, 20, m, bottom)
	if p.Cloud == nil {
		c.line("measured", x.clamp(measured-d), 23, x.clamp(measured+d), 23)
	} else {
		name = "centre"
		var dots []point
		for _, q := range p.Cloud {
			if v := p.place(q); v >= lo && v <= hi {
				dots = append(dots, point{x.at(v), 23})
				continue
			}
			c.arrow(point{x.at(p.place(q)), 23}, box{left, 14, right, 32})
		}
		c.dots("dots", thinPoints(dots))
	}
	if p.Before != nil {
		b := x.at(p.place(*p.Before))
		c.line("measured", b-4, 19, b+4, 27)
		c.line("measured", b-4, 27, b+4, 19)
	}
	for i, k := range p.Curves { // over the measured line, which may run through them
		y := 48 + float64(i)*row
		at := left
		if k.Number > 0 {
			c.disc(k.Number, left+9, y-4.5)
			at += 23
		}
		c.text("label halo", start, at, y, shortened(k.Name, 260))
		c.text("tick halo", end, right, y, quantity.Probability(k.Probability))
	}
	w := measure(name) / 2
	c.text("label accent strong", middle, min(max(m, w), Width-w), 13, name)
	at, text := ratioTicks(lo, hi)
	c.level(x, bottom, at, text, func(b box) bool { return b.x0 > 0 && b.x1 < Width })
	what, lies, alike := "high time", "its high time lies", ""
	if p.Along != nil {
		what, lies, alike = "both times", "its two times lie", " Parts in tolerance move both times alike, and the measured ones lie on that line: what would part them has no place here."
	}
	c.text("label", end, right, bottom+34, what+", against nominal")
	reads := " Hatched: reached by parts in tolerance. Each line is as far as one cause reaches; diamonds are other preferred values."
	if p.Cloud != nil {
		return c.picture("The lot's time against its causes", "A dot a board along the top: where "+lies+" against the prediction."+reads+alike, p.lotProse())
	}
	caption := "Of the measured board: where " + lies + " against the prediction." + reads + " The bar across the measured line is what the timer's own spread and the measurement leave open (95 %)." + alike + p.since() + p.odds()
	prose := fmt.Sprintf("Of the measured board %s %s from nominal; parts in tolerance reach from %s to %s.", lies, ratioProse(measured), ratioProse(from), ratioProse(to))
	for _, k := range p.Curves {
		prose += fmt.Sprintf(" %s: probability %s.", k.Name, quantity.Probability(k.Probability))
	}
	return c.picture(map[bool]string{false: "The time against its causes", true: "The times against their causes"}[p.Along != nil], caption, prose)
}

// numberClass is the line of a cause by its number, the same in every picture.
func numberClass(number int) string { return fmt.Sprintf("c%d", number%lineStyles) }
