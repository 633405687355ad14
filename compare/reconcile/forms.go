package reconcile

import (
	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

// measured puts a measurement's times into the JSON's form.
func measured(c *circuit.Circuit, m *fit.Measurement) compare.Times[compare.Measured] {
	of := func(e fit.Estimate) *compare.Measured {
		return &compare.Measured{Value: e.Value, Uncertainty: e.Uncertainty, Count: e.Count}
	}
	t := compare.Times[compare.Measured]{High: of(m.WithClock(m.High))}
	if c != nil && c.OnePulse || m.Low.Count == 0 {
		return t
	}
	t.Low, t.Period, t.Frequency, t.Duty = of(m.WithClock(m.Low)), of(m.Period()), of(m.Frequency()), of(m.Duty())
	return t
}

// Measured puts a measurement's times into the JSON's form, for a measurement that no design judges.
func Measured(m *fit.Measurement) compare.Times[compare.Measured] { return measured(nil, m) }

// Predicted puts a prediction into the JSON's form.
func Predicted(r *predict.Result) compare.Times[compare.Predicted] {
	of := func(q int) *compare.Predicted {
		b := r.Bands[q]
		return &compare.Predicted{Nominal: b.Nominal, Low: b.Worst[0], High: b.Worst[1], FirstOrder: b.FirstOrder, RSS: b.RSS, MonteCarlo: b.MonteCarlo}
	}
	t := compare.Times[compare.Predicted]{High: of(0)}
	if !r.OnePulse {
		t.Low, t.Period, t.Frequency, t.Duty = of(1), of(2), of(3), of(4)
	}
	return t
}
