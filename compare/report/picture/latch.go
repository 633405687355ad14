package picture

import (
	"fmt"

	"offbeat/acquire/quantity"
	"offbeat/fit/latch"
)

// marked is how many faults of a latch get a number.
const marked = 9

// Latch draws what a bistable's inputs and its output did, with its faults marked; empty where nothing is known
// of it.
func Latch(id string, r *latch.Result) Picture {
	if len(r.States) < 2 {
		return Picture{}
	}
	lanes := []struct {
		name string
		on   func(s latch.State) bool
	}{
		{"set", func(s latch.State) bool { return s.Set }},
		{"reset", func(s latch.State) bool { return s.Reset }},
		{"output", func(s latch.State) bool { return s.Out }},
	}
	const lane, left, right, top = 40.0, 52.0, 372.0, 24.0
	c := newCanvas(id, top+float64(len(lanes))*lane+42)
	x := scale{r.States[0].Time, r.States[len(r.States)-1].Time, left, right}
	for k, l := range lanes {
		y := scale{0, 1, top + float64(k+1)*lane - 6, top + float64(k)*lane + 8}
		c.text("label", end, left-8, y.a-7, l.name)
		c.line("faint", left, y.a, right, y.a)
		c.path("signal", steps(r.States, l.on, x, y))
	}
	for i, e := range r.Events[:min(len(r.Events), marked)] {
		at := x.at(e.Time)
		c.line("reference", at, top, at, top+float64(len(lanes))*lane)
		if number := fmt.Sprint(i + 1); c.free(textBox(middle, at, top-6, number)) {
			c.text("label accent", middle, at, top-6, number)
		}
	}
	c.axisX(x, c.height-38, 5, quantity.Second, "time")
	prose := fmt.Sprintf("A latch's inputs and output over %s: %s and %s changed the output.", seconds(x.to-x.from), quantity.Plural(r.Sets, "set"), quantity.Plural(r.Resets, "reset"))
	for _, e := range r.Events[:min(len(r.Events), marked)] {
		prose += fmt.Sprintf(" At %s: %s.", seconds(e.Time), e.What)
	}
	caption := "Inputs and output over time; up is active, and high. The output should rise with set, fall with reset, and else hold."
	if len(r.Events) > 0 {
		caption += " Dashed: the faults, numbered in order."
	}
	return c.picture("Inputs and output", caption, prose)
}

// steps is one line's path.
func steps(states []latch.State, on func(latch.State) bool, x, y scale) []point {
	level := map[bool]float64{false: y.at(0), true: y.at(1)}
	was := on(states[0])
	out := []point{{x.at(states[0].Time), level[was]}}
	for _, s := range states[1:] {
		if now := on(s); now != was {
			at := x.at(s.Time)
			out = append(out, point{at, level[was]}, point{at, level[now]})
			was = now
		}
	}
	return append(thinOut(out), point{x.b, level[was]})
}
