package cli

import (
	"io"
	"time"

	"github.com/spf13/cobra"

	"offbeat/acquire/manifest"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/ledger"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/report/table"
)

// ledgerOptions are what `offbeat ledger` was asked.
type ledgerOptions struct {
	Output   outputFlags
	Ledger   string
	Filter   ledger.Filter
	From, To string
}

func newLedger(s *streams.Streams, run func(*ledgerOptions) error) *cobra.Command {
	o := &ledgerOptions{}
	c := &cobra.Command{
		Use:   "ledger LEDGER",
		Short: "Show the results that a ledger keeps, and how a board drifted between visits",
		Long: `Ledger lists results that "offbeat lot --ledger" has written: by board, lot, verdict, design revision and
date, the oldest first. With --board it also says how that board's times moved from visit to visit.

LEDGER is the file, or a database named postgres://user@host/database.`,
		Example: `  offbeat ledger harbour.db
  offbeat ledger harbour.db --board "lamp 7"
  offbeat ledger postgres://bench@quay/harbour --lot week-5 --from 2026-01-31 --csv results.csv`,
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usagef("%d arguments were given; expected one LEDGER, a file or a postgres:// address", len(args))
			}
			o.Ledger = args[0]
			if err := o.check(); err != nil {
				return err
			}
			return perform(run, o, s)
		},
	}
	f := c.Flags()
	f.BoolVar(&o.Output.JSON, "json", false, "print JSON instead of text")
	f.StringVar(&o.Output.CSV, "csv", "", "also write the results as a CSV table to `FILE`")
	f.BoolVar(&o.Output.Quiet, "quiet", false, "print one line only")
	f.StringVar(&o.Filter.Board, "board", "", "only the board `NAME`, with its drift between visits")
	f.StringVar(&o.Filter.Lot, "lot", "", "only the lot `NAME`")
	f.StringVar(&o.Filter.Verdict, "verdict", "", "only results with the verdict `RESULT`: pass, fail, undecided")
	f.StringVar(&o.Filter.Revision, "revision", "", "only results against the design `REVISION`")
	f.StringVar(&o.From, "from", "", "from this `TIME` on, such as 2026-01-31 or 2026-01-31T14:05:00Z")
	f.StringVar(&o.To, "to", "", "up to this `TIME`; a day is included")
	f.IntVar(&o.Filter.Limit, "limit", 0, "only the latest `COUNT` (default all)")
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

func (o *ledgerOptions) run(s *streams.Streams) error {
	ctx, stop := untilInterrupted()
	defer stop()
	store, err := ledger.Open(ctx, o.Ledger, false)
	if err != nil {
		return err
	}
	defer store.Close()
	l := &report.Ledger{Schema: 1}
	if l.Visits, err = store.Visits(ctx, o.Filter); err != nil {
		return err
	}
	if o.Filter.Board != "" {
		l.Drift = ledger.Drifts(l.Visits)
	}
	return o.Output.deliver(s, answer{Basis: &document.Basis{Ledger: l}, JSON: jsonOf(l), CSV: func(w io.Writer) error { return table.Ledger(w, l.Visits) }})
}
