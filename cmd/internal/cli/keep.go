package cli

import (
	"cmp"
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
	"offbeat/compare/ledger/store"
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
	f.By = cmp.Or(f.By, userName())
	return ledger.NewRun(d, text, version(), f.typed)
}

// userName is who runs the program; empty where the system does not say.
func userName() string {
	u, err := user.Current()
	if err != nil {
		return ""
	}
	return u.Username
}

// files are the ledger, and what stands for one that is a server.
func (f *ledgerFlags) files(all *files) {
	all.database(all.writes, "--ledger", f.Ledger)
	if strings.Contains(f.Ledger, "://") {
		all.database(all.writes, "--spool", f.Spool)
	}
}

// station opens the ledger; nil where none is wanted.
func (f *ledgerFlags) station(ctx context.Context, run *ledger.Run) (*store.Station, error) {
	if f.Ledger == "" {
		return nil, nil
	}
	return store.NewStation(ctx, f.Ledger, f.Spool, run)
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

// keeper keeps the finding of one board.
type keeper struct {
	station  *store.Station
	board    *lot.Board
	captures []string
	runs     bool // how the times run is looked at
}

// keeper opens the ledger for the board of those captures.
func (f *keepFlags) keeper(ctx context.Context, d *fit.Design, file string, captures []string, runs bool) (*keeper, error) {
	if len(captures) == 0 {
		return nil, usagef("--ledger keeps what captures showed, and there are none; expected a CAPTURE")
	}
	about, err := f.about(d, file)
	if err != nil {
		return nil, err
	}
	station, err := f.station(ctx, about)
	if err != nil {
		return nil, err
	}
	entries := manifest.Files(captures).Entries
	b := &lot.Board{Name: f.Board, Lot: f.Lot, Place: -1, Captures: entries}
	b.Name = cmp.Or(b.Name, entries[0].Board)
	for i := range entries {
		e := &entries[i]
		e.Board, e.Lot, e.Station, e.Operator = b.Name, b.Lot, f.Station, f.Operator
	}
	b.Identify()
	return &keeper{station, b, captures, runs}, nil
}

// keep writes the finding down.
func (k *keeper) keep(ctx context.Context, r *reading, finding *compare.Finding) error {
	o := &lot.Outcome{Board: k.board, Finding: finding}
	for i, m := range r.measurements {
		at := slices.IndexFunc(k.board.Captures, func(e manifest.Entry) bool { return e.Capture == k.captures[r.from[i]] })
		if at >= 0 { // a copy was struck out
			o.Each = append(o.Each, lot.Measured{Entry: &k.board.Captures[at], Measurement: m})
		}
	}
	return k.station.RecordWhole(ctx, o, k.runs)
}

// notes say what the user should know of where the result went.
func (k *keeper) notes(s *streams.Streams) error {
	for _, n := range k.station.Notes() {
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

// ledgerVariable names the ledger for commands that are given none.
const ledgerVariable = "OFFBEAT_LEDGER"

// withLedger opens a ledger for what is done with it, until the user interrupts.
func withLedger(open func(context.Context, string) (*store.Store, error), name string, do func(context.Context, *store.Store) error) error {
	ctx, stop := untilInterrupted()
	defer stop()
	opened, err := open(ctx, name)
	if err != nil {
		return err
	}
	defer opened.Close()
	return do(ctx, opened)
}

// namedLedger takes the ledger of a command that needs other arguments too: the flag, else the environment.
type namedLedger struct{ Ledger string }

func (n *namedLedger) register(c *cobra.Command) {
	c.Flags().StringVar(&n.Ledger, "ledger", "", "the `LEDGER`, a file or postgres://… (default what "+ledgerVariable+" says)")
}

func (n *namedLedger) check() error {
	if n.Ledger == "" {
		n.Ledger = os.Getenv(ledgerVariable)
	}
	if n.Ledger == "" {
		return usagef("the ledger is missing; expected --ledger LEDGER, or %s in the environment", ledgerVariable)
	}
	return nil
}

// latest is the latest decision on each lot.
func latest(ctx context.Context, opened *store.Store) (map[string]*ledger.Decision, error) {
	all, err := opened.Decisions(ctx)
	out := map[string]*ledger.Decision{}
	for i := range all {
		out[all[i].Lot] = &all[i]
	}
	return out, err
}
