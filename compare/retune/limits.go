package retune

import (
	"fmt"

	"offbeat/acquire/quantity"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// bound is a limit at two supplies, straight between them and level beyond.
type bound struct {
	volts, limit [2]float64
}

func (b bound) at(supply float64) float64 {
	x := min(max((supply-b.volts[0])/(b.volts[1]-b.volts[0]), 0), 1)
	return b.limit[0] + x*(b.limit[1]-b.limit[0])
}

// level is a limit whatever the supply.
func level(limit float64) bound { return bound{[2]float64{5, 15}, [2]float64{limit, limit}} }

// rating is what a family of timers bears, the most conservative of the data sheets.
type rating struct {
	discharge, output bound   // A, of the pins
	feed              bound   // ohm, from the supply to the threshold at most: beyond it the threshold's own current tells; 0: no limit
	frequency         float64 // Hz, up to which the formulas of resistors and capacitors hold; 0: no limit
	supply            float64 // V, absolute maximum
}

// Bipolar: the discharge pin keeps its specified saturation up to 4.5 mA at 5 V and 15 mA at 15 V (ST Doc ID 2182 rev 6,
// table 3), the output is rated for 200 mA (the same, page 3; Diodes DS35112), R1 + R2 stay below 3.4 MΩ at 5 V and 10 MΩ
// at 15 V (Diodes DS35112, note 6), the frequency below 100 kHz (ST DocID4077 rev 4, page 1), the supply below 16 V (UTC
// QW-R106-001). CMOS: both pins below 100 mA (the lowest absolute maximum; ICM7555, FN2867.9), the supply below 15 V (LMC555).
var ratings = map[string]rating{
	fit.Bipolar: {bound{[2]float64{5, 15}, [2]float64{4.5e-3, 15e-3}}, level(0.2), bound{[2]float64{5, 15}, [2]float64{3.4e6, 10e6}}, 100e3, 16},
	fit.CMOS:    {discharge: level(0.1), output: level(0.1), supply: 15},
}

// ratingOf is a family's; one that is not said, or that is ideal, counts as the weaker one.
func ratingOf(family string) rating {
	if r, ok := ratings[family]; ok {
		return r
	}
	return ratings[fit.Bipolar]
}

// limits are what a design's timer bears, with the networks that load its pins; nil networks: nothing is on the pin, or the
// device is no timer.
type limits struct {
	rating
	circuit           *circuit.Circuit
	discharge, output *network
}

func limitsOf(c *circuit.Circuit, family string) *limits {
	return &limits{ratingOf(family), c, networkOf(c, wiring.PinDischarge), networkOf(c, wiring.PinOutput)}
}

// overloads says whether resistors are beyond what the timer bears.
func (l *limits) overloads(v *circuit.Values) bool {
	supply, upper := v[circuit.Supply], v[circuit.Upper]
	if l.discharge != nil && l.discharge.current(v, 0, upper) > l.rating.discharge.at(supply)*hair {
		return true
	}
	if l.output != nil {
		lower := upper * v[circuit.Half]
		if max(l.output.current(v, 0, upper), l.output.current(v, 1, lower)) > l.rating.output.at(supply)*hair {
			return true
		}
	}
	feed := l.feed.at(supply)
	return l.timer() && feed > 0 && l.circuit.Charging(v) > feed*hair
}

func (l *limits) timer() bool {
	return l.circuit.Wiring != nil && l.circuit.Wiring.Device.Kind == wiring.Timer
}

// tooFast says whether a train is beyond what the timer's formulas hold for.
func (l *limits) tooFast(frequency float64) bool {
	return l.timer() && l.frequency > 0 && frequency > l.frequency*hair
}

// weakest is the design's family, or none where another may be fitted too.
func weakest(d *fit.Design) string {
	if d.AnyFamily {
		return ""
	}
	return d.Family
}

// Beyond says that a design's supply is more than its timer bears, whatever is fitted; empty: it is not.
func Beyond(d *fit.Design) string {
	c, err := circuit.Of(d)
	if err != nil {
		return ""
	}
	l := limitsOf(c, weakest(d))
	if !l.timer() || d.Supply.Value <= l.supply*hair {
		return ""
	}
	return fmt.Sprintf("the supply of %s is above %s, the lowest absolute maximum of a timer of this family: see its data sheet before it is switched on", quantity.Format(d.Supply.Value, quantity.Volt), quantity.Format(l.supply, quantity.Volt))
}
