package nextreading

import (
	"fmt"
	"math"

	"offbeat/acquire/quantity"
	"offbeat/compare/cause"
	"offbeat/compare/caution"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
	"offbeat/fit/wiring"
)

// The kinds of readings, for programs that act on them.
const (
	Resistance  = "resistance"
	Capacitance = "capacitance"
	Supply      = "supply"
	Control     = "control"
	Waveform    = "waveform"
	KnownPart   = "known part"
	Swap        = "known good part"
	Warming     = "warming"
	Instrument  = "second instrument"
	Look        = "look"
	Repair      = "repair" // no reading: what to do once a cause leads
	Check       = "check"  // the capture after it
	Refit       = "refit"  // nothing is to be repaired, and the design does not hold its target
)

// Accuracies of the usual bench instruments and of a known part, relative limits (common practice).
const (
	ohmmeter    = 0.005
	capacitance = 0.01
	voltmeter   = 0.005
	counter     = 1e-4
	waveform    = 0.01
	knownPart   = 0.01
)

// Warmth is by how much a part is warmed, K.
const Warmth = 20

// LeakPerTen is the factor by which the resistance of a leak through a dielectric that doubles its current in 10 K changes:
// the rule of thumb (common practice), and the steepest of the published ones. Published factors of the current in 10 K are
// 1.19 … 1.32 of aluminium electrolytics (makers: 2 … 3 times from 20 to 60 °C) and 1.47 of solid tantalum (10 times from
// 25 to 85 °C); a resistor, flux or dirt across the part does not change.
const LeakPerTen = 0.5

// most is the number of numbers that one reading shows.
const most = 3

// test is one reading that a bench offers.
type test struct {
	kind    string
	name    string
	part    string
	effort  float64 // minutes, common practice
	caution string
	enter   string // the flags that tell what it shows
	// observe writes what the reading would show of a board, logarithms or ratios; false where it would show nothing
	// because the board does not run.
	observe  func(p *point, y *[most]float64) bool
	accuracy []float64 // limit of each number, as many as there are
}

// Bench is what the readings are taken of.
type Bench struct {
	Circuit *circuit.Circuit
	Parts   []fit.Part     // in the circuit's order
	Typical circuit.Values // the design's values
	Cases   []cause.Case   // those of the result, which may bring circuits of their own; nil: none does
	Board   *cause.Board   // that is looked at; nil: no looks
}

// tests lists the readings that make sense for a circuit.
func (b *Bench) tests() []test {
	var out []test
	for i, p := range b.Parts {
		slot := circuit.Slot(i)
		direct := func(p *point, y *[most]float64) bool { y[0] = math.Log(p.values[slot]); return true }
		if p.Kind == fit.Resistor {
			out = append(out, test{Resistance, "Lift one leg of " + p.Name + " and measure its resistance", p.Name, 4, caution.Off, entered(p.Name), direct, []float64{ohmmeter}})
		} else {
			out = append(out, test{Capacitance, "Take " + p.Name + " out and measure its capacitance", p.Name, 6, caution.Off + " " + caution.Polarity, entered(p.Name), direct, []float64{capacitance}})
		}
		out = append(out, b.known(slot, p), b.warmed(slot, p))
		if p.Kind == fit.Capacitor {
			out = append(out, b.swapped(slot, p))
		}
	}
	out = append(out, test{Supply, "Measure the supply voltage at the timer", "", 1, caution.Live, entered("supply"), func(p *point, y *[most]float64) bool {
		y[0] = math.Log(p.values[circuit.Supply])
		return true
	}, []float64{voltmeter}})
	if node := b.divided(); node != "" {
		out = append(out, test{Control, "Measure the voltage of the node " + node, "", 1, caution.Live, entered(node), b.voltage(node), []float64{voltmeter}})
	} else if b.Circuit.Has(circuit.Upper) {
		out = append(out, test{Control, "Measure the voltage of the control pin", "", 1, caution.Live, entered("control"), func(p *point, y *[most]float64) bool {
			y[0] = math.Log(p.values[circuit.Upper])
			return true
		}, []float64{voltmeter}})
	}
	if b.Circuit.Has(circuit.LeakRatio) {
		out = append(out, test{Waveform, "Capture the capacitor's voltage beside the output", "", b.Minutes(5), caution.Live, "NEW.csv --channel out=NAME --channel cap=NAME", asymptotes, []float64{waveform, waveform, waveform}})
	}
	return append(out, test{Instrument, "Capture the output with a second instrument", "", b.Minutes(3), caution.Live, `--with "clock = crystal" NEW.csv`, func(p *point, y *[most]float64) bool {
		y[0] = p.values[circuit.Clock]
		return true
	}, []float64{counter}})
}

// divided is the node whose voltage parts of the board set and hold still; empty: there is none.
func (b *Bench) divided() string {
	for _, n := range b.Circuit.Still() {
		if n != wiring.Supply && !b.Circuit.Holds(n) && !b.Circuit.ControlAlone(n) {
			return n
		}
	}
	return ""
}

// voltage is that of such a node, as the logarithm of its ratio to the supply.
func (b *Bench) voltage(node string) func(p *point, y *[most]float64) bool {
	known := map[*circuit.Circuit]func(v *circuit.Values) float64{} // a bench is used by one goroutine
	return func(p *point, y *[most]float64) bool {
		c := b.Circuit
		if own := p.hypothesis.Circuit; own != nil {
			c = own
		}
		of, met := known[c]
		if !met {
			of, _ = c.Voltage(node)
			known[c] = of
		}
		if of == nil {
			return false
		}
		y[0] = math.Log(of(p.values) / p.values[circuit.Supply])
		return !math.IsNaN(y[0])
	}
}

// Measured stands in an advised command where the value must be typed that the bench shows.
const Measured = "MEASURED"

// entered is the flag for a direct reading.
func entered(name string) string { return "--reading " + name + "=" + Measured }

// settling is how many periods a new capture takes, the first of them until the board has settled.
const settling = 20

// Minutes is what a capture takes beside the minutes of handling: the periods it must hold.
func (b *Bench) Minutes(handling float64) float64 {
	v := b.Typical
	high, low, ok := b.Circuit.Times(&v)
	if b.Circuit.OnePulse {
		low = high
	}
	if !ok || math.IsNaN(high+low) || math.IsInf(high+low, 0) {
		return handling
	}
	return handling + settling*(high+low)/60
}

// asymptotes are what the capacitor's waveform shows: both thresholds, and where the charge is heading.
func asymptotes(p *point, y *[most]float64) bool {
	v := p.values
	y[0], y[1], y[2] = v[circuit.Upper], v[circuit.Upper]*v[circuit.Half], 1
	if k := v[circuit.LeakRatio]; k > 0 {
		y[2] = k / (1 + k)
	}
	return true
}

// again is a reading of the times after a change of the board, as the logarithm of their ratio to those before; the
// instrument is the same, so its clock's error stays out. A pair of times that change alike is told from one that
// does not far better than either change is known, so the second number is their difference.
func (b *Bench) again(change func(v *circuit.Values)) func(p *point, y *[most]float64) bool {
	var w circuit.Values // scratch: a bench is used by one goroutine
	return func(p *point, y *[most]float64) bool {
		w = *p.values
		b.Circuit.Change(&w, change)
		high, low, ok := p.hypothesis.Times(b.Circuit, &w)
		y[0] = math.Log(high) - p.lnHigh
		if !b.Circuit.OnePulse {
			y[1] = y[0] - math.Log(low) + p.lnLow
		}
		return ok
	}
}

// accuracyOf is the limit of the two numbers of again, where a change is known to a relative limit, by the design's values.
func (b *Bench) accuracyOf(change func(by float64) func(v *circuit.Values), limit float64) []float64 {
	var at, off [most]float64
	p, ok := b.point(&b.Typical, &posterior.Hypothesis{})
	if !ok || !b.again(change(1))(&p, &at) || !b.again(change(1+limit))(&p, &off) {
		return []float64{limit, limit}
	}
	return []float64{math.Abs(off[0]-at[0]) + 2*counter, math.Abs(off[1]-at[1]) + 2*counter}
}

// known is a known part of the same nominal value across a part.
func (b *Bench) known(slot circuit.Slot, p fit.Part) test {
	change := func(by float64) func(v *circuit.Values) {
		x := p.Nominal * by
		return func(v *circuit.Values) {
			if p.Kind == fit.Capacitor {
				v[slot] += x
			} else {
				v[slot] = v[slot] * x / (v[slot] + x)
			}
		}
	}
	return test{KnownPart, fmt.Sprintf("Put a measured %s across %s and capture again", quantity.Format(p.Nominal, p.Kind.Unit()), p.Name), p.Name, b.Minutes(3), caution.Add,
		fmt.Sprintf(`--with "%s || %s" NEW.csv`, p.Name, Measured),
		b.again(change(1)), b.accuracyOf(change, knownPart)}
}

// swapped is a known good part in the place of another, which takes its faults along.
func (b *Bench) swapped(slot circuit.Slot, p fit.Part) test {
	change := func(by float64) func(v *circuit.Values) {
		return func(v *circuit.Values) {
			v[slot] = p.Nominal * by
			b.Circuit.Sound(v, slot)
		}
	}
	return test{Swap, fmt.Sprintf("Fit a good, measured %s as %s and capture again", quantity.Format(p.Nominal, p.Kind.Unit()), p.Name), p.Name, b.Minutes(5),
		caution.Change + " " + caution.Polarity, fmt.Sprintf(`--with "%s = %s" NEW.csv`, p.Name, Measured),
		b.again(change(1)), b.accuracyOf(change, knownPart)}
}

// LeakExponent is the exponent of LeakPerTen of a leak, for a chance from 0 to 1: half of all leaks do not follow the
// temperature (which half, nobody counted: even odds), the others lie evenly between that and the rule of thumb, where the
// published factors lie too: 0.25 … 0.40 and 0.55.
func LeakExponent(chance float64) float64 { return max(0, 2*chance-1) }

// chance is a number from 0 to 1 that is as good as drawn for a board whose part has that value, and the same each time.
func chance(value float64) float64 {
	m, _ := math.Frexp(value)
	return math.Mod(m*1e7*math.Phi, 1)
}

// warmed is one part made warmer: it follows its temperature coefficient, and a capacitor's leak grows.
func (b *Bench) warmed(slot circuit.Slot, p fit.Part) test {
	leak, leaks := b.Circuit.Leak(p.Name)
	change := func(by float64) func(v *circuit.Values) {
		return func(v *circuit.Values) {
			v[slot] *= (1 + p.Tempco*Warmth) * by
			if leaks && v[leak] > 0 {
				v[leak] *= math.Pow(LeakPerTen, LeakExponent(chance(v[slot]))*Warmth/10)
			}
		}
	}
	return test{Warming, "Warm " + p.Name + fmt.Sprintf(" alone by some %d °C and capture again", Warmth), p.Name, b.Minutes(2), caution.Warm,
		fmt.Sprintf(`--with "%s at %s" NEW.csv`, p.Name, Measured),
		b.again(change(1)), b.accuracyOf(change, Warmth*cause.TempcoSpread(p))}
}

// point is one equally likely board with the times it shows, and the number of its explanation.
type point struct {
	values        *circuit.Values
	lnHigh, lnLow float64
	group         int
	hypothesis    *posterior.Hypothesis
}

// point times a board; false where it does not run.
func (b *Bench) point(v *circuit.Values, h *posterior.Hypothesis) (point, bool) {
	high, low, ok := h.Times(b.Circuit, v)
	return point{values: v, lnHigh: math.Log(high), lnLow: math.Log(low), hypothesis: h}, ok
}

// of is the hypothesis that a sample is of.
func (b *Bench) of(s *posterior.Sample) *posterior.Hypothesis {
	if b.Cases == nil {
		return &posterior.Hypothesis{}
	}
	return &b.Cases[s.Hypothesis].Hypothesis
}
