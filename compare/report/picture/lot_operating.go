package picture

import (
	"fmt"

	"offbeat/acquire/quantity"
)

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
