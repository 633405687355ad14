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

	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/bistable"
	"offbeat/compare/cause"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// reconcileOptions are what `offbeat reconcile` was asked.
type reconcileOptions struct {
	Output   outputFlags
	Capture  captureFlags
	Design   designFlags
	Evidence evidenceFlags
	Keep     keepFlags
	File     string   // the design; empty: the flags
	Captures []string // sources
}

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
version, options, the captures' bytes) is printed as it was, and not worked out again, but for --report and --explain.

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

func (o *reconcileOptions) register(c *cobra.Command) {
	o.Output.register(c)
	o.Capture.register(c)
	o.Design.register(c)
	o.Evidence.register(c)
}

// arguments takes the design and the captures, and refuses what cannot be meant.
func (o *reconcileOptions) arguments(args []string) error {
	o.File, o.Captures = o.Design.split(args)
	switch {
	case o.Design.Circuit == "" && len(o.Design.Parts) > 0 && len(args) == 1:
		return usagef("--circuit is missing beside --part; expected it, or DESIGN CAPTURE...")
	case o.File == "" && o.Design.Circuit == "":
		return usagef("the design is missing; expected DESIGN CAPTURE..., or --circuit and --part")
	case len(o.Captures) == 0 && o.File == "":
		return usagef(noCapture)
	}
	return o.Output.check()
}

// first is the place of the first capture among the plain arguments.
func (o *reconcileOptions) first() int {
	if o.File == "" {
		return 0
	}
	return 1
}

func (o *reconcileOptions) files(*streams.Streams) files {
	f := o.Output.files()
	f.reads("the design", o.File)
	f.reads("a capture", slices.DeleteFunc(slices.Clone(o.Captures), designfile.IsStill)...)
	f.reads("the baseline", o.Evidence.Baseline)
	o.Keep.files(&f)
	return f
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
		known, err := k.station.Whole(ctx, k.board, k.runs)
		if err != nil {
			return err
		}
		if known != nil {
			b := &document.Basis{Design: p.design, Finding: known, Captures: known.Captures}
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

// prepare takes from the design what reading and measuring need to know.
func (o *readOptions) prepare(d *fit.Design, out *outputFlags) error {
	o.clock, o.explain, o.quiet, o.trace, o.runs = d.ClockLimit, out.Explain, out.Quiet, out.Report != "", out.full()
	c, err := circuit.Of(d)
	if err != nil {
		return err
	}
	if c.Latch {
		return o.prepareLatch(d)
	}
	o.onePulse, o.design = c.OnePulse, d
	return o.choose(timedRoles)
}

// finding reconciles what was read, prints the finding, and returns its verdict.
func (o *outputFlags) finding(s *streams.Streams, d *fit.Design, r *reading) error {
	if r.checks != nil && r.keep != nil {
		return usagef("the %s circuit keeps no time, and a ledger keeps times; expected no --ledger", d.Circuit)
	}
	b, err := r.judged(context.Background(), d)
	if err != nil {
		return err
	}
	if r.keep != nil {
		if err := r.keep(b.Finding); err != nil {
			return err
		}
	}
	return o.conclude(s, b)
}

// judged reconciles what was read, or holds it against the truth table where the circuit is a bistable. It
// stops with its context.
func (r *reading) judged(ctx context.Context, d *fit.Design) (b *document.Basis, err error) {
	b = r.basis(d)
	if r.checks == nil {
		b.Finding, b.Evidence, err = r.solve(ctx, d)
		return b, err
	}
	if b.Finding, err = bistable.Judge(d, r.checks); err != nil {
		return nil, err
	}
	b.Finding.Captures = r.captures
	b.Finding.Warnings = append(b.Finding.Warnings, r.warnings...)
	return b, nil
}

// basis is what a document of what was read is made from, before it is reconciled; d is nil where no design judges it.
func (r *reading) basis(d *fit.Design) *document.Basis {
	return &document.Basis{Design: d, Captures: r.captures, Warnings: r.warnings, Measurements: r.measurements, Traces: r.traces, Session: r.heard, Checks: r.checks, Command: r.command, Anew: r.anew}
}

// conclude writes a finding where it is wanted, and returns its verdict.
func (o *outputFlags) conclude(s *streams.Streams, b *document.Basis) error {
	json := jsonOf(b.Finding)
	if b.Session != nil {
		json = jsonOf(&report.HeardFinding{Finding: b.Finding, Session: &b.Session.Session})
	}
	if err := o.deliver(s, answer{Basis: b, JSON: json}); err != nil {
		return err
	}
	return verdictOf(b.Finding)
}

// verdictOf is the exit status of a finding.
func verdictOf(f *compare.Finding) error {
	if f.Verdict.Result == "fail" || f.Verdict.Result == "undecided" {
		return verdictError{f.Verdict.Result}
	}
	return nil
}
