package fittest

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// The circuits that Integrate knows, by the names a design file uses.
const (
	Astable       = "astable"
	AstableDiode  = "astable-diode"
	AstableOutput = "astable-output"
	Monostable    = "monostable"
	Schmitt       = "schmitt"
	Multivibrator = "multivibrator"
	Comparator    = "comparator"
)

// Network is one circuit with everything that moves its times. All units are SI; every voltage is
// against ground; a current is positive when it leaves the capacitor's node. The zero value of each
// second-order field means "this effect is absent".
//
// Wiring, by circuit. The "node" is the capacitor's upper plate, its lower plate is grounded (the
// multivibrator is the exception). The "pin" is the discharge pin.
//
//	astable         supply - R1 - pin - R2 - node; the switch ties the pin towards ground while the output is low
//	astable-diode   the same with a diode across R2, anode at the pin, so that it charges past R2
//	astable-output  output - R1 - node
//	monostable      supply - R1 - node, and the pin is tied to the node; the switch is on until the trigger
//	schmitt         inverter's output - R1 - node, node is the inverter's input
//	comparator      output - R1 - node, node at the inverting input, a divider feeds the output back to the other
//	multivibrator   two cross-coupled transistors: supply - R1 - base of the first, C from that base to the second's
//	                collector; R2 and C2 likewise for the second. The high time is that of R1 and C, the low time that of R2
//	                and C2. Collector is the resistor that brings each collector back, which is the output; 0: at once.
type Network struct {
	Circuit string

	R1, R2 float64 // ohm. R2: astable and astable-diode; multivibrator, where 0 means the same as R1
	C      float64 // farad
	C2     float64 // farad, multivibrator only; 0 means the same as C

	Supply float64 // V

	// Thresholds as ratios to Supply: the output goes low when the node has risen to Upper, high when it has
	// fallen to Lower. Both 0: 2/3 and 1/3. No effect in the comparator and the multivibrator.
	Upper, Lower float64

	Saturation   float64 // V that the discharge switch (multivibrator: the on transistor's collector) keeps when it is on
	OnResistance float64 // ohm, in series with Saturation. R1 still feeds the pin, so the pin sits above Saturation
	Weak         float64 // ohm, a worn switch: adds to OnResistance, between the pin and the switch

	DelayFall float64 // s from the node's reaching Upper to the output's fall (high to low); the node runs on meanwhile
	DelayRise float64 // s from the node's reaching Lower to the output's rise (low to high)

	Bias    float64 // A drawn out of the node by the threshold input, in both states; negative: pushed into it
	Leak    float64 // ohm across the capacitor; 0: none
	Contact float64 // ohm in series with the capacitor's lead at the node; not in the multivibrator
	Stray   float64 // farad from the node to ground; not in the multivibrator, nor beside Contact
	Diode   float64 // V, constant forward drop of the diode across R2. It conducts only while R2 alone would drop more

	OutputHigh float64 // V of the output when high: astable-output, schmitt, comparator; what its collector swings up to: multivibrator. 0: Supply
	OutputLow  float64 // V of the output when low; negative for a split supply. Multivibrator: by which the other collector's swing is less

	Feedback    float64 // comparator: thresholds are Reference + Feedback (output - Reference), 0 < Feedback < 1
	Reference   float64 // V, comparator: where the divider's other end sits
	Trigger     float64 // s from one trigger to the next: the monostable's trace. The switch empties the capacitor at once
	Breakdown   float64 // V at which a reversed base-emitter junction of the multivibrator clamps the base; 0: never
	BaseEmitter float64 // V at which a transistor of the multivibrator turns on
	Collector   float64 // ohm, of the multivibrator
}

// needs lists what must be positive in each circuit.
var needs = map[string][]string{
	Astable:       {"R1", "C", "Supply"}, // R2 may be 0: R1 alone then charges, and the switch's resistance discharges
	AstableDiode:  {"R1", "R2", "C", "Supply"},
	AstableOutput: {"R1", "C", "Supply"},
	Monostable:    {"R1", "C", "Supply"},
	Schmitt:       {"R1", "C", "Supply"},
	Comparator:    {"R1", "C", "Supply", "Feedback"},
	Multivibrator: {"R1", "C", "Supply"},
}

// withDefaults fills what the zero value stands for, and refuses what has no meaning.
func (n Network) withDefaults() (Network, error) {
	required, known := needs[n.Circuit]
	if !known {
		return n, fmt.Errorf("fittest: unknown circuit %q", n.Circuit)
	}
	for name, v := range map[string]float64{
		"R1": n.R1, "R2": n.R2, "C": n.C, "C2": n.C2, "Supply": n.Supply, "Feedback": n.Feedback, "OnResistance": n.OnResistance, "Weak": n.Weak,
		"DelayFall": n.DelayFall, "DelayRise": n.DelayRise, "Leak": n.Leak, "Contact": n.Contact, "Stray": n.Stray, "Diode": n.Diode,
	} {
		if !(v >= 0) || math.IsInf(v, 0) || v == 0 && slices.Contains(required, name) {
			return n, fmt.Errorf("fittest: %s can't have a %s of %g", n.Circuit, name, v)
		}
	}
	if n.Upper == 0 && n.Lower == 0 {
		n.Upper, n.Lower = 2./3, 1./3
	}
	n.OutputHigh = cmp.Or(n.OutputHigh, n.Supply)
	if n.R2 == 0 && n.Circuit == Multivibrator {
		n.R2 = n.R1
	}
	n.C2 = cmp.Or(n.C2, n.C)
	if upper, lower := n.thresholds(); !(upper > lower) {
		return n, fmt.Errorf("fittest: the upper threshold (%g V) must lie above the lower (%g V)", upper, lower)
	}
	return n, nil
}

// thresholds gives the node's switching voltages: upper while the output is high, lower while it is low.
func (n Network) thresholds() (upper, lower float64) {
	switch n.Circuit {
	case Comparator:
		return n.Reference + n.Feedback*(n.OutputHigh-n.Reference), n.Reference + n.Feedback*(n.OutputLow-n.Reference)
	case Multivibrator:
		return n.BaseEmitter, n.BaseEmitter - (n.Supply - n.Saturation)
	}
	return n.Upper * n.Supply, n.Lower * n.Supply
}

// board is the circuit as it is wired.
func (n Network) board() *Board {
	upper, lower := n.thresholds()
	b := &Board{Held: map[string]float64{"supply": n.Supply}, Draws: map[string]float64{"node": n.Bias}, Output: "output", High: n.OutputHigh, Low: n.OutputLow,
		Saturation: n.Saturation, Ohm: n.OnResistance + n.Weak, Capacitors: []Two{{"node", "ground", n.C}}, DelayFall: n.DelayFall, Delay: n.DelayRise,
		FallWhen: []Test{{Left: "node", LeftBy: 1, RightBy: upper}}, RiseWhen: []Test{{LeftBy: lower, Right: "node", RightBy: 1}}}
	if n.Contact > 0 {
		b.Capacitors[0].A, b.Resistors = "lead", []Two{{"node", "lead", n.Contact}}
	}
	if n.Leak > 0 {
		b.Resistors = append(b.Resistors, Two{"node", "ground", n.Leak})
	}
	if n.Stray > 0 {
		b.Capacitors = append(b.Capacitors, Two{"node", "ground", n.Stray})
	}
	switch {
	case n.Circuit == AstableDiode:
		b.Diodes = []Two{{"pin", "node", n.Diode}}
		fallthrough
	case n.Circuit == Astable && n.R2 > 0:
		b.Resistors, b.Switch = append(b.Resistors, Two{"supply", "pin", n.R1}, Two{"pin", "node", n.R2}), "pin"
	case n.Circuit == Astable, n.Circuit == Monostable:
		b.Resistors, b.Switch = append(b.Resistors, Two{"supply", "node", n.R1}), "node"
	default:
		b.Resistors = append(b.Resistors, Two{"output", "node", n.R1})
	}
	return b
}

// base is a half of the multivibrator: the base that the other transistor, as it turns on, drives below ground through the
// capacitor on its collector, which has come back for the time of the other half, so that it turns its own off until the resistor
// has charged it again. The fall alone counts, which is less by what is lost: what the capacitor holds besides leaves the base alone.
func (n Network) base(ohm, farad, other, lost float64) *Board {
	swing := (n.recovered(farad, other) - n.Saturation) * (1 - lost/(n.Supply-n.Saturation))
	b := &Board{Held: map[string]float64{"supply": n.Supply}, Draws: map[string]float64{"base": n.Bias}, Output: "collector", High: n.Supply - swing, Low: n.Supply,
		Resistors: []Two{{"supply", "base", ohm}}, Capacitors: []Two{{"base", "collector", farad}}, Diodes: []Two{{"base", "ground", n.BaseEmitter}},
		FallWhen: []Test{{Left: "base", LeftBy: 1, RightBy: n.BaseEmitter}}}
	if n.Leak > 0 {
		b.Resistors = append(b.Resistors, Two{"base", "collector", n.Leak})
	}
	if n.Breakdown > 0 {
		b.Diodes = append(b.Diodes, Two{"ground", "base", n.Breakdown})
	}
	return b
}

// recovered is the voltage of a collector whose transistor has been off for so long, by the classical Runge-Kutta method.
func (n Network) recovered(farad, off float64) float64 {
	tau := n.Collector * farad
	if !(tau > 0) || off > 60*tau {
		return n.Supply
	}
	steps := int(100*off/tau) + 1
	v, h := n.Saturation, off/tau/float64(steps)
	slope := func(v float64) float64 { return n.Supply - v }
	for range steps {
		a := slope(v)
		b := slope(v + h/2*a)
		c := slope(v + h/2*b)
		v += h / 6 * (a + 2*b + 2*c + slope(v+h*c))
	}
	return v
}

// Integrate gives the output's high and low time in seconds in the steady cycle, with a relative error below 1e-10 as long
// as the thresholds aren't approached at a crawl. The monostable gives the pulse that follows a trigger, and a low time of
// 0. A circuit that doesn't run gives a *StopError; a Network without meaning another error.
func Integrate(n Network) (high, low float64, err error) {
	if n, err = n.withDefaults(); err != nil {
		return 0, 0, err
	}
	switch n.Circuit {
	case Monostable:
		high, err = n.board().Pulse()
		return high, 0, err
	case Multivibrator:
		high, low = math.Inf(1), math.Inf(1)
		for range 1000 {
			last := high
			if high, err = n.base(n.R1, n.C, low, n.OutputLow).Pulse(); err != nil {
				return 0, 0, err
			}
			if low, err = n.base(n.R2, n.C2, high, n.Supply-n.OutputHigh).Pulse(); err != nil || n.Collector == 0 {
				return high, low, err
			}
			if last-high < 1e-12*high {
				break
			}
		}
		late, middle := high, (n.Saturation+n.recovered(n.C2, high))/2
		for from := 0.0; late-from > 1e-12*high; { // halve where the output passes midway
			if at := (from + late) / 2; n.recovered(n.C2, at) < middle {
				from = at
			} else {
				late = at
			}
		}
		return high - late, low + late, nil
	}
	return n.board().Cycle(false)
}
