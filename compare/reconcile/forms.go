package reconcile

import (
	"fmt"
	"strings"

	"offbeat/compare"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

// measured puts a measurement's times into the JSON's form.
func measured(c *circuit.Circuit, m *fit.Measurement) compare.Times[compare.Measured] {
	all := m.Each()
	return compare.TimesOf(c != nil && c.OnePulse || m.Low.Count == 0, func(i int) *compare.Measured {
		return &all[i]
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

// Predict predicts a design under conditions, such as a probe across the capacitor; what is known of them counts as
// exact, and a warning says so.
func Predict(d *fit.Design, conditions []fit.Condition) (*predict.Result, error) {
	if len(conditions) == 0 {
		return predict.Run(d)
	}
	c, act, err := question.Adjusted(d, conditions)
	if err != nil {
		return nil, err
	}
	r, err := predict.RunWith(d, c, act)
	if err != nil {
		return nil, err
	}
	var with []string
	for _, c := range conditions {
		with = append(with, c.Text)
	}
	r.Warnings = append(r.Warnings, fmt.Sprintf("predicted with %s; the limits of that are not counted", strings.Join(with, " and ")))
	return r, nil
}
