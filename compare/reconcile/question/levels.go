package question

import (
	"fmt"
	"math"
	"slices"

	"offbeat/acquire/quantity"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// Levels of an output that a waveform may show: no further than this share of what lies between the rails beyond either,
// and at least that share of it apart, else the probe's factor or the coupling is set wrong.
const (
	beyondRail = 0.05
	leastSwing = 0.5
)

// OutputSeen is the design with the output's levels as the first waveform of it shows them, where they have a say in the times
// and the design does not state them. Either is as good as the channel's scale and zero. The scale is common to both, so
// that their middle over their difference, which the fact holds, is known better. note says what became of them.
func OutputSeen(d *fit.Design, obs []Observation) (seen *fit.Design, facts []posterior.Fact, note string) {
	c, err := circuit.Of(d)
	if err != nil || d.OutputHigh != nil || d.OutputLow != nil || !c.OutputReaches() {
		return d, nil, ""
	}
	i := slices.IndexFunc(obs, func(o Observation) bool {
		m := o.Measurement
		return !m.Levels.States && !m.Levels.Ramps && m.Levels.Unit == "V" && m.Interval > 0 && !m.Inverted &&
			!slices.ContainsFunc(o.Conditions, func(k fit.Condition) bool { return k.Kind == fit.SupplyAt })
	})
	if i < 0 {
		return d, nil, ""
	}
	l := obs[i].Measurement.Levels
	scale, zero := d.Channel()
	zero *= d.Supply.Value
	span := d.Supply.Value - d.Minus.Value
	swing := l.High - l.Low
	said := fmt.Sprintf("output levels %s and %s", quantity.Format(l.High, quantity.Volt), quantity.Format(l.Low, quantity.Volt))
	if l.High > d.Supply.Value+beyondRail*span || l.Low < d.Minus.Value-beyondRail*span || swing < leastSwing*span {
		return d, nil, said + " as captured do not suit the supply, so they do not count: check the supply, the probe's factor and the coupling"
	}
	level := func(volt float64) *fit.Reading {
		return &fit.Reading{Value: volt, Half: scale*math.Abs(volt) + zero}
	}
	known := *d
	known.OutputHigh, known.OutputLow = level(l.High), level(l.Low)
	of := func(v *circuit.Values) float64 {
		return (v[circuit.OutputHigh] + v[circuit.OutputLow]) / (v[circuit.OutputHigh] - v[circuit.OutputLow])
	}
	middle := posterior.Fact{Of: of, Value: (l.High + l.Low) / swing, Standard: math.Hypot(2*zero/math.Sqrt(3), l.Noise) / swing,
		On: func(*circuit.Circuit) func(v *circuit.Values) float64 { return of }}
	return &known, []posterior.Fact{middle}, said + " count as captured; state others as [timer] output_high and output_low"
}
