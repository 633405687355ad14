package cli

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/creack/pty"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"offbeat/acquire/listen"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/fit/predict"
)

// listenOptions are what `offbeat listen` was asked.
type listenOptions struct {
	Output   outputFlags
	Design   designFlags
	File     string // the design; empty: the flags, or none
	Port     string // "-": standard input
	Baud     int
	Unit     string
	Clock    string
	Channel  string
	Invert   bool
	For      time.Duration // 0: until it ends or is interrupted
	Save     string        // file to keep what is heard in; empty: one named by the time, for a port
	NoSave   bool
	Page     bool
	Ports    bool
	Simulate string // design of the board to simulate
	Terminal bool   // simulate on a pseudo-terminal
	Fast     bool   // simulate as fast as it is read

	kept  string          // the name of the record that --save does not name
	until context.Context // ends it; nil: an interrupt does
}

func newListen(s *streams.Streams, run func(*listenOptions) error) *cobra.Command {
	o := &listenOptions{}
	c := worded("listen", func(_ *cobra.Command, args []string) error {
		if err := o.check(args); err != nil {
			return err
		}
		return perform(run, o, s)
	})
	o.Output.register(c)
	o.Design.register(c)
	f := c.Flags()
	f.StringVar(&o.File, "design", "", "reconcile with the design in `FILE`")
	f.IntVar(&o.Baud, "baud", listen.DefaultBaud, "speed of the port")
	f.StringVar(&o.Unit, "unit", "", "`UNIT` of the printed times: s, ms, us, ns, min, h, or a tick such as 62.5ns or 2MHz")
	f.StringVar(&o.Clock, "clock", "", "the board's `CLOCK`: crystal, ceramic, rc, or a limit such as 50ppm")
	f.StringVar(&o.Channel, "channel", "", "`NAME` of the channel, for lines that name one")
	f.BoolVar(&o.Invert, "invert", false, "swap high and low")
	f.DurationVar(&o.For, "for", 0, "listen for `TIME`, such as 30s")
	f.StringVar(&o.Save, "save", "", "keep what is heard in `FILE` (a port's is kept under the time's name anyway)")
	f.BoolVar(&o.NoSave, "no-save", false, "keep nothing")
	f.BoolVar(&o.Page, "page", false, "show it on a web page too, for this machine alone")
	f.BoolVar(&o.Ports, "ports", false, "list the ports there are")
	f.StringVar(&o.Simulate, "simulate", "", "print what a board on the circuit of `DESIGN` would print")
	f.BoolVar(&o.Terminal, "pty", false, "simulate on a pseudo-terminal and say its name, in place of standard output")
	f.BoolVar(&o.Fast, "fast", false, "simulate as fast as the lines are read")
	return c
}

// check looks for contradictions and takes the argument.
func (o *listenOptions) check(args []string) error {
	if err := o.Output.check(); err != nil {
		return err
	}
	alone := o.Ports || o.Simulate != ""
	switch {
	case o.Ports && o.Simulate != "":
		return usagef("--ports and --simulate exclude each other")
	case alone && len(args) > 0:
		return usagef("%q is one argument too many: --ports and --simulate listen to nothing", args[0])
	case len(args) > 1:
		return usagef("%q is one argument too many; expected one PORT, or - for standard input", args[1])
	case !alone && len(args) == 0:
		return usagef("the port is missing; expected PORT, or - for standard input; offbeat listen --ports lists the ports")
	case (o.Terminal || o.Fast) && o.Simulate == "":
		return usagef("--pty and --fast belong to --simulate")
	case o.Baud <= 0:
		return usagef("--baud %d; expected a speed such as %d", o.Baud, listen.DefaultBaud)
	case o.For < 0:
		return usagef("--for %v; expected a time such as 30s", o.For)
	case o.NoSave && o.Save != "":
		return usagef("--save and --no-save exclude each other")
	}
	if o.Unit != "" {
		if err := listen.CheckUnit(o.Unit); err != nil {
			return usagef("--%w", err)
		}
	}
	if len(args) == 1 {
		o.Port = args[0]
	}
	return nil
}

// simulate prints what a board on the design's circuit would print.
func (o *listenOptions) simulate(ctx context.Context, s *streams.Streams) error {
	d, err := designfile.Read(o.Simulate, o.Design.Flags)
	if err != nil {
		return err
	}
	r, err := predict.Run(d)
	if err != nil {
		return err
	}
	high := r.Bands[0].Nominal
	low := high // of a single pulse: it is triggered once in two pulses' time
	if !r.OnePulse {
		low = r.Bands[1].Nominal
	}
	out := s.Out
	if o.Terminal {
		master, err := terminal(s)
		if err != nil {
			return err
		}
		defer master.Close()
		out = master
	}
	done := make(chan error, 1)
	go func() {
		done <- listen.Simulate(ctx, out, listen.SimulateOptions{Times: listen.Constant(high, low), Jitter: jitter, Banner: true, Pace: !o.Fast, For: o.For.Seconds()})
	}()
	select {
	case err = <-done:
	case <-ctx.Done(): // a write that nobody reads is not waited for
	}
	return printed(err)
}

// jitter in s of a simulated edge: a microsecond, as interrupts of a small board have.
const jitter = 1e-6

// terminal makes a pseudo-terminal and says the name of its other end.
func terminal(s *streams.Streams) (io.WriteCloser, error) {
	master, tty, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("no pseudo-terminal on this system: %w; leave --pty out and pipe the lines instead", err)
	}
	// The other end stays open here too: listeners may come and go.
	if _, err := term.MakeRaw(int(tty.Fd())); err != nil {
		return nil, fmt.Errorf("the pseudo-terminal can't be set up: %w", err)
	}
	fmt.Fprintf(s.Err, "Simulating on %s\n", tty.Name())
	return master, nil
}
