package cli

import (
	"context"

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
	d = r.unseen(d)
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

// unseen is the design where nothing but records was read whose samples lie too far apart for its pulses: that no steady train
// shows in them is then all that is known. Beside others they are left out, and that is said.
func (r *reading) unseen(d *fit.Design) *fit.Design {
	switch seen := *d; {
	case len(r.coarse) == 0:
		return d
	case len(r.measurements) > 0 || len(d.Stills) > 0:
		for _, c := range r.coarse {
			r.warnings = append(r.warnings, c.Source+" left out: below two samples a pulse, and no steady train shows")
		}
		r.coarse = nil
		return d
	default:
		var with []fit.Condition
		if r.evidence != nil {
			with = r.evidence.with[0]
		}
		r.captures, seen.Stills = r.coarse, []fit.Still{{Interval: r.interval, Conditions: with}}
		return &seen
	}
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
