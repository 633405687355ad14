package cli

import (
	"context"

	"github.com/spf13/cobra"

	"offbeat/acquire/stock"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/reconcile"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/retune"
	"offbeat/fit"
)

// retuneOptions are what `offbeat retune` was asked.
type retuneOptions struct {
	reconcileOptions
	Stock string
}

func newRetune(s *streams.Streams, run func(*retuneOptions) error) *cobra.Command {
	o := &retuneOptions{}
	c := worded("retune", func(_ *cobra.Command, args []string) error {
		if err := o.arguments(args); err != nil && (o.File == "" && o.Design.Circuit == "" || len(o.Captures) > 0) {
			return err
		}
		if err := o.Output.check(); err != nil {
			return err
		}
		return perform(run, o, s)
	})
	o.register(c)
	c.Flags().StringVar(&o.Stock, "stock", "", "rank by what is in the stock list `FILE`")
	return c
}

func (o *retuneOptions) files(s *streams.Streams) files {
	f := o.reconcileOptions.files(s)
	f.reads("the stock list", o.Stock)
	return f
}

// retuneRun can be replaced, as solveUntil can.
var retuneRun = retune.Run

func (o *retuneOptions) run(s *streams.Streams) error {
	if len(o.Captures) == 0 {
		d, kept, err := designfile.ReadSession(o.File, o.Design.Flags)
		if err != nil {
			return err
		}
		if len(designfile.On(kept)) == 0 {
			return o.choose(s, d)
		}
	}
	d, r, err := o.readBoard(s)
	if err != nil {
		return err
	}
	if r.checks != nil {
		return usagef("a bistable keeps no time; there is nothing to retune")
	}
	if len(r.measurements) == 0 && len(r.blanks) > 0 && r.blanks[0].err != nil {
		return r.blanks[0].err
	}
	tune, err := o.tuning(d)
	if err != nil {
		return err
	}
	f, e, err := r.solve(context.Background(), d)
	if err != nil {
		return err
	}
	proposals := []compare.Proposal{}
	if reconcile.Slipped(f) == 0 { // else for times that are not the board's
		if proposals, err = retuneRun(d, e, tune); err != nil {
			return err
		}
		f.Warnings = append(f.Warnings, retune.Warnings(d, f)...)
	}
	out := &report.Retuning{Schema: 1, Title: f.Title, Finding: f.Finding, Measured: f.Measured, Verdict: f.Verdict,
		Proposals: proposals, Captures: f.Captures, Warnings: f.Warnings}
	b := r.basis(d)
	b.Finding, b.Evidence, b.Proposals = f, e, proposals
	if err := o.Output.deliver(s, answer{Basis: b, JSON: jsonOf(out)}); err != nil {
		return err
	}
	return verdictOf(f)
}

// tuning are the options of the search; it fails where there is nothing to tune to.
func (o *retuneOptions) tuning(d *fit.Design) (retune.Options, error) {
	if len(d.Targets) == 0 {
		return retune.Options{}, usagef("%v, or --target frequency=138Hz:3%%", retune.ErrNoTarget)
	}
	if o.Stock == "" {
		return retune.Options{}, nil
	}
	items, err := stock.Load(o.Stock)
	return retune.Options{Stock: itemsOf(items)}, err
}

// choose proposes parts for the design itself, no board of which was measured.
func (o *retuneOptions) choose(s *streams.Streams, d *fit.Design) error {
	tune, err := o.tuning(d)
	if err != nil {
		return err
	}
	proposals, err := retune.Choose(d, tune)
	if err != nil {
		return o.Design.blame(d, err)
	}
	notes := append(d.Notes, retune.Warnings(d, nil)...)
	return o.Output.deliver(s, answer{Basis: &document.Basis{Design: d, Proposals: proposals, Warnings: notes},
		JSON: jsonOf(&report.Retuning{Schema: 1, Title: d.Title, Proposals: proposals, Warnings: notes})})
}

// itemsOf hands the stock over; an empty list is a stock too.
func itemsOf(list []stock.Item) []retune.Item {
	out := []retune.Item{}
	for _, i := range list {
		t := retune.Item{Value: i.Value.Value, Count: i.Count, Trimmer: i.Kind == stock.Trimmer}
		if i.Kind == stock.Capacitor {
			t.Kind = fit.Capacitor
		}
		t.Minus, t.Plus = i.Value.Tolerance.RelativeTo(i.Value.Value)
		out = append(out, t)
	}
	return out
}
