package cli

import (
	"errors"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/acquire/recognise"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/report/text"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// outputFlags say how a command prints.
type outputFlags struct {
	JSON    bool
	CSV     string
	Report  string
	Explain bool
	Quiet   bool
}

func (o *outputFlags) register(c *cobra.Command) {
	f := c.Flags()
	f.BoolVar(&o.JSON, "json", false, "print JSON instead of text")
	f.StringVar(&o.CSV, "csv", "", "also write the numbers as a CSV table to `FILE`")
	f.StringVar(&o.Report, "report", "", "also write an illustrated page to `FILE.html`")
	f.BoolVar(&o.Explain, "explain", false, "say what was recognised and why, and where uncertainties come from")
	f.BoolVar(&o.Quiet, "quiet", false, "print one line only, and no progress")
}

func (o *outputFlags) check() error {
	if o.JSON && o.Quiet {
		return usagef("--json and --quiet exclude each other")
	}
	if o.CSV == "-" && o.Report == "-" {
		return usagef("--csv - and --report - both want standard output; expected a file's name for one of them")
	}
	return nil
}

// files are what the command's results are written to.
func (o *outputFlags) files() (f files) {
	f.writes("--csv", o.CSV)
	f.writes("--report", o.Report)
	return f
}

// instead says that standard output is taken by a table or a page, in place of the text.
func (o *outputFlags) instead() bool { return o.CSV == "-" || o.Report == "-" }

// full says that more than one line is wanted somewhere.
func (o *outputFlags) full() bool { return !o.Quiet || o.CSV != "" || o.Report != "" }

// style is how text looks on these streams.
func (o *outputFlags) style(s *streams.Streams) text.Style {
	return text.Style{Width: s.Width, Color: s.Color, Explain: o.Explain}
}

// captureFlags override what is recognised in a capture.
type captureFlags struct {
	TimeUnit, Interval, Delimiter, Level, Shape, Clock string
	Channels                                           []string
	Invert, Single                                     bool
	Record                                             string
}

func (f *captureFlags) register(c *cobra.Command) {
	g := c.Flags()
	g.StringVar(&f.TimeUnit, "time-unit", "", "`UNIT` of the time column: s, ms, us, ns, min, h, day")
	g.StringVar(&f.Interval, "interval", "", "sample interval `TIME`, such as 50us, where the file has none")
	g.StringArrayVar(&f.Channels, "channel", nil, "the output's channel by `NAME|NUMBER` from 1; or ROLE=NAME: out, cap (capacitor), temperature, set, reset (bistable)")
	g.StringVar(&f.Delimiter, "delimiter", "", "cells are parted by `MARK`: , ; | : tab or space")
	g.BoolVar(&f.Invert, "invert", false, "swap high and low")
	g.StringVar(&f.Level, "level", "", "reference level `VOLT`, such as 1.5V (default half way between the state levels)")
	g.StringVar(&f.Shape, "shape", "", "read the file as `SHAPE`: see offbeat help captures")
	g.BoolVar(&f.Single, "single", false, "one whole cycle, or one whole high pulse of a monostable, is enough")
	g.StringVar(&f.Record, "record", "", "only record `NUMBER` of the file, counted from 1")
	f.registerClock(c)
}

func (f *captureFlags) registerClock(c *cobra.Command) {
	c.Flags().StringVar(&f.Clock, "clock", "", "the instrument's `CLOCK`: crystal, ceramic, rc, or a limit such as 50ppm")
}

// oneOf checks a flag that takes a word of a list.
func oneOf(flag, value string, allowed []string) error {
	if value == "" || slices.Contains(allowed, value) {
		return nil
	}
	did := designfile.Meant("; ", value, allowed)
	return usagef("--%s %q; expected one of %s%s", flag, value, strings.ReplaceAll(strings.Join(allowed, ", "), ",, ;,", `"," ";"`), did)
}

// What --time-unit and --delimiter take.
var (
	timeUnits  = []string{"s", "ms", "us", "ns", "min", "h", "day"}
	delimiters = []string{",", ";", "|", ":", "tab", "space"}
)

// options turns the flags into the reader's and the fit's options.
func (f *captureFlags) options() (readOptions, error) {
	o := readOptions{single: f.Single, Options: acquire.Options{TimeUnit: f.TimeUnit, Delimiter: f.Delimiter, Invert: f.Invert, Shape: f.Shape}}
	for _, w := range []struct {
		flag, value string
		allowed     []string
	}{
		{"time-unit", f.TimeUnit, timeUnits},
		{"delimiter", f.Delimiter, delimiters},
		{"shape", f.Shape, recognise.ShapeNames()},
	} {
		if err := oneOf(w.flag, w.value, w.allowed); err != nil {
			return o, err
		}
	}
	if f.Record != "" {
		n, err := strconv.Atoi(f.Record)
		if err != nil || n < 1 {
			return o, usagef("--record %q; expected a number from 1", f.Record)
		}
		o.Record = n
	}
	if f.Interval != "" {
		q, err := quantity.Parse(f.Interval, quantity.Second)
		if err == nil && q.Tolerance.Given() {
			err = errors.New("a tolerance on the interval; expected the interval alone")
		}
		if err != nil {
			return o, typed("--interval", err)
		}
		o.Interval = q.Value
	}
	if f.Level != "" {
		v, err := quantity.ParseSigned(f.Level, quantity.Volt)
		if err != nil {
			return o, typed("--level", err)
		}
		o.level, o.levelSet = v, true
	}
	var err error
	o.roles, err = roles(f.Channels)
	return o, err
}

// typed is a fault in the value of a flag.
func typed(flag string, err error) error { return usage(&flagError{flag, err}) }

type flagError struct {
	flag string
	err  error
}

func (e *flagError) Error() string { return e.flag + ": " + e.err.Error() }
func (e *flagError) Unwrap() error { return e.err }

// kindsOfValue are what a flag expects, by the type that the flags' library gives it.
var kindsOfValue = map[string]string{"int": "a whole number", "float64": "a number", "duration": "a time such as 30s or 5m", "bool": "true or false"}

// flagFault says of a flag that the library could not read what was expected.
func flagFault(c *cobra.Command, err error) error {
	var invalid *pflag.InvalidValueError
	var missing *pflag.ValueRequiredError
	var unknown *pflag.NotExistError
	switch {
	case errors.As(err, &invalid):
		if kind, ok := kindsOfValue[invalid.GetFlag().Value.Type()]; ok {
			return usagef("--%s %q; expected %s", invalid.GetFlag().Name, invalid.GetValue(), kind)
		}
	case errors.As(err, &missing):
		name, _ := pflag.UnquoteUsage(missing.GetFlag())
		return usagef("--%s has no value; expected --%s %s", missing.GetFlag().Name, missing.GetFlag().Name, name)
	case errors.As(err, &unknown):
		var names []string
		c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		name := "--" + unknown.GetSpecifiedName()
		if unknown.GetSpecifiedShortnames() != "" {
			name = "-" + unknown.GetSpecifiedName()
		}
		did := "its page lists them"
		if n := designfile.Nearest(unknown.GetSpecifiedName(), names); n != "" {
			did = "did you mean --" + strings.ReplaceAll(n, " or ", " or --") + "?"
		}
		return usagef("%s has no option %s; %s", c.CommandPath(), name, did)
	}
	return usage(err)
}

// designFlags stand for a design file, or change one.
type designFlags struct{ designfile.Flags }

func (f *designFlags) register(c *cobra.Command) {
	g := c.Flags()
	g.StringVar(&f.Circuit, "circuit", "", "the circuit `NAME`, in place of a design file: see offbeat help design")
	g.StringArrayVar(&f.Parts, "part", nil, "`NAME=VALUE` of a part, such as R1=10k:1% (repeatable)")
	g.StringVar(&f.Supply, "supply", "", "the supply `VOLT`, such as 5V:2%")
	g.StringArrayVar(&f.Was, "was", nil, "`NAME=VALUE` of what the board used to show while it was right, such as frequency=138Hz:3% (repeatable)")
	g.StringArrayVar(&f.Targets, "target", nil, "`NAME=VALUE` of a wanted quantity, such as frequency=138Hz:3% (repeatable)")
	g.StringArrayVar(&f.Readings, "reading", nil, "`NAME=VALUE` of a direct reading, such as R2=46.93k:0.3% (repeatable)")
	g.StringArrayVar(&f.Tolerances, "tolerance", nil, "`KIND=TOLERANCE` of the parts that have none of their own: R=1% or C=10% (repeatable)")
	g.StringVar(&f.Family, "family", "", "the device's `FAMILY`: bipolar, cmos, opamp or ideal")
	g.StringVar(&f.Scale, "channel-scale", "", "`LIMIT` of the scale of the channel that shows the capacitor (default 3%)")
	g.StringVar(&f.Zero, "channel-zero", "", "`LIMIT` of its zero, as a share of the supply (default 1%)")
	g.StringVar(&f.Inputs, "inputs", "", "at which `LEVEL` a bistable's inputs act: \"active low\" or \"active high\"")
	g.StringVar(&f.History, "history", "", "`HISTORY` of the board: new, or worked (it used to be right)")
}

// split takes the design's name off the arguments; with --circuit there is none.
func (f *designFlags) split(args []string) (design string, rest []string) {
	if f.Circuit != "" || len(args) == 0 {
		return "", args
	}
	return args[0], args[1:]
}

// blame makes a design that stands on the command line, and does not run, wrong usage.
func (f *designFlags) blame(d *fit.Design, err error) error {
	var stands *predict.StandsError
	if d.File == "" && errors.As(err, &stands) {
		return usage(err)
	}
	return err
}

// noArguments is for commands that take none.
func noArguments(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	var names []string
	for _, s := range c.Commands() {
		if s.IsAvailableCommand() || !s.Runnable() && s.Long != "" {
			names = append(names, s.Name())
		}
	}
	if len(names) == 0 {
		return usagef("%s takes no argument %q", c.CommandPath(), args[0])
	}
	return usagef("no command or topic %q; expected one of %s%s", args[0], strings.Join(names, ", "), designfile.Meant("; ", args[0], names))
}
