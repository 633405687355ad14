package picture

import (
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
