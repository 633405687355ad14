package cli

import (
	"io"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/report"
)

// measureOptions are what `offbeat measure` was asked.
type measureOptions struct {
	Output   outputFlags
	Capture  captureFlags
	Single   bool
	Captures []string
}

func newMeasure(s *streams.Streams, run func(*measureOptions) error) *cobra.Command {
	o := &measureOptions{}
	c := &cobra.Command{
		Use:   "measure CAPTURE...",
		Short: "Measure high time, low time, period, frequency and duty factor",
		Long: `Measure finds the state levels, the edges and the whole cycles of each capture, and prints the mean times
with their standard uncertainty (JCGM 100). "-" reads a capture from standard input.

With --channel out=NAME --channel cap=NAME it also fits the capacitor's own voltage: the time constants, both
thresholds and the asymptotes.`,
		Example: `  offbeat measure capture.csv
  offbeat measure probed.csv --channel CH1 --level 1.5V --explain
  offbeat measure probed.csv --channel out=CH1 --channel cap=CH2
  gzip -dc capture.csv.gz | offbeat measure -`,
		RunE: func(_ *cobra.Command, args []string) error {
			o.Captures = args
			if len(args) == 0 {
				return usagef("the capture is missing; expected one file or more, or - for standard input")
			}
			if err := o.Output.check(); err != nil {
				return err
			}
			return perform(run, o, s)
		},
	}
	o.Output.register(c)
	o.Capture.register(c)
	c.Flags().BoolVar(&o.Single, "single", false, "one whole high pulse is enough (a monostable)")
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
	read.explain, read.quiet, read.onePulse, read.trace, read.runs = o.Output.Explain, o.Output.Quiet, o.Single, o.Output.Report != "", o.Output.full()
	r, err := readAll(s, o.Captures, read)
	if err != nil {
		return err
	}
	return o.Output.measured(s, r, o.Capture.Clock)
}

// measured writes what captures say by themselves where it is wanted; clock is as the user gave it.
func (o *outputFlags) measured(s *streams.Streams, r *reading, clock string) error {
	if clock == "" {
		r.warnings = append(r.warnings, designfile.ClockNote())
	}
	if o.CSV != "" {
		if err := writeText(o.CSV, s, func(w io.Writer) error { return report.Rows(w, report.CaptureRows(r.captures)) }); err != nil {
			return err
		}
	}
	if err := o.page(s, report.Page{Captures: r.captures, Measurements: r.measurements, Traces: r.traces, Warnings: r.warnings, Session: r.heard}); err != nil {
		return err
	}
	return printed(o.printMeasured(s, r))
}

func (o *outputFlags) printMeasured(s *streams.Streams, r *reading) error {
	switch {
	case o.instead():
		return nil
	case o.JSON:
		for _, m := range r.measurements {
			r.warnings = append(r.warnings, m.Notes...)
		}
		m := &report.Measurement{Schema: 1, Measured: *r.captures[0].Measured, Waveform: r.captures[0].Waveform, Stability: r.captures[0].Stability, Captures: r.captures, Warnings: r.warnings}
		if r.heard != nil {
			return report.JSON(s.Out, &report.HeardMeasurement{Measurement: m, Session: &r.heard.Session})
		}
		return report.JSON(s.Out, m)
	case o.Quiet:
		return report.Lines(s.Out, r.captures)
	}
	if err := report.Measured(s.Out, r.captures, r.measurements, r.warnings, o.style(s)); err != nil || r.heard == nil {
		return err
	}
	return report.Session(s.Out, r.heard, o.style(s))
}
