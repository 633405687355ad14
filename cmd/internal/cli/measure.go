package cli

import (
	"github.com/spf13/cobra"

	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
)

// measureOptions are what `offbeat measure` was asked.
type measureOptions struct {
	Output   outputFlags
	Capture  captureFlags
	Captures []string
}

func newMeasure(s *streams.Streams, run func(*measureOptions) error) *cobra.Command {
	o := &measureOptions{}
	c := worded("measure", func(_ *cobra.Command, args []string) error {
		o.Captures = args
		if len(args) == 0 {
			return usagef("the capture is missing; expected one file or more, or - for standard input")
		}
		if err := o.Output.check(); err != nil {
			return err
		}
		return perform(run, o, s)
	})
	o.Output.register(c)
	o.Capture.register(c)
	return c
}

func (o *measureOptions) files(*streams.Streams) files {
	f := o.Output.files()
	f.reads("a capture", o.Captures...)
	return f
}

func (o *measureOptions) run(s *streams.Streams) error {
	read, err := o.Capture.options()
	if err != nil {
		return err
	}
	if err := read.choose(timedRoles); err != nil {
		return err
	}
	if read.clock, err = designfile.ClockLimit(o.Capture.Clock); err != nil {
		return err
	}
	read.explain, read.quiet, read.onePulse, read.trace, read.runs = o.Output.Explain, o.Output.Quiet, o.Capture.Single, o.Output.Report != "", o.Output.full()
	read.charges = true
	r, err := readAll(s, alike(o.Captures, read))
	if err != nil {
		return err
	}
	if len(r.measurements) == 0 && len(r.charges) > 0 {
		if o.Capture.Clock == "" {
			r.warnings = append(r.warnings, designfile.ClockNote())
		}
		return o.Output.deliver(s, answer{Basis: &document.Basis{Charges: r.charges, Warnings: r.warnings}, JSON: jsonOf(&report.Charged{Schema: 1, Charges: r.charges, Warnings: append([]string{}, r.warnings...)})})
	}
	return o.Output.measured(s, r, o.Capture.Clock)
}

// measured writes what captures say by themselves where it is wanted; clock is as the user gave it.
func (o *outputFlags) measured(s *streams.Streams, r *reading, clock string) error {
	if clock == "" {
		r.warnings = append(r.warnings, designfile.ClockNote())
	}
	c, all := r.captures[0], append([]string{}, r.warnings...)
	for _, m := range r.measurements {
		all = append(all, m.Notes...)
	}
	m := &report.Measurement{Schema: 1, Measured: *c.Measured, Waveform: c.Waveform, Stability: c.Stability, Captures: r.captures, Warnings: all}
	json := jsonOf(m)
	if r.heard != nil {
		json = jsonOf(&report.HeardMeasurement{Measurement: m, Session: &r.heard.Session})
	}
	return o.deliver(s, answer{Basis: r.basis(nil), JSON: json})
}
