package picture

import (
	"fmt"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare/plane"
)

// Fits draws how far each cause's prediction of every measured time lies from it, in standard uncertainties of the measurement;
// names are those of the times; alone says that they are predicted from the first capture. It needs a cause and a time, else it is empty.
func Fits(id string, names []string, fits []plane.Fit, alone bool) Picture {
	if len(names) == 0 || len(fits) == 0 {
		return Picture{}
	}
	const left, right, head, line, key, reach = 14.0, 366.0, 20.0, 11.0, 20.0, 6.0
	row := head + line*float64(len(fits)) + 4
	c := newCanvas(id, row*float64(len(names))+44+key*float64(len(fits)))
	bottom := row * float64(len(names))
	x := scale{-reach, reach, left, right}
	c.hatch("none", box{x.at(-2), 0, x.at(2), bottom})
	c.line("centre", x.at(0), 0, x.at(0), bottom)
	prose := make([]string, len(fits))
	for i, name := range names {
		top := row * float64(i)
		c.line("faint", left, top, right, top)
		c.text("label halo", start, 0, top+14, shortened(name, Width))
		for k, f := range fits {
			m, y := f.Misses[i], top+head+line*(float64(k)+0.5)
			c.line(numberClass(f.Number), x.clamp(m.Low), y, x.clamp(m.High), y)
			switch {
			case m.Median < -reach:
				c.arrow(point{left - 100, y}, box{left - 8, y - 5, left + 8, y + 5})
			case m.Median > reach:
				c.arrow(point{right + 100, y}, box{right - 8, y - 5, right + 8, y + 5})
			default:
				c.circle("mark", point{x.at(m.Median), y}, 3)
			}
			prose[k] += ", " + name + " " + quantity.Minus(fmt.Sprintf("%.1f", m.Median))
		}
	}
	c.axisPlain(x, bottom, 6, "predicted less measured, standard uncertainties")
	for k, f := range fits {
		y := bottom + 40 + key*float64(k)
		if f.Number > 0 {
			c.disc(f.Number, 9, y+9.5)
		}
		c.line(numberClass(f.Number), 21, y+9, 49, y+9)
		c.text("label", start, 54, y+14, shortened(f.Name, Width-54-50))
		c.text("tick", end, Width, y+14, quantity.Probability(f.Probability))
		prose[k] = f.Name + ":" + strings.TrimPrefix(prose[k], ",")
	}
	caption := "Each line is where a cause, with the parts that it needs, puts that time: 95 % of its boards, the dot their median, in the order below. Hatched: within two standard uncertainties of the measured time. A cause that stays in the hatching for every capture explains them all."
	if alone {
		caption = "No listed cause can make all captures. Each line is where a cause that made the first one puts that time: 95 % of its boards, the dot their median, in the order below, the probabilities by the first capture. Hatched: within two standard uncertainties of the measured time; an arrow lies farther. What every cause misses is the capture, or the reading or part it was taken with, to look at again."
	}
	return c.picture("How well each cause predicts the captures", caption, "Predicted less measured, in standard uncertainties. "+strings.Join(prose, "; ")+".")
}
