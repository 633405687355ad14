package cli

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"offbeat/acquire/quantity"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/ledger"
	"offbeat/compare/ledger/store"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/report/text"
	"offbeat/fit"
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

// foundOptions are what `offbeat ledger found` was asked.
type foundOptions struct {
	namedLedger
	Found ledger.Found
}

func newLedgerFound(s *streams.Streams) *cobra.Command {
	o := &foundOptions{}
	c := worded("ledger-found", func(_ *cobra.Command, args []string) error {
		if len(args) != 1 {
			return usagef("%d arguments were given; expected one BOARD", len(args))
		}
		o.Found.Board = args[0]
		if err := o.check(); err != nil {
			return err
		}
		return perform(nil, o, s)
	})
	f := c.Flags()
	f.StringVar(&o.Found.Cause, "cause", "", "the `CAUSE`: nothing, shifted, other value, exchanged, leakage …")
	f.StringVar(&o.Found.Part, "part", "", "the `PART` concerned, or two: R1+R2")
	f.StringVar(&o.Found.Lot, "lot", "", "the board of the lot `NAME`, where several have one of this name")
	f.StringVar(&o.Found.By, "by", "", "`NAME` of who found it (default the user's)")
	f.StringVar(&o.Found.Note, "note", "", "`TEXT` to keep with it")
	o.register(c)
	return c
}

func (o *foundOptions) check() error {
	names := causeNames()
	if o.Found.Cause == "" {
		return usagef("--cause is missing; expected one of %s", strings.Join(names, ", "))
	}
	if err := oneOf("cause", o.Found.Cause, names); err != nil {
		return err
	}
	var counts []string
	for _, c := range cause.All() {
		if c.Name != o.Found.Cause {
			continue
		}
		if counts = append(counts, fmt.Sprint(c.Parts)); c.Parts == len(o.Found.Parts()) {
			return o.namedLedger.check()
		}
	}
	return usagef("--cause %s with --part %q; expected --part to name as many parts as it concerns: %s", o.Found.Cause, o.Found.Part, strings.Join(counts, " or "))
}

func (o *foundOptions) files(*streams.Streams) (f files) {
	f.database(f.writes, "the ledger", o.Ledger)
	return f
}

func (o *foundOptions) run(s *streams.Streams) error {
	return withLedger(store.Open, o.Ledger, func(ctx context.Context, opened *store.Store) error {
		visits, err := opened.Visits(ctx, store.Filter{Board: o.Found.Board, Lot: o.Found.Lot, Current: true})
		if err != nil {
			return err
		}
		f := o.Found
		switch {
		case len(visits) == 0:
			return fmt.Errorf("ledger %s: %w: %q; offbeat ledger lists what there is", opened.Name(), store.ErrBoard, f.Board)
		case len(visits) > 1:
			var lots []string
			for i := range visits {
				lots = append(lots, fmt.Sprintf("%q", visits[i].Lot))
			}
			return fmt.Errorf("ledger %s: several lots have a board %q: %s; choose with --lot", opened.Name(), f.Board, strings.Join(lots, ", "))
		}
		v := &visits[0]
		for _, part := range f.Parts() {
			if len(v.Parts) > 0 && !slices.ContainsFunc(v.Parts, func(p compare.Part) bool { return p.Name == part }) {
				return usagef("--part %q; the board %s has no part of that name", part, f.Board)
			}
		}
		f.Lot, f.Visit, f.At = v.Lot, v.Key, s.Now().UTC()
		f.By = cmp.Or(f.By, userName())
		if err := opened.Find(ctx, &f); err != nil {
			return err
		}
		stated := 0.0
		for _, c := range v.Causes {
			if c.Cause == f.Cause && (f.Part == "" || strings.Join(c.Parts, "+") == f.Part) {
				stated += c.Probability
			}
		}
		_, err = fmt.Fprintf(s.Out, "%s: %s recorded; stated before with %s.\n", f.Board, strings.TrimSpace(f.Cause+" "+f.Part), quantity.Probability(stated))
		return printed(err)
	})
}

// oddsOptions are what `offbeat ledger odds` was asked.
type oddsOptions struct {
	namedLedger
	Output outputFlags
	Design string
	Weight float64
}

func newLedgerOdds(s *streams.Streams) *cobra.Command {
	o := &oddsOptions{}
	c := worded("ledger-odds", func(_ *cobra.Command, args []string) error {
		switch len(args) {
		case 0:
		case 1:
			o.Ledger = args[0]
		default:
			return usagef("%d arguments were given; expected one LEDGER", len(args))
		}
		if err := o.check(); err != nil {
			return err
		}
		if !(o.Weight > 0) {
			return usagef("--weight %v; expected a number of boards above zero", o.Weight)
		}
		return perform(nil, o, s)
	})
	c.Flags().StringVar(&o.Design, "design", "", "the `DESIGN` whose causes are meant (default the one of the board repaired last)")
	c.Flags().Float64Var(&o.Weight, "weight", 20, "the design's own odds count as so many `BOARDS`")
	c.Flags().BoolVar(&o.Output.JSON, "json", false, "print JSON instead of text")
	o.register(c)
	return c
}

func (o *oddsOptions) files(*streams.Streams) files {
	var f files
	f.reads("the design", o.Design)
	f.database(f.reads, "the ledger", o.Ledger)
	return f
}

func (o *oddsOptions) run(s *streams.Streams) error {
	return withLedger(store.Read, o.Ledger, func(ctx context.Context, opened *store.Store) error {
		var d *fit.Design
		var err error
		if o.Design != "" {
			d, err = designfile.Read(o.Design, designfile.Flags{})
		} else {
			var design string
			if design, err = opened.Repaired(ctx); err == nil {
				d, err = kept(design)
			}
		}
		if err != nil {
			return err
		}
		l, err := opened.Learn(ctx, d, o.Weight)
		if err != nil {
			return err
		}
		if o.Output.JSON {
			return printed(report.JSON(s.Out, l))
		}
		return printed(text.Odds(s.Out, l, s.Now().UTC().Format(time.DateOnly)))
	})
}

// kept reads a design as a ledger keeps it: the text of its file, or where flags stood for one, the design itself.
func kept(text string) (*fit.Design, error) {
	if strings.HasPrefix(text, "{") {
		d := &fit.Design{}
		return d, json.Unmarshal([]byte(text), d)
	}
	d, _, err := designfile.ReadFrom("the design in the ledger", strings.NewReader(text), designfile.Flags{})
	return d, err
}
