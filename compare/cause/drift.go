package cause

import (
	"math"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// Drifts are by how much a sound part's value differs from one visit to the next at one temperature, as a relative standard
// deviation: some humidity and a little ageing (common practice).
var Drifts = map[string]float64{
	"resistor":     2e-4,
	"c0g":          2e-4,
	"film":         1e-3,
	"ceramic":      5e-3,
	"tantalum":     5e-3,
	"electrolytic": 1e-2,
}

// warmth is the standard deviation of the difference in temperature between two visits of which none is stated, K: ten
// kelvin either way, evenly (common practice).
const warmth = 6

// Drift is the relative standard deviation of a sound part's value from one visit to the next: at one temperature, and by
// what the temperature differs.
func Drift(p fit.Part) float64 {
	return math.Hypot(Drifts[class(p)], warmth*math.Hypot(p.Tempco, TempcoSpread(p)/math.Sqrt(3)))
}

// departures are by how much the second-order terms of a sound timer of a family may differ from one visit to the next, as
// standard deviations in the slot's unit, by warmth and by damp. Thresholds: an astable's period moves by 150 ppm/K where it is
// bipolar (SLFS022A p. 5, SNAS548D 6.5) and by 75 ppm/K where it is CMOS (SNAS558J p. 4). A current into or out of the
// timing node: 5 V across 500 Mohm of damp board, of which the pass limit is 100 Mohm (J-STD-004B). A junction's drop: 2 mV/K, and what else has
// moved changes its current: 0.1 V a decade (diode law from memory), which the law of a board leaves out.
// The others are common practice.
var departures = map[string]map[circuit.Slot]float64{
	fit.Bipolar: {circuit.Upper: 3e-4, circuit.Half: 3e-4, circuit.Bias: 10e-9, circuit.OtherBias: 10e-9, circuit.SwitchVoltage: 3e-3, circuit.SwitchResistance: 2,
		circuit.DelayFall: 3e-8, circuit.DelayRise: 3e-8, circuit.OutputDrop: 0.025, circuit.OutputLow: 3e-3, circuit.BaseEmitter: 0.012, circuit.Breakdown: 0.012},
	fit.CMOS: {circuit.Upper: 1.5e-4, circuit.Half: 1.5e-4, circuit.Bias: 10e-9, circuit.OtherBias: 10e-9, circuit.SwitchResistance: 1,
		circuit.DelayFall: 1e-8, circuit.DelayRise: 1e-8, circuit.OutputDrop: 3e-3, circuit.OutputLow: 3e-3},
	fit.OpAmp: {circuit.Bias: 10e-9, circuit.OtherBias: 10e-9, circuit.DelayFall: 1e-6, circuit.DelayRise: 1e-6, circuit.OutputDrop: 0.02, circuit.OutputLow: 0.02},
}

// Departure is that of a second-order term of a design's family; 0: it stays.
func Departure(c *circuit.Circuit, family string, slot circuit.Slot) float64 {
	if slot == circuit.DiodeDrop || c.IsDrop(slot) {
		return math.Hypot(warmth*2e-3, 0.03)
	}
	return departures[family][slot]
}

// Tempcos are the limits within which the temperature coefficient of a part of that class lies about what is stated,
// 1/K (common practice, from data sheets' class limits).
var Tempcos = map[string]float64{
	"resistor":     100e-6,
	"c0g":          30e-6,
	"film":         300e-6,
	"ceramic":      2000e-6,
	"tantalum":     1000e-6,
	"electrolytic": 2000e-6,
}

// TempcoSpread is the limit of what is not known of a part's temperature coefficient, 1/K: the class's where the design
// states none, a fifth of what it states otherwise.
func TempcoSpread(p fit.Part) float64 {
	if p.Tempco == 0 {
		return Tempcos[class(p)]
	}
	return max(p.Tempco, -p.Tempco) / 5
}
