package lot

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"

	"offbeat/acquire/manifest"
	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/workers"
)

// Outcome is what became of one board.
type Outcome struct {
	Board   *Board
	Finding *compare.Finding
	Each    []Measured // one a record that was measured
	Err     error      // why the board could not be judged; Finding is nil then
	Silent  bool       // a capture was read and shows no pulses: the board fails, and the Finding says so alone
}

// Measured is one record of one capture.
type Measured struct {
	Entry       *manifest.Entry
	Measurement *fit.Measurement
}

// Work reads, measures and reconciles one board. It may be called from several goroutines at once.
type Work func(ctx context.Context, b *Board) (*compare.Finding, []Measured, error)

// Known is the error of a Work that knows already what became of the board.
type Known struct{ Outcome *Outcome }

func (*Known) Error() string { return "known already" }

// RunOptions bound a run. The zero value is the default.
type RunOptions struct {
	Workers  int                   // boards worked on at once; 0: as many as there are processors
	Progress func(done, total int) // after each board, from one goroutine; nil: silent
}

// ahead is how many boards a worker may be ahead of the slowest one: it bounds what is kept in memory.
const ahead = 4

// Run works through the boards and hands each outcome to sink, in the boards' order and from one goroutine. A
// board that fails, or even panics, is an outcome with Err; an error of sink or the context ends the run.
func Run(ctx context.Context, boards []Board, work Work, opt RunOptions, sink func(*Outcome) error) error {
	workers := opt.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	ctx, cancel := context.WithCancel(ctx)
	var group sync.WaitGroup
	defer group.Wait()
	defer cancel()                                       // before the wait, so that a run that ends early does not hang on its workers
	begun := make(chan chan *Outcome, (ahead-1)*workers) // in the boards' order
	busy := make(chan struct{}, workers)
	group.Go(func() {
		defer close(begun)
		for i := range boards {
			select {
			case busy <- struct{}{}:
			case <-ctx.Done():
				return
			}
			done := make(chan *Outcome, 1)
			group.Go(func() {
				done <- one(ctx, &boards[i], work)
				<-busy
			})
			select {
			case begun <- done:
			case <-ctx.Done():
				return
			}
		}
	})
	handed := 0
	for done := range begun {
		select {
		case o := <-done:
			if err := sink(o); err != nil {
				return err
			}
		case <-ctx.Done():
			return ctx.Err()
		}
		if handed++; opt.Progress != nil {
			opt.Progress(handed, len(boards))
		}
	}
	if handed == len(boards) {
		return nil
	}
	return ctx.Err()
}

// one works on a single board.
func one(ctx context.Context, b *Board, work Work) (o *Outcome) {
	o = &Outcome{Board: b}
	defer func() {
		if err := workers.Caught(recover()); err != nil {
			o.Finding, o.Each, o.Err = nil, nil, err
		}
	}()
	o.Finding, o.Each, o.Err = work(ctx, b)
	if k := (*Known)(nil); errors.As(o.Err, &k) {
		return k.Outcome
	}
	if errors.Is(o.Err, measure.ErrFlat) {
		o.silence()
	} else if o.Err != nil {
		o.Finding = nil
	} else if o.Finding == nil {
		o.Err = fmt.Errorf("nothing was measured")
	}
	return o
}

// silence makes a board that shows no pulses one that fails: nothing about it is open.
func (o *Outcome) silence() {
	why := o.Err.Error()
	o.Finding = &compare.Finding{Finding: "No pulses: the board fails.", Verdict: compare.Verdict{Result: "fail", Rule: "a board without pulses is nonconforming"}, Warnings: []string{why}}
	o.Each, o.Err, o.Silent = nil, nil, true
}
