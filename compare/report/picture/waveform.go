package picture

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/fit"
)

// Runs are the capacitor's two fitted runs in volts and seconds.
type Runs struct {
	Upper, Lower            Level   // where they meet
	Charge, Discharge       Level   // their final voltages
	TauCharge, TauDischarge float64 // s
	Supply                  Level   // without a value: not known
}

// Level is a voltage with its expanded uncertainty, and what stands beside it.
type Level struct {
	Value, Expanded float64
	Says            string
}

// at is the fitted voltage at a time after the rise, within one period of a high and a low time.
func (r *Runs) at(t, high, low float64) float64 {
	if t = math.Mod(t+high+low, high+low); t < high {
		return r.Charge.Value + (r.Lower.Value-r.Charge.Value)*math.Exp(-t/r.TauCharge)
	}
	return r.Discharge.Value + (r.Upper.Value-r.Discharge.Value)*math.Exp(-(t-high)/r.TauDischarge)
}

// Waveform draws one averaged cycle of the capacitor's channel, the second of the trace, with the runs fitted to it and, on a
// strip below, by how much it departs from them; empty where there is no such channel or no whole cycle.
func Waveform(id string, t *Trace, m *fit.Measurement, r Runs) Picture {
	high, low := m.High.Value, m.Low.Value
	period := high + low
	if t == nil || t.Kind != acquire.Samples || len(t.Channels) < 2 || m.Low.Count == 0 {
		return Picture{}
	}
	f := foldOf(t, m, 1)
	if len(f.columns) < 20 {
		return Picture{}
	}
	const left, right, top, bottom, strip, foot = 50.0, 372.0, 24.0, 204.0, 228.0, 284.0
	c := newCanvas(id, foot+40)
	x := scale{-foldBefore * period, foldAfter * period, left, right}
	lo, hi := math.Inf(1), math.Inf(-1)
	levels := []struct {
		*Level
		class       string
		above, left bool // where its words stand; a threshold's at the left, where the curve leaves room
	}{
		{&r.Upper, "reference", true, true}, {&r.Lower, "reference", false, true},
		{&r.Supply, "limit", true, false}, {&r.Charge, "level", true, false}, {&r.Discharge, "level", true, false},
	}
	for _, l := range levels {
		if l.Says != "" {
			lo, hi = min(lo, l.Value), max(hi, l.Value)
		}
	}
	for _, q := range f.columns {
		lo, hi = min(lo, q.mean), max(hi, q.mean)
	}
	lo, hi = padded(lo, hi, 0.08)
	y := scale{lo, hi, bottom, top}
	for _, l := range levels {
		if l.Says != "" && l.Expanded > 0 {
			c.rect("spread", box{left, y.clamp(l.Value + l.Expanded), right, y.clamp(l.Value - l.Expanded)})
		}
	}
	var says []string
	for _, l := range levels {
		if l.Says == "" {
			continue
		}
		c.line(l.class, left, y.at(l.Value), right, y.at(l.Value))
		says = append(says, l.Says)
		up, down := y.at(l.Value)-5, y.at(l.Value)+13
		if !l.above {
			up, down = down, up
		}
		for _, v := range []float64{up, down} {
			anchor, at := end, right
			if l.left {
				anchor, at = start, left+6
			}
			if b := textBox(anchor, at, v, l.Says); c.free(b) && b.y1 < bottom && b.y0 > 0 {
				c.text("label halo", anchor, at, v, l.Says)
				break
			}
		}
	}
	symbol := c.axisY(y, left, 4, quantity.Volt)
	c.text("label", start, 0, 13, symbol)
	var seen, fitted, rest []point
	var most float64
	for _, q := range f.columns {
		seen = append(seen, point{x.at(q.t), y.at(q.mean)})
		if !r.turns(q.t, high, low) {
			rest = append(rest, point{q.t, q.mean - r.at(q.t, high, low)})
			most = max(most, math.Abs(rest[len(rest)-1].y))
		}
	}
	const steps = 120
	for i := range steps + 1 {
		at := period * float64(i) / steps * (1 - 1e-9)
		fitted = append(fitted, point{x.at(at), y.at(r.at(at, high, low))})
	}
	c.dots("dots", seen)
	c.path("measured", fitted)
	departs := scale{-1.15 * most, 1.15 * most, foot, strip}
	if most > 0 {
		c.text("label", start, 0, strip-9, withUnit("measured less fitted", c.axisY(departs, left, 2, quantity.Volt)))
		c.line("level", left, departs.at(0), right, departs.at(0))
	}
	for i, q := range rest {
		rest[i] = point{x.at(q.x), departs.at(q.y)}
	}
	c.dots("dots", rest)
	c.axisX(x, foot+4, 4, quantity.Second, "time after the output's rise")
	caption := fmt.Sprintf("%s of the capacitor's channel laid over each other (dots), and the two runs fitted to them (line). They turn at the thresholds (dashed, shaded: 95 %%) and head for their final voltages (dotted): one of the charge below the supply shows a leak, one of the discharge above ground a weak discharge output. The strip shows what the runs leave; a bow there is no exponential run.", quantity.Plural(f.cycles, "cycle"))
	prose := fmt.Sprintf("The capacitor charges for %s with a time constant of %s and discharges for %s with one of %s. %s. It departs from the fitted runs by at most %s.",
		seconds(high), seconds(r.TauCharge), seconds(low), seconds(r.TauDischarge), strings.Join(says, "; "), quantity.Format(quantity.Rounded(most, 2), quantity.Volt))
	return c.picture("The capacitor's own voltage", caption, prose)
}

// turns says whether a place of an averaged cycle is about one where the run turns, and its mean is of both runs.
func (r *Runs) turns(t, high, low float64) bool {
	period := high + low
	near := 1.5 * (foldBefore + foldAfter) / foldBins * period
	t = math.Mod(t+period, period)
	return t < near || period-t < near || math.Abs(t-high) < near
}
