package retune

import (
	"slices"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// pin is what a timer's pin bears: amperes at two supplies, straight between them and level beyond.
type pin struct {
	volts, amperes [2]float64
}

func (p pin) at(supply float64) float64 {
	x := min(max((supply-p.volts[0])/(p.volts[1]-p.volts[0]), 0), 1)
	return p.amperes[0] + x*(p.amperes[1]-p.amperes[0])
}

// Limits of the pins by family, the most conservative of the data sheets: the discharge pin keeps its specified saturation
// up to 4.5 mA at 5 V and 15 mA at 15 V (ST Doc ID 2182 rev 6, table 3); the output of a bipolar timer is rated for 200 mA
// (the same, page 3; Diodes DS35112), both pins of a CMOS timer for 100 mA (the lowest absolute maximum).
var (
	discharge = map[string]pin{fit.Bipolar: {[2]float64{5, 15}, [2]float64{4.5e-3, 15e-3}}, fit.CMOS: {[2]float64{5, 15}, [2]float64{0.1, 0.1}}}
	output    = map[string]pin{fit.Bipolar: {[2]float64{5, 15}, [2]float64{0.2, 0.2}}, fit.CMOS: {[2]float64{5, 15}, [2]float64{0.1, 0.1}}}
)

// overloads says whether resistors draw more from a timer's pin than its family bears: through the discharge pin flows what
// comes from the supply and what comes from the capacitor, at most two thirds of the supply, each through its own resistor;
// the output of a circuit without that pin drives each resistor with the whole supply. A family that is not said counts as
// the weaker one.
func overloads(c *circuit.Circuit, family string, v *circuit.Values) bool {
	if _, ok := discharge[family]; !ok {
		family = fit.Bipolar
	}
	supply := v[circuit.Supply]
	r := c.Resistors()
	switch {
	case slices.Contains(c.Terms, circuit.SwitchResistance):
		current := 0.0
		for i, k := range r {
			from := supply
			if i > 0 { // from the capacitor
				from = supply * 2 / 3
			}
			current += from / v[k]
		}
		return current > discharge[family].at(supply)*hair
	case slices.Contains(c.Terms, circuit.OutputDrop):
		for _, k := range r {
			if supply/v[k] > output[family].at(supply)*hair {
				return true
			}
		}
	}
	return false
}

// hair lets a value pass that stands at the limit itself.
const hair = 1 + 1e-9

// changesResistor says whether a candidate puts another resistance on the board.
func (t *tuner) changesResistor(k *candidate) bool {
	return k.exchange || slices.ContainsFunc(k.moves, func(m move) bool { return t.circuit.Parts[m.part].Kind == fit.Resistor })
}
