package cli

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/document"
	"offbeat/fit/predict"
)

// causeKinds lists what can be wrong with a board.
func causeKinds() string {
	var kinds []string
	for _, c := range cause.All() {
		kinds = append(kinds, c.Kind)
	}
	return strings.Join(kinds, ", ")
}

// newReconcile builds the command; run stands in for the real work in tests.
func newReconcile(s *streams.Streams, run func(*reconcileOptions) error) *cobra.Command {
	o := &reconcileOptions{}
	c := &cobra.Command{
		Use:   "reconcile DESIGN CAPTURE...",
		Short: "Say which part has moved, from a design and captures of one board",
		Long: `Reconcile measures the captures of one board, sets the times against the design, and says which cause
explains them: ` + causeKinds() + `.

Of a bistable it checks the truth table, from a logic capture of output, set and reset.

With --channel out=NAME --channel cap=NAME the capacitor's own voltage counts too: what it shows of thresholds, leak
and discharge is measured then, and tells a moved threshold from a moved part.

Several captures of one board add up. --with before a capture says what was special about it (help conditions), and
--baseline asks what has moved since an earlier result of the same board, and --was the same where no result was kept.

"-" reads a capture from standard input. --circuit, --part and --supply stand for a DESIGN; with a DESIGN
they change what it says.

--ledger keeps the result, under the name that --board gives. What stands there under the same key (board, lot, design,
version, options, the captures' bytes and conditions) is printed as it was, and not worked out again, but for --report and
--explain. A board that offbeat lot kept is not worked out again either; what to measure next is not among what that keeps.

Exit status: 0 on target or no target, 1 off target, 2 wrong usage, 3 input not read, 4 undecided.`,
		Example: `  offbeat reconcile lamp.toml capture.csv
  offbeat reconcile --circuit astable --part R1=10k:1% --part R2=47k:1% --part C1=100n:10% --supply 5V capture.csv
  offbeat reconcile lamp.toml capture.csv --reading R2=46.93k:0.3% --json
  offbeat reconcile lamp.toml capture.csv --with "C1 || 100n ± 1 %" again.csv
  offbeat reconcile lamp.toml probed.csv --channel out=CH1 --channel cap=CH2
  offbeat reconcile lamp.toml today.csv --baseline spring.json
  offbeat reconcile lamp.toml today.csv --was frequency=138Hz:2%
  offbeat reconcile bridge.toml logic.csv --channel out=Q --channel set=S --channel reset=R`,
		RunE: func(c *cobra.Command, args []string) error {
			o.Keep.typed = given(c, slices.Concat(o.Capture.names(), []string{"with", "look", "baseline"}))
			if err := o.arguments(args); err != nil {
				return err
			}
			return perform(run, o, s)
		},
	}
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
