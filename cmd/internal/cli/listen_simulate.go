package cli

import (
	"context"
	"fmt"
	"io"

	"github.com/creack/pty"
	"golang.org/x/term"

	"offbeat/acquire/listen"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/fit/predict"
)

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
