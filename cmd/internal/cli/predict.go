package cli

import (
	"errors"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/reconcile"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// predictOptions are what `offbeat predict` was asked.
type predictOptions struct {
	Output outputFlags
	Design designFlags
	With   []string // conditions
	File   string
}

func newPredict(s *streams.Streams, run func(*predictOptions) error) *cobra.Command {
	o := &predictOptions{}
	c := worded("predict", func(_ *cobra.Command, args []string) error {
		var rest []string
		o.File, rest = o.Design.split(args)
		switch {
		case o.File == "" && o.Design.Circuit == "":
			return usagef("the design is missing; expected DESIGN, or --circuit and --part")
		case len(rest) > 0:
			return usagef("%q is one argument too many; expected one DESIGN, or none with --circuit", rest[0])
		}
		if err := o.Output.check(); err != nil {
			return err
		}
		return perform(run, o, s)
	})
	o.Output.register(c)
	o.Design.register(c)
	c.Flags().StringArrayVar(&o.With, "with", nil, "predict under a `CONDITION`, such as a probe: \"C1 || 10M\" (repeatable; see offbeat help conditions)")
	return c
}

func (o *predictOptions) files(*streams.Streams) files {
	f := o.Output.files()
	f.reads("the design", o.File)
	return f
}

func (o *predictOptions) run(s *streams.Streams) error {
	d, err := designfile.Read(o.File, o.Design.Flags)
	if err != nil {
		return err
	}
	var with []fit.Condition
	for _, text := range o.With {
		w, err := designfile.Condition(text, d)
		if err != nil {
			return err
		}
		with = append(with, w)
	}
	r, err := reconcile.Predict(d, with)
	if stands, ok := errors.AsType[*predict.StandsError](err); ok {
		if err := o.Output.deliver(s, answer{Basis: &document.Basis{Design: d, Stands: stands.Why, Warnings: d.Notes},
			JSON: jsonOf(&report.Prediction{Schema: 1, Title: d.Title, Stands: stands.Why, Budget: []report.BudgetRow{}, Warnings: append([]string{}, d.Notes...)})}); err != nil {
			return err
		}
		return verdictError{"fail"}
	}
	if err != nil {
		return err
	}
	warnings := append(append([]string{}, d.Notes...), r.Warnings...)
	yields, _ := r.Yields(d.Targets)
	return o.Output.deliver(s, answer{Basis: &document.Basis{Design: d, Prediction: r, Warnings: d.Notes},
		JSON: jsonOf(&report.Prediction{Schema: 1, Title: d.Title, Predicted: reconcile.Predicted(r), Yield: yields, Budget: report.Budget(r), Warnings: warnings})})
}
