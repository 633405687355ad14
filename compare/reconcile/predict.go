package reconcile

import (
	"fmt"
	"strings"

	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/predict"
)

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
