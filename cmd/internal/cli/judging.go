package cli

import (
	"context"
	"slices"

	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/bistable"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

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
	if d, err = r.unseen(d); err != nil {
		return nil, err
	}
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

// unseen is the design with what records without a train say of its board: that its output stands still; or, where nothing else was
// read, that no steady train shows in samples too far apart for its pulses. Beside others such are left out, and that is said.
func (r *reading) unseen(d *fit.Design) (*fit.Design, error) {
	seen := *d
	alone := len(r.measurements)+len(d.Stills) == 0
	for i := range r.blanks {
		b := &r.blanks[i]
		if r.evidence != nil {
			b.still.Conditions = r.evidence.with[b.from]
		}
		switch {
		case b.err == nil && !alone:
			r.warnings = append(r.warnings, b.Source+" left out: below two samples a pulse, and no steady train shows")
			continue
		case b.err != nil && !alone && len(b.still.Conditions) == 0:
			return nil, choiceError{b.err, "Another capture shows pulses: leave this one out, or say with --with what was different."}
		case b.err != nil || len(seen.Stills) == 0:
			b.still.Seen = b.still.Seen && alone
			seen.Stills = append(slices.Clone(seen.Stills), b.still)
		}
		r.captures = append(r.captures, b.Capture)
	}
	return &seen, nil
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
