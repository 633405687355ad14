package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/streams"
	"offbeat/compare/ledger"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
)

// ledgerTask is a command that keeps a ledger in order.
type ledgerTask struct {
	Names []string // of ledgers
	do    func(o *ledgerTask, s *streams.Streams) error
}

func (o *ledgerTask) run(s *streams.Streams) error { return o.do(o, s) }

func (o *ledgerTask) files(*streams.Streams) files {
	var f files
	last := len(o.Names) - 1
	for _, n := range o.Names[:last] {
		f.database(f.reads, "what is sent", n)
	}
	f.database(f.writes, "the ledger", o.Names[last])
	return f
}

func newLedgerTask(s *streams.Streams, run func(*ledgerTask) error, names int, name string, do func(*ledgerTask, *streams.Streams) error) *cobra.Command {
	o := &ledgerTask{do: do}
	return worded("ledger-"+name, func(c *cobra.Command, args []string) error {
		if len(args) != names {
			return usagef("%d arguments were given; expected offbeat ledger %s", len(args), c.Use)
		}
		o.Names = args
		return perform(run, o, s)
	})
}

func newLedgerMigrate(s *streams.Streams, run func(*ledgerTask) error) *cobra.Command {
	return newLedgerTask(s, run, 1, "migrate", func(o *ledgerTask, s *streams.Streams) error {
		return withLedger(ledger.Migrate, o.Names[0], func(ctx context.Context, store *ledger.Store) error {
			_, err := fmt.Fprintf(s.Out, "%s: the tables are up to date.\n", store.Name())
			return printed(err)
		})
	})
}

func newLedgerSend(s *streams.Streams, run func(*ledgerTask) error) *cobra.Command {
	return newLedgerTask(s, run, 2, "send", func(o *ledgerTask, s *streams.Streams) error {
		return withLedger(ledger.Read, o.Names[0], func(ctx context.Context, from *ledger.Store) error {
			to, err := ledger.Open(ctx, o.Names[1])
			if err != nil {
				return err
			}
			defer to.Close()
			n, err := from.Send(ctx, to)
			if err != nil {
				return fmt.Errorf("%d results were sent, then: %w", n.Added, err)
			}
			_, err = fmt.Fprintf(s.Out, "%d results sent to %s, %d stood there already.\n", n.Added, to.Name(), n.Known)
			return printed(err)
		})
	})
}

func newLedgerCheck(s *streams.Streams, run func(*ledgerTask) error) *cobra.Command {
	return newLedgerTask(s, run, 1, "check", func(o *ledgerTask, s *streams.Streams) error {
		return withLedger(ledger.Read, o.Names[0], func(ctx context.Context, store *ledger.Store) error {
			n, faults, err := store.Check(ctx)
			if err != nil {
				return err
			}
			for _, f := range faults {
				if _, err := fmt.Fprintln(s.Out, f); err != nil {
					return printed(err)
				}
			}
			if _, err := fmt.Fprintf(s.Out, "%d results, %d faults.\n", n, len(faults)); err != nil || len(faults) == 0 {
				return printed(err)
			}
			return verdictError{"fail"}
		})
	})
}

// showOptions are what `offbeat ledger show` was asked.
type showOptions struct {
	Output outputFlags
	Ledger string
	Board  string // its name, or a result's key
	Lot    string
}

func newLedgerShow(s *streams.Streams, run func(*showOptions) error) *cobra.Command {
	o := &showOptions{}
	c := worded("ledger-show", func(_ *cobra.Command, args []string) error {
		if len(args) != 2 {
			return usagef("%d arguments were given; expected offbeat ledger show LEDGER BOARD", len(args))
		}
		o.Ledger, o.Board = args[0], args[1]
		return perform(run, o, s)
	})
	c.Flags().BoolVar(&o.Output.JSON, "json", false, "print JSON instead of text")
	c.Flags().StringVar(&o.Output.Report, "report", "", "also write a page to `FILE.html`")
	c.Flags().StringVar(&o.Lot, "lot", "", "the board of the lot `NAME`, where several have one of this name")
	return c
}

func (o *showOptions) files(*streams.Streams) files {
	f := o.Output.files()
	f.database(f.reads, "the ledger", o.Ledger)
	return f
}

func (o *showOptions) run(s *streams.Streams) error {
	return withLedger(ledger.Read, o.Ledger, func(ctx context.Context, store *ledger.Store) error {
		visits, err := store.Visits(ctx, ledger.Filter{Board: o.Board, Lot: o.Lot, Current: true})
		if err == nil && len(visits) == 0 {
			visits, err = store.Visits(ctx, ledger.Filter{Key: o.Board})
		}
		if err != nil {
			return err
		}
		if len(visits) == 0 {
			return fmt.Errorf("ledger %s: %w: %q; offbeat ledger lists what there is", store.Name(), ledger.ErrBoard, o.Board)
		}
		d := &report.LedgerDetail{Schema: 1, Visits: visits, Designs: map[string]string{}}
		decided, err := latest(ctx, store)
		if err != nil {
			return err
		}
		for i := range d.Visits {
			v := &d.Visits[i]
			v.Decision = decided[v.Lot]
			if d.Designs[v.DesignSHA256], err = store.Design(ctx, v.DesignSHA256); err != nil {
				return err
			}
		}
		return o.Output.deliver(s, answer{Basis: &document.Basis{Kept: d}, JSON: jsonOf(d)})
	})
}
