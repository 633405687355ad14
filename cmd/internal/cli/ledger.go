package cli

import (
	"context"
	"fmt"
	"io"
	"maps"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"offbeat/acquire/manifest"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/ledger"
	"offbeat/compare/ledger/store"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/report/table"
)

// ledgerOptions are what `offbeat ledger` was asked.
type ledgerOptions struct {
	Output   outputFlags
	Ledger   string
	Filter   store.Filter
	All      bool
	From, To string
}

func newLedger(s *streams.Streams, run func(*ledgerOptions) error) *cobra.Command {
	o := &ledgerOptions{}
	c := worded("ledger", func(_ *cobra.Command, args []string) error {
		if len(args) != 1 {
			return usagef("%d arguments were given; expected one LEDGER, a file or a postgres:// address", len(args))
		}
		o.Ledger = args[0]
		if err := o.check(); err != nil {
			return err
		}
		return perform(run, o, s)
	})
	f := c.Flags()
	f.BoolVar(&o.Output.JSON, "json", false, "print JSON instead of text")
	f.StringVar(&o.Output.CSV, "csv", "", "also write the results as a CSV table to `FILE`")
	f.BoolVar(&o.Output.Quiet, "quiet", false, "print one line only")
	f.StringVar(&o.Filter.Board, "board", "", "only the board `NAME`, with its drift between visits")
	f.StringVar(&o.Filter.Lot, "lot", "", "only the lot `NAME`")
	f.StringVar(&o.Filter.Verdict, "verdict", "", "only results with the verdict `RESULT`: pass, fail, undecided")
	f.StringVar(&o.Filter.SHA256, "sha256", "", "only results that rest on the capture with this `DIGEST`")
	f.BoolVar(&o.All, "all", false, "also results that newer ones supersede")
	f.StringVar(&o.Filter.Revision, "revision", "", "only results against the design `REVISION`")
	f.StringVar(&o.From, "from", "", "from this `TIME` on, such as 2026-01-31 or 2026-01-31T14:05:00Z")
	f.StringVar(&o.To, "to", "", "up to this `TIME`; a day is included")
	f.IntVar(&o.Filter.Limit, "limit", 0, "only the latest `COUNT` (default all; as text 500)")
	c.AddCommand(newLedgerShow(s), newLedgerFound(s), newLedgerOdds(s))
	c.AddCommand(newLedgerTask(s, "send", sendLedger), newLedgerTask(s, "check", checkLedger), newLedgerTask(s, "migrate", migrateLedger))
	return c
}

func (o *ledgerOptions) check() error {
	if err := o.Output.check(); err != nil {
		return err
	}
	if err := oneOf("verdict", o.Filter.Verdict, []string{"pass", "fail", "undecided", "no target"}); err != nil {
		return err
	}
	if o.Filter.Limit < 0 {
		return usagef("--limit %d; expected 0 or more", o.Filter.Limit)
	}
	for _, t := range []struct {
		flag, text string
		into       *time.Time
		whole      time.Duration // what a day on its own adds
	}{{"--from", o.From, &o.Filter.From, 0}, {"--to", o.To, &o.Filter.To, 24 * time.Hour}} {
		if t.text == "" {
			continue
		}
		at, day, ok := manifest.Time(t.text)
		if !ok {
			return usagef("%s %q is no time; expected ISO 8601, such as 2026-01-31 or 2026-01-31T14:05:00Z", t.flag, t.text)
		}
		if day {
			at = at.Add(t.whole)
		}
		*t.into = at
	}
	return nil
}

func (o *ledgerOptions) files(*streams.Streams) files {
	f := o.Output.files()
	f.database(f.reads, "the ledger", o.Ledger)
	return f
}

// shownMost is how many results are printed as text where no limit is given; a table or JSON has all.
const shownMost = 500

// ledgerSink is what takes results as they are read.
type ledgerSink func(*ledger.Visit) error

func (o *ledgerOptions) run(s *streams.Streams) error {
	return withLedger(store.Read, o.Ledger, func(ctx context.Context, opened *store.Store) error {
		o.Filter.Current = !o.All && o.Filter.Board == ""
		if o.Output.CSV == "" {
			return o.list(ctx, s, opened, nil)
		}
		return writeText(o.Output.CSV, s, func(w io.Writer) error {
			rows, err := table.NewLedger(w)
			if err != nil {
				return err
			}
			return o.list(ctx, s, opened, rows.Visit)
		})
	})
}

// list prints the chosen results, and hands each to the table where one is wanted.
func (o *ledgerOptions) list(ctx context.Context, s *streams.Streams, opened *store.Store, table ledgerSink) error {
	l := &report.Ledger{Count: map[string]int{}}
	var stream *report.LedgerStream
	var decided map[string]*ledger.Decision
	if o.Output.JSON && o.Output.CSV != "-" {
		var err error
		if decided, err = latest(ctx, opened); err != nil {
			return err
		}
		stream = report.NewLedgerStream(s.Out)
	}
	older := 0
	var visits []ledger.Visit
	err := opened.Each(ctx, o.Filter, func(v *ledger.Visit) error {
		l.Count[v.Verdict]++
		if o.Filter.Board != "" {
			visits = append(visits, *v)
		}
		if table != nil {
			if err := table(v); err != nil {
				return err
			}
		}
		if stream != nil {
			v.Decision = decided[v.Lot]
			return stream.Visit(v)
		}
		if l.Visits = append(l.Visits, *v); o.Filter.Limit == 0 && o.Filter.Board == "" && len(l.Visits) > shownMost {
			l.Visits, older = l.Visits[1:], older+1
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(l.Count) == 0 {
		text, err := nobody(ctx, opened, o.Filter)
		if err != nil {
			return err
		}
		l.Warnings = append(l.Warnings, text...)
	}
	var apart int
	if l.Drift, apart = ledger.Drifts(visits); apart > 0 {
		l.Warnings = append(l.Warnings, fmt.Sprintf("%d of the results are like no other in lot, station, design and temperature: their difference from others is not taken for a drift", apart))
	}
	if older > 0 {
		l.Warnings = append(l.Warnings, fmt.Sprintf("%d older results are not shown; --limit COUNT, --csv FILE or --json list more", older))
	}
	out := o.Output
	out.CSV, out.Report = "", "" // the table is written already
	if o.Output.CSV == "-" {
		return nil
	}
	return out.deliver(s, answer{Basis: &document.Basis{Ledger: l}, JSON: func(io.Writer) error { return stream.Close(l.Drift, l.Warnings) }})
}

// nobody says of a board or a lot that was asked for that the ledger holds none of that name, and which name comes near.
func nobody(ctx context.Context, opened *store.Store, f store.Filter) (out []string, err error) {
	for _, k := range []struct {
		kind, asked string
		of          func(*ledger.Visit) string
	}{{"board", f.Board, func(v *ledger.Visit) string { return v.Board }}, {"lot", f.Lot, func(v *ledger.Visit) string { return v.Lot }}} {
		if k.asked == "" {
			continue
		}
		names := map[string]bool{}
		if err = opened.Each(ctx, store.Filter{}, func(v *ledger.Visit) error { names[k.of(v)] = true; return nil }); err != nil {
			return nil, err
		}
		if names[k.asked] {
			continue
		}
		text := fmt.Sprintf("the ledger holds no %s named %q%s", k.kind, k.asked, designfile.Meant("; ", k.asked, slices.Sorted(maps.Keys(names))))
		out = append(out, text)
	}
	return out, nil
}
