package reconcile

import (
	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

// measured puts a measurement's times into the JSON's form.
func measured(c *circuit.Circuit, m *fit.Measurement) compare.Times[compare.Measured] {
	all := m.Each()
	return compare.TimesOf(c != nil && c.OnePulse || m.Low.Count == 0, func(i int) *compare.Measured {
		of := compare.Measured(all[i])
		return &of
	})
}

// Measured puts a measurement's times into the JSON's form, for a measurement that no design judges.
func Measured(m *fit.Measurement) compare.Times[compare.Measured] { return measured(nil, m) }

// Predicted puts a prediction into the JSON's form.
func Predicted(r *predict.Result) compare.Times[compare.Predicted] {
	return compare.TimesOf(r.OnePulse, func(i int) *compare.Predicted {
		b := r.Bands[i]
		return &compare.Predicted{Nominal: b.Nominal, Low: b.Worst[0], High: b.Worst[1], FirstOrder: b.FirstOrder, RSS: b.RSS, MonteCarlo: b.MonteCarlo}
	})
}
