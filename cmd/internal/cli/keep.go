package cli

import (
	"context"
	"fmt"
	"os"
	"os/user"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"offbeat/acquire/manifest"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
	"offbeat/fit"
)

// ledgerFlags say where results are kept.
type ledgerFlags struct {
	Ledger string
	Spool  string
	By     string         // who decides
	typed  map[string]any // what changes a board's result
}

func (f *ledgerFlags) register(c *cobra.Command) {
	g := c.Flags()
	g.StringVar(&f.Ledger, "ledger", "", "keep every board's result in `FILE`, or in a database named postgres://…")
	g.StringVar(&f.Spool, "spool", "ledger-spool.db", "keep the results in `FILE` while the ledger's server is away, for offbeat ledger send")
	g.StringVar(&f.By, "decided-by", "", "`NAME` of who answers for the decision (default the user's)")
}

// about describes the run whose results are kept.
func (f *ledgerFlags) about(d *fit.Design, file string) (*ledger.Run, error) {
	var text []byte
	if file != "" {
		var err error
		if text, err = os.ReadFile(file); err != nil {
			return nil, err
		}
	}
	if f.By == "" {
		if u, err := user.Current(); err == nil {
			f.By = u.Username
		}
	}
	return ledger.NewRun(d, text, version(), f.typed)
}

// files are the ledger, and what stands for one that is a server.
func (f *ledgerFlags) files(all *files) {
	all.database(all.writes, "--ledger", f.Ledger)
	if strings.Contains(f.Ledger, "://") {
		all.database(all.writes, "--spool", f.Spool)
	}
}

// station opens the ledger; nil where none is wanted.
func (f *ledgerFlags) station(ctx context.Context, run *ledger.Run) (*ledger.Station, error) {
	if f.Ledger == "" {
		return nil, nil
	}
	t, err := ledger.NewStation(ctx, f.Ledger, f.Spool, run)
	if err != nil {
		return nil, err
	}
	return t, nil
}

// keepFlags say under which name a single board's result is kept.
type keepFlags struct {
	ledgerFlags
	Board, Lot, Station, Operator string
}

func (f *keepFlags) register(c *cobra.Command) {
	g := c.Flags()
	g.StringVar(&f.Ledger, "ledger", "", "keep the result in `FILE`, or in a database named postgres://…")
	g.StringVar(&f.Spool, "spool", "ledger-spool.db", "keep the result in `FILE` while the ledger's server is away, for offbeat ledger send")
	g.StringVar(&f.Board, "board", "", "with --ledger: the board's `NAME` (default the first capture's)")
	g.StringVar(&f.Lot, "lot", "", "with --ledger: the `NAME` of the board's lot")
	g.StringVar(&f.Station, "station", "", "with --ledger: the `NAME` of the station")
	g.StringVar(&f.Operator, "operator", "", "with --ledger: the `NAME` of who measured")
}

// board keeps the finding of one board.
func (f *keepFlags) board(s *streams.Streams, d *fit.Design, file string, captures []string, r *reading, finding *compare.Finding) error {
	ctx, stop := untilInterrupted()
	defer stop()
	about, err := f.about(d, file)
	if err != nil {
		return err
	}
	station, err := f.station(ctx, about)
	if err != nil {
		return err
	}
	defer station.Close()
	entries := manifest.Files(captures).Entries
	b := &lot.Board{Name: f.Board, Lot: f.Lot, Place: -1, Captures: entries}
	if b.Name == "" {
		b.Name = entries[0].Board
	}
	for i := range entries {
		e := &entries[i]
		e.Board, e.Lot, e.Station, e.Operator = b.Name, b.Lot, f.Station, f.Operator
	}
	b.Identify()
	o := &lot.Outcome{Board: b, Finding: finding}
	for i, m := range r.measurements {
		k := slices.IndexFunc(b.Captures, func(e manifest.Entry) bool { return e.Capture == captures[r.from[i]] })
		if k >= 0 { // a copy was struck out
			o.Each = append(o.Each, lot.Measured{Entry: &b.Captures[k], Measurement: m})
		}
	}
	if err := station.Record(ctx, o); err != nil {
		return err
	}
	for _, n := range station.Notes() {
		if _, err := fmt.Fprintln(s.Err, "note: "+n); err != nil {
			return printed(err)
		}
	}
	return nil
}

// names are the flags that change what is read of a capture.
func (f *captureFlags) names() []string {
	return []string{"time-unit", "interval", "channel", "delimiter", "level", "shape", "record", "invert", "single", "clock"}
}

// names are the flags that stand for a design, or change one.
func (f *designFlags) names() []string {
	return []string{"circuit", "part", "supply", "target", "was", "reading", "family", "inputs", "history", "tolerance", "channel-scale", "channel-zero"}
}

// given lists what was given of the named flags.
func given(c *cobra.Command, names []string) map[string]any {
	out := map[string]any{}
	c.Flags().Visit(func(f *pflag.Flag) {
		if !slices.Contains(names, f.Name) {
			return
		}
		switch v := f.Value.(type) {
		case pflag.SliceValue:
			out[f.Name] = v.GetSlice()
		default:
			out[f.Name] = v.String()
			if f.Value.Type() == "bool" {
				out[f.Name] = strings.EqualFold(v.String(), "true")
			}
		}
	})
	return out
}
