package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/streams"
	"offbeat/compare/ledger/store"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
)

// ledgerTask is a command that keeps a ledger in order.
type ledgerTask struct {
	Names []string // of ledgers
	do    func(s *streams.Streams, names []string) error
}

func (o *ledgerTask) run(s *streams.Streams) error { return o.do(s, o.Names) }

func (o *ledgerTask) files(*streams.Streams) files {
	var f files
	last := len(o.Names) - 1
	for _, n := range o.Names[:last] {
		f.database(f.reads, "what is sent", n)
	}
	f.database(f.writes, "the ledger", o.Names[last])
	return f
}

func newLedgerTask(s *streams.Streams, name string, do func(*streams.Streams, []string) error) *cobra.Command {
	return worded("ledger-"+name, func(c *cobra.Command, args []string) error {
		if len(args) != len(strings.Fields(c.Use))-1 {
			return usagef("%d arguments were given; expected offbeat ledger %s", len(args), c.Use)
		}
		return perform(nil, &ledgerTask{args, do}, s)
	})
}

func migrateLedger(s *streams.Streams, names []string) error {
	return withLedger(store.Migrate, names[0], func(ctx context.Context, opened *store.Store) error {
		_, err := fmt.Fprintf(s.Out, "%s: the tables are up to date.\n", opened.Name())
		return printed(err)
	})
}

func sendLedger(s *streams.Streams, names []string) error {
	return withLedger(store.Read, names[0], func(ctx context.Context, from *store.Store) error {
		to, err := store.Open(ctx, names[1])
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
}

func checkLedger(s *streams.Streams, names []string) error {
	return withLedger(store.Read, names[0], func(ctx context.Context, opened *store.Store) error {
		n, faults, err := opened.Check(ctx)
		if err != nil {
			return err
		}
		for _, f := range append(faults, fmt.Sprintf("%d results, %d faults.", n, len(faults))) {
			if _, err := fmt.Fprintln(s.Out, f); err != nil {
				return printed(err)
			}
		}
		if len(faults) > 0 {
			return verdictError{"fail"}
		}
		return nil
	})
}

// showOptions are what `offbeat ledger show` was asked.
type showOptions struct {
	Output outputFlags
	Ledger string
	Board  string // its name, or a result's key
	Lot    string
}

func newLedgerShow(s *streams.Streams) *cobra.Command {
	o := &showOptions{}
	c := worded("ledger-show", func(_ *cobra.Command, args []string) error {
		if len(args) != 2 {
			return usagef("%d arguments were given; expected offbeat ledger show LEDGER BOARD", len(args))
		}
		o.Ledger, o.Board = args[0], args[1]
		return perform(nil, o, s)
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
	return withLedger(store.Read, o.Ledger, func(ctx context.Context, opened *store.Store) error {
		visits, err := opened.Visits(ctx, store.Filter{Board: o.Board, Lot: o.Lot, Current: true})
		if err == nil && len(visits) == 0 {
			visits, err = opened.Visits(ctx, store.Filter{Key: o.Board})
		}
		if err != nil {
			return err
		}
		if len(visits) == 0 {
			return fmt.Errorf("ledger %s: %w: %q; offbeat ledger lists what there is", opened.Name(), store.ErrBoard, o.Board)
		}
		d := &report.LedgerDetail{Schema: 1, Visits: visits, Designs: map[string]string{}}
		decided, err := latest(ctx, opened)
		if err != nil {
			return err
		}
		for i := range d.Visits {
			v := &d.Visits[i]
			v.Decision = decided[v.Lot]
			if d.Designs[v.DesignSHA256], err = opened.Design(ctx, v.DesignSHA256); err != nil {
				return err
			}
		}
		return o.Output.deliver(s, answer{Basis: &document.Basis{Kept: d}, JSON: jsonOf(d)})
	})
}
