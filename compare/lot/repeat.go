package lot

import (
	"fmt"
	"math"
	"slices"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/lot/gauge"
	"offbeat/fit"
)

// gauges studies the repeat captures: each quantity of the target, or the frequency, or the high time of a
// single pulse.
func (c *Collector) gauges(r *Report, rows []*Row) {
	names := []string{}
	for _, t := range c.design.Targets {
		names = append(names, t.Quantity)
	}
	if len(names) == 0 && len(rows) > 0 {
		names = append(names, "frequency")
		if rows[0].Values[compare.PlaceOf("frequency")] == 0 {
			names[0] = "high_time"
		}
	}
	by, of := stations(rows)
	for _, name := range names {
		i := compare.PlaceOf(name)
		e := gauge.EffectsOf(readings(slices.DeleteFunc(slices.Clone(rows), func(row *Row) bool { return slices.Contains(r.Outliers, row.Board) }), i))
		r.effects(name, e)
		var obs []gauge.Observation
		for _, row := range rows {
			for k := range row.Each {
				v := row.Each[k].Values[i]
				if t := row.Each[k].Temperature; e.PerK != 0 && t != nil {
					v *= math.Exp(-e.PerK * (*t - fit.ReferenceTemperature))
				}
				obs = append(obs, gauge.Observation{Board: row.Lot + "\x00" + row.Board, Station: of(&row.Each[k]), Value: v})
			}
		}
		low, high := c.tolerance(name)
		s, err := gauge.Of(obs)
		if err != nil {
			c.stated(r, rows, i, high-low)
			continue
		}
		g := Gauge{name, gauge.Method, by, s.Boards, s.Stations, s.Observations, s.Repeatability, s.Interval95,
			finite(s.Reproducibility), finite(s.Interaction), s.Gauge, finite(s.BoardToBoard), nil, nil, s.Notes}
		if e.PerK != 0 {
			g.PerKelvin = &e.PerK
			g.Notes = append(g.Notes, fmt.Sprintf("the temperature is taken out, %s a kelvin", ppm(e.PerK)))
		}
		if share := s.Share(low, high); !math.IsNaN(low) {
			g.Share = finite(share)
			if w := gauge.Warning(share); w != "" {
				r.Warnings = append(r.Warnings, name+": "+w)
			}
		}
		r.Gauge = append(r.Gauge, g)
	}
}

// readings are all captures' values of one quantity, as logarithms.
func readings(rows []*Row, quantity int) []gauge.Reading {
	var out []gauge.Reading
	for _, row := range rows {
		for k := range row.Each {
			e := &row.Each[k]
			if v := e.Values[quantity]; v > 0 {
				out = append(out, gauge.Reading{Board: row.Lot + "\x00" + row.Board, Station: e.Station, Operator: e.Operator, Temperature: e.Temperature, Value: math.Log(v)})
			}
		}
	}
	return out
}

// effects keeps what moves a measurement.
func (r *Report) effects(name string, e gauge.Effects) {
	for _, x := range e.All {
		r.Effects = append(r.Effects, MeasuredEffect{name, x})
	}
	for _, n := range e.Notes {
		r.Warnings = append(r.Warnings, compare.QuantityOf(name).Name+": "+n)
	}
}

// readOtherwise says which stations, and which operators, read unlike the others.
func (r *Report) readOtherwise() (out []string) {
	for _, factor := range []string{"station", "operator"} {
		var low, high *MeasuredEffect
		for i := range r.Effects {
			x := &r.Effects[i]
			if !x.Significant || x.Factor != factor || low != nil && x.Quantity != low.Quantity {
				continue
			}
			if low == nil || x.Bias < low.Bias {
				low = x
			}
			if high == nil || x.Bias > high.Bias {
				high = x
			}
		}
		if low == nil || low == high {
			continue
		}
		why := "each has boards of its own: it is the boards or the " + factor + "s, and an exchange of some boards would tell"
		if low.Within {
			why = "on the same boards: it is the " + factor + "s"
		}
		out = append(out, fmt.Sprintf("The %ss differ in %s: %s reads %s, %s %s against the mean of all; %s.", factor, compare.QuantityOf(low.Quantity).Name, low.Level, quantity.Change(low.Bias), high.Level, quantity.Change(high.Bias), why))
	}
	return out
}

// ppm writes a temperature coefficient.
func ppm(perK float64) string {
	return quantity.Minus(fmt.Sprintf("%+.10g ppm", quantity.Rounded(1e6*perK, 3)))
}

// stated warns by the captures' own uncertainty where nothing was measured twice.
func (c *Collector) stated(r *Report, rows []*Row, quantity int, width float64) {
	var u []float64
	for _, row := range rows {
		for k := range row.Each {
			u = append(u, row.Each[k].Uncertainties[quantity])
		}
	}
	if len(u) == 0 || math.IsNaN(width) {
		return
	}
	slices.Sort(u)
	if w := gauge.Warning(6 * u[len(u)/2] / width); w != "" {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%s: by the captures' own stated uncertainty, %s", compare.Quantities[quantity].Key, w))
	}
}

// tolerance is a target's width; NaN where it has none.
func (c *Collector) tolerance(quantity string) (low, high float64) {
	for _, t := range c.design.Targets {
		if low, high = open(t); t.Quantity == quantity && !math.IsInf(low, 0) && !math.IsInf(high, 0) {
			return low, high
		}
	}
	return math.NaN(), math.NaN()
}

// stations says by what captures differ: whichever of station and operator varies, or both together.
func stations(rows []*Row) (by string, of func(*Repeat) string) {
	varies := func(of func(*Repeat) string) bool {
		first, seen := "", false
		for _, row := range rows {
			for k := range row.Each {
				if v := of(&row.Each[k]); !seen {
					first, seen = v, true
				} else if v != first {
					return true
				}
			}
		}
		return false
	}
	station := func(r *Repeat) string { return r.Station }
	operator := func(r *Repeat) string { return r.Operator }
	switch {
	case varies(station) && varies(operator):
		return "station and operator", func(r *Repeat) string { return r.Station + " / " + r.Operator }
	case varies(operator):
		return "operator", operator
	}
	return "station", station
}
