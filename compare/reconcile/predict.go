package reconcile

import (
	"fmt"
	"strings"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

// Predict predicts a design under conditions, such as a probe across the capacitor; what is known of them counts as
// exact, and a warning says so.
func Predict(d *fit.Design, conditions []fit.Condition) (*predict.Result, error) {
	if len(conditions) == 0 {
		return predict.Run(d)
	}
	b, err := cause.NewBoard(d)
	if err != nil {
		return nil, err
	}
	checked, err := checked(b.Circuit, conditions)
	if err != nil {
		return nil, err
	}
	known, set := &bench{board: b}, []setting{{conditions: checked}}
	if err := hang(b, set); err != nil {
		return nil, err
	}
	act := known.adjust(&set[0], 0)
	extra := make([]float64, len(known.all))
	for i, u := range known.all {
		extra[i] = u.reading.Value
	}
	r, err := predict.RunWith(d, b.Circuit, func(v *circuit.Values) { act(v, extra) })
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
