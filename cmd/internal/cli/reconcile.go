package cli

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/document"
	"offbeat/fit/predict"
)

// newReconcile builds the command; run stands in for the real work in tests.
func newReconcile(s *streams.Streams, run func(*reconcileOptions) error) *cobra.Command {
	o := &reconcileOptions{}
	c := worded("reconcile", func(c *cobra.Command, args []string) error {
		o.Keep.typed = given(c, slices.Concat(o.Capture.names(), []string{"with", "look", "baseline"}))
		if err := o.arguments(args); err != nil {
			return err
		}
		return perform(run, o, s)
	})
	o.register(c)
	o.Keep.register(c)
	return c
}

func (o *reconcileOptions) run(s *streams.Streams) error {
	p, err := o.plan(s)
	if err != nil {
		return err
	}
	if o.Keep.Ledger == "" {
		return o.judge(s, p, nil)
	}
	ctx, stop := untilInterrupted()
	defer stop()
	k, err := o.keeper(ctx, p)
	if err != nil {
		return err
	}
	defer k.station.Close()
	if o.Output.Report == "" && !o.Output.Explain { // pictures, and how a capture was read, need the capture
		known, whole, err := k.station.Finding(ctx, k.board, k.runs)
		if err != nil {
			return err
		}
		if known != nil {
			if !whole {
				known.Warnings = append(known.Warnings, "offbeat lot kept this result, without what to measure next; --explain works it out again, whole")
				if r, err := predict.Run(p.design); err == nil {
					known.Predicted = reconcile.Predicted(r)
				}
			}
			b := &document.Basis{Design: p.design, Finding: known, Brief: !whole, Captures: known.Captures}
			b.Command, b.Anew = o.told(s, p)
			return errors.Join(k.notes(s), o.Output.conclude(s, b))
		}
	}
	return o.judge(s, p, func(r *reading, f *compare.Finding) error { return errors.Join(k.keep(ctx, r, f), k.notes(s)) })
}

// judge reads what was planned, and prints the finding; keep, which may be nil, puts it into a ledger first.
func (o *reconcileOptions) judge(s *streams.Streams, p *planned, keep func(*reading, *compare.Finding) error) error {
	r, err := o.read(s, p)
	if err != nil {
		return err
	}
	if keep != nil {
		r.keep = func(f *compare.Finding) error { return keep(r, f) }
	}
	return o.Design.blame(p.design, o.Output.finding(s, p.design, r))
}

// keeper opens the ledger for what was planned.
func (o *reconcileOptions) keeper(ctx context.Context, p *planned) (*keeper, error) {
	if p.evidence.earlier != nil { // what it says counts, not its name; a pipe is gone once it was read
		text, err := json.Marshal(p.evidence.earlier)
		if err != nil {
			return nil, err
		}
		o.Keep.typed["baseline_sha256"] = fmt.Sprintf("%x", sha256.Sum256(text))
	}
	var captures []string
	for _, src := range p.sources {
		captures = append(captures, src.name)
	}
	return o.Keep.keeper(ctx, p.design, o.File, captures, o.Output.full())
}
