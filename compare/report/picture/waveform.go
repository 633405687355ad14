package picture

import (
	"fmt"
	"math"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/fit"
)

// Runs are the capacitor's two fitted runs in volts and seconds.
type Runs struct {
	Upper, Lower             float64 // where they meet
	Charge, Discharge        float64 // their asymptotes
	TauCharge, TauDischarge  float64
	ChargeSays, UpperSays    string // labels of the two upper levels
	LowerSays, DischargeSays string // and of the two lower ones
}

// Waveform draws one averaged cycle of the capacitor's channel, the second of the trace, with the runs fitted to it; ok is
// false where there is no such channel or no whole cycle.
func Waveform(id string, t *Trace, m *fit.Measurement, r Runs) (p Picture, ok bool) {
	period := m.High.Value + m.Low.Value
	if t == nil || t.Kind != acquire.Samples || len(t.Channels) < 2 || m.Low.Count == 0 {
		return Picture{}, false
	}
	f := foldOf(t, m, 1)
	if len(f.columns) < 20 {
		return Picture{}, false
	}
	const left, right, top, bottom = 44, 372, 14, 182
	c := newCanvas(id, bottom+40)
	x := scale{-foldBefore * period, foldAfter * period, left, right}
	lo, hi := min(r.Discharge, r.Lower), max(r.Charge, r.Upper)
	for _, q := range f.columns {
		lo, hi = min(lo, q.mean), max(hi, q.mean)
	}
	lo, hi = padded(lo, hi, 0.08)
	y := scale{lo, hi, bottom, top}
	symbol := c.axisY(y, left, 4, quantity.Volt)
	c.text("label", start, left+6, top-2, symbol)
	for _, l := range []struct {
		class string
		at    float64
		says  string
		above bool
	}{
		{"level", r.Charge, r.ChargeSays, false}, {"level", r.Discharge, r.DischargeSays, true},
		{"reference", r.Upper, r.UpperSays, true}, {"reference", r.Lower, r.LowerSays, false},
	} {
		c.line(l.class, left, y.at(l.at), right, y.at(l.at))
		v := y.at(l.at) + 13
		if l.above {
			v = y.at(l.at) - 5
		}
		if l.class == "reference" { // the curve leaves room at the left, where it turns at neither
			c.text("label", start, left+6, v, l.says)
		} else if s := textBox(end, right, v, l.says); c.free(s) {
			c.text("label", end, right, v, l.says)
		}
	}
	var seen, fitted []point
	for _, q := range f.columns {
		seen = append(seen, point{x.at(q.t), y.at(q.mean)})
	}
	const steps = 60
	for i := range steps + 1 {
		at := m.High.Value * float64(i) / steps
		fitted = append(fitted, point{x.at(at), y.at(r.Charge + (r.Lower-r.Charge)*math.Exp(-at/r.TauCharge))})
	}
	for i := range steps + 1 {
		at := m.Low.Value * float64(i) / steps
		fitted = append(fitted, point{x.at(m.High.Value + at), y.at(r.Discharge + (r.Upper-r.Discharge)*math.Exp(-at/r.TauDischarge))})
	}
	c.dots("dots", seen)
	c.path("measured", fitted)
	c.axisX(x, bottom+4, 4, quantity.Second, "time after the output's rise")
	caption := fmt.Sprintf("%s of the capacitor's channel laid over each other (dots), and the two runs fitted to them (line). They turn at the thresholds (dashed) and head for the asymptotes (dotted): one of the charge below the supply shows a leak, one of the discharge above ground a worn discharge switch.", count(f.cycles, "cycle"))
	prose := fmt.Sprintf("The capacitor charges for %s with a time constant of %s and discharges for %s with one of %s. %s; %s; %s; %s.",
		seconds(m.High.Value), seconds(r.TauCharge), seconds(m.Low.Value), seconds(r.TauDischarge), r.UpperSays, r.LowerSays, r.ChargeSays, r.DischargeSays)
	return c.picture("The capacitor's own voltage", caption, prose), true
}
