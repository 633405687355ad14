package picture

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
)

// Bar is one row of a bar chart.
type Bar struct {
	Name  string
	Value float64
	Total bool // the combination of the others, drawn apart
}

// Bars draws horizontal bars of one unit, each with its value.
func Bars(id, title, caption string, unit quantity.Unit, rows []Bar) Picture {
	const row = 34.0
	top := 0.0
	widest := 0.0
	for _, b := range rows {
		top = max(top, math.Abs(b.Value))
		widest = max(widest, measure(quantity.Format(quantity.Rounded(b.Value, 2), unit)))
	}
	c := newCanvas(id, float64(len(rows))*row+10)
	right := Width - widest - 10
	var prose []string
	for i, b := range rows {
		y := float64(i) * row
		class := "bar"
		if b.Total {
			y += 8
			c.line("faint", 0, y-2, Width, y-2)
			class = "bar2"
		}
		value := quantity.Format(quantity.Rounded(b.Value, 2), unit)
		c.text("label", start, 0, y+13, b.Name)
		w := 0.0
		if top > 0 {
			w = math.Abs(b.Value) / top * right
		}
		c.rect(class, box{0, y + 19, max(w, 0.8), y + 30})
		c.text("tick", start, max(w, 0.8)+7, y+29, value)
		prose = append(prose, fmt.Sprintf("%s: %s.", b.Name, value))
	}
	return c.picture(title, caption, strings.Join(prose, " "))
}
