package read

import (
	"math"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// cycleTaker lists the edges of cycles that follow one another.
type cycleTaker struct {
	p     *recognise.Plan
	cycle recognise.Cycles
	rows  scan.Rows
	begun bool
	t     float64
	state float64 // of what begins at t, where high and low times come in turn
}

func (c *cycleTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	if class, ok := c.p.Above(text, num); ok {
		return class, "", nil
	}
	fault, cell := c.p.Layout.Row(text, &c.rows)
	if fault != scan.NoFault {
		c.end(out)
		return out.bad(c.p, text, num, cut, cell)
	}
	times, states := [2]float64{}, [2]float64{1, 0}
	for i, v := range c.rows.Value {
		if times[i] = v[0] * c.cycle.Longer[i]; !(times[i] > 0 || c.cycle.Instants && times[i] == times[i]) || math.IsInf(times[i], 0) {
			c.end(out)
			return out.bad(c.p, text, num, cut, c.p.Layout.Value[i])
		}
	}
	switch {
	case len(c.rows.Value) == 1:
		if !c.begun {
			out.row(c.t, 0)
		}
		c.begun, c.state = true, 1-c.state
		out.row(c.t, c.state)
		c.t += times[0]
		return acquire.RowLine, "", nil
	case c.cycle.Instants:
		if times[1] < times[0] {
			times, states = [2]float64{times[1], times[0]}, [2]float64{0, 1}
		}
		for i, state := range states {
			out.row(times[i], state)
		}
		return acquire.RowLine, "", nil
	}
	if c.cycle.LowFirst {
		times, states = [2]float64{times[1], times[0]}, [2]float64{0, 1}
	}
	if !c.begun { // the state before the first edge
		out.row(c.t, states[1])
	}
	c.begun = true
	for i, state := range states {
		out.row(c.t, state)
		c.t += times[i]
	}
	return acquire.RowLine, "", nil
}

// end lists the last low or high time's end.
func (c *cycleTaker) end(out *listReader) {
	if c.begun {
		first := 1 - c.state
		if c.cycle.LowFirst {
			first = 0
		}
		out.row(c.t, first)
	}
	c.begun, c.state = false, 0
}
