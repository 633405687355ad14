package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"offbeat/acquire/manifest"
	"offbeat/acquire/quantity"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/ledger/store"
	"offbeat/compare/lot"
	"offbeat/compare/lot/acceptance"
	"offbeat/compare/lot/chart"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/report/table"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// lotOptions are what `offbeat lot` was asked.
type lotOptions struct {
	Output  outputFlags
	Capture captureFlags
	Design  designFlags
	Ledger  ledgerFlags
	File    string   // the design; empty: the flags
	Boards  []string // one manifest, folder or pattern, or several captures; none with From
	Lot     lot.Options
	By      string
	Workers int
	List    bool           // every board in text
	From    string         // the ledger that the results are taken from
	Name    string         // the lot to take from there; empty: all
	Shard   string         // "3/16": the third of sixteen shares
	shard   [2]int         // read from Shard
	typed   map[string]any // all that changes the decision
}

func newLot(s *streams.Streams, run func(*lotOptions) error) *cobra.Command {
	o := &lotOptions{}
	c := worded("lot", func(c *cobra.Command, args []string) error {
		o.File, o.Boards = o.Design.split(args)
		o.Ledger.typed, o.typed = given(c, o.Capture.names()), given(c, slices.Concat(o.Capture.names(), o.Design.names(), []string{"lot-size", "level-of-inspection", "inspection", "aql", "by", "chart-rules"}))
		switch {
		case o.File == "" && o.Design.Circuit == "":
			return usagef("the design is missing; expected DESIGN MANIFEST, or --circuit and --part")
		case o.From != "" && len(o.Boards) > 0:
			return usagef("--from %s takes the boards from a ledger; expected no MANIFEST beside it", store.Shown(o.From))
		case len(o.Boards) == 0 && o.From == "":
			return usagef("the boards are missing; expected a manifest, a folder, a pattern, or several captures")
		}
		if err := o.check(); err != nil {
			return err
		}
		return perform(run, o, s)
	})
	o.Output.register(c)
	o.Capture.register(c)
	o.Design.register(c)
	f := c.Flags()
	f.IntVar(&o.Lot.LotSize, "lot-size", 0, "the lot that these were drawn from, each of several, has `COUNT` boards")
	f.StringVar(&o.Lot.Level, "level-of-inspection", "II", "inspection `LEVEL`: S-1 to S-4, I, II, III; by variables from S-3")
	f.StringVar((*string)(&o.Lot.Inspection), "inspection", "normal", "inspection of the lot, the first of several, by the `PLANS`: normal, tightened, reduced")
	f.Float64Var(&o.Lot.AQL, "aql", 1.0, "acceptable quality limit in `PERCENT`")
	f.StringVar(&o.By, "by", "attributes", "decide by `METHOD`: attributes or variables")
	f.IntSliceVar(&o.Lot.Rules, "chart-rules", nil, "pattern tests of ISO 7870-2 that count on the charts, by `NUMBER` 1 to 8 (default 1,2)")
	f.IntVar(&o.Workers, "workers", 0, "work on `COUNT` boards at once (default one a processor)")
	f.BoolVar(&o.List, "boards", false, "list every board with its value, verdict and likeliest cause")
	f.StringVar(&o.From, "from", "", "take the boards' results from the `LEDGER`, a file or postgres://…, in place of a MANIFEST")
	f.StringVar(&o.Name, "lot", "", "the `NAME` of the lot, for boards whose line names none; with --from: only the lot NAME")
	f.StringVar(&o.Shard, "shard", "", "with --ledger: only the share `K/N` of the boards, such as 3/16")
	o.Ledger.register(c)
	return c
}

func (o *lotOptions) check() error {
	if err := o.Output.check(); err != nil {
		return err
	}
	if err := oneOf("by", o.By, []string{"attributes", "variables"}); err != nil {
		return err
	}
	var inspections []string
	for _, i := range acceptance.Inspections {
		inspections = append(inspections, string(i))
	}
	if err := oneOf("inspection", string(o.Lot.Inspection), inspections); err != nil {
		return err
	}
	for _, n := range o.Lot.Rules {
		if n < 1 || n > len(chart.Rules) {
			return usagef("--chart-rules %d; expected numbers from 1 to %d", n, len(chart.Rules))
		}
	}
	o.Lot.ByValue = o.By == "variables"
	if o.Lot.AQL == 0 { // the lot's own default is for who says nothing
		return usagef("--aql 0; expected a limit above zero, such as 1.0")
	}
	switch {
	case o.From != "" && o.Shard != "":
		return usagef("--shard shares out captures; expected a MANIFEST in place of --from")
	case o.Shard != "" && o.Ledger.Ledger == "":
		return usagef("--shard %s leaves its results in a ledger; expected --ledger beside it", o.Shard)
	}
	if o.Shard != "" {
		k, n, found := strings.Cut(o.Shard, "/")
		var err, err2 error
		o.shard[0], err = strconv.Atoi(k)
		o.shard[1], err2 = strconv.Atoi(n)
		if !found || err != nil || err2 != nil || o.shard[0] < 1 || o.shard[0] > o.shard[1] {
			return usagef("--shard %q; expected K/N with K from 1 to N, such as 3/16", o.Shard)
		}
	}
	if o.Workers < 0 || o.Lot.LotSize < 0 {
		return usagef("--workers and --lot-size count boards; expected 0 or more")
	}
	return nil
}

func (o *lotOptions) files(*streams.Streams) files {
	f := o.Output.files()
	f.reads("the design", o.File)
	f.reads("the list of boards", o.Boards...)
	if o.From != o.Ledger.Ledger { // a ledger is added to, never written over
		f.database(f.reads, "--from", o.From)
	}
	o.Ledger.files(&f)
	return f
}

func (o *lotOptions) run(s *streams.Streams) error {
	read, err := o.Capture.options()
	if err != nil {
		return err
	}
	o.Design.Clock = o.Capture.Clock
	d, err := designfile.Read(o.File, o.Design.Flags)
	if err != nil {
		return err
	}
	if err := read.prepare(d, &o.Output); err != nil {
		return err
	}
	if read.latch != nil {
		return usagef("the %s circuit keeps no time, so there is nothing to judge a lot by; expected offbeat reconcile, one board at a time", d.Circuit)
	}
	if read.roles["cap"] != "" {
		return usagef("--channel cap=%s: a lot is judged by its outputs' times; expected offbeat reconcile for a capacitor's waveform, one board at a time", read.roles["cap"])
	}
	read.runs = false // nobody reads how each board runs
	job := &lotJob{lotOptions: o, s: s, design: d, read: read, judge: lot.NewReconciler(d)}
	if job.about, err = o.Ledger.about(d, o.File); err != nil {
		return err
	}
	if o.From == "" {
		if err := job.list(); err != nil {
			return err
		}
	}
	if o.Output.CSV == "" {
		return job.run(nil)
	}
	var verdict error
	err = writeText(o.Output.CSV, s, func(w io.Writer) error {
		err := job.run(w)
		if errors.As(err, &verdictError{}) {
			verdict, err = err, nil
		}
		return err
	})
	return errors.Join(err, verdict)
}

// list reads which boards there are, and refuses to write over what is read of them.
func (j *lotJob) list() error {
	m, err := j.manifest(j.s, j.design)
	if err != nil {
		return err
	}
	listed := j.files(j.s)
	for i := range m.Entries {
		m.Entries[i].Lot = cmp.Or(m.Entries[i].Lot, j.Name)
		listed.reads("a capture of this lot", m.Entries[i].Capture)
	}
	if err := listed.check(j.s); err != nil {
		return err
	}
	j.notes, j.boards = m.Notes, lot.Group(m.Entries)
	if err := j.Lot.Check(lot.Largest(j.boards)); err != nil {
		return usage(err)
	}
	if n := j.shard[1]; n > 0 {
		j.boards = slices.DeleteFunc(j.boards, func(b lot.Board) bool { return b.Place%n != j.shard[0]-1 })
	}
	return nil
}

// manifest lists the boards.
func (o *lotOptions) manifest(s *streams.Streams, d *fit.Design) (*manifest.Manifest, error) {
	if len(o.Boards) > 1 {
		return manifest.Files(o.Boards), nil
	}
	units := map[string]quantity.Unit{}
	if c, err := circuit.Of(d); err == nil {
		for _, n := range c.Still() {
			units[n] = quantity.Volt
		}
	}
	for _, p := range d.Parts {
		units[p.Name] = p.Kind.Unit()
	}
	return manifest.Load(o.Boards[0], manifest.Options{Units: units, Input: s.In})
}

// lotJob is one lot being worked through.
type lotJob struct {
	*lotOptions
	s      *streams.Streams
	design *fit.Design
	read   readOptions
	notes  []string
	boards []lot.Board
	judge  *lot.Reconciler
	about  *ledger.Run

	ledger *store.Station // nil: none
	rows   *table.Lot
	stream *report.LotStream
	held   *report.LotHeld // nil: nobody reads the boards one by one

	collector *lot.Collector
}

// run works through the boards, writing each where it is wanted, and then decides on the lot.
func (j *lotJob) run(csv io.Writer) (err error) {
	ctx, stop := untilInterrupted()
	defer stop()
	if j.ledger, err = j.Ledger.station(ctx, j.about); err != nil {
		return err
	}
	if j.ledger != nil {
		defer j.ledger.Close()
	}
	if j.Output.JSON && !j.Output.instead() {
		j.stream = report.NewLotStream(j.s.Out)
	}
	if csv != nil {
		if j.rows, err = table.NewLot(csv); err != nil {
			return printed(err)
		}
	}
	if j.ledger != nil || j.rows != nil || j.stream != nil {
		if j.held, err = report.NewLotHeld(); err != nil {
			return err
		}
	}
	j.collector = lot.NewCollector(j.design)
	if err := j.fill(ctx); err != nil {
		return err
	}
	var r *lot.Report
	if j.Shard == "" {
		if r, err = decideLot(j.collector, j.Lot); err != nil {
			return usage(err)
		}
	}
	if err := j.write(ctx); err != nil {
		return err
	}
	if r == nil {
		return j.share()
	}
	if err := j.sign(ctx, r); err != nil {
		return err
	}
	out := j.Output
	if csv != nil && out.CSV != "-" { // its rows are written already
		out.CSV = ""
	}
	var json func(io.Writer) error
	if j.stream != nil {
		json = func(io.Writer) error { return j.stream.Close(r) }
	}
	nothing := func(io.Writer) error { return nil }
	if err := out.deliver(j.s, answer{Basis: &document.Basis{Design: j.design, Lot: r, Boards: j.collector.Rows(), ListBoards: j.List}, JSON: json, CSV: nothing}); err != nil {
		return err
	}
	return j.verdict(r)
}

// fill has every board's result taken, worked out or from a ledger.
func (j *lotJob) fill(ctx context.Context) error {
	if j.From != "" {
		return j.fromLedger(ctx)
	}
	progress := j.s.Progress("lot", j.Output.Quiet)
	defer progress.Done()
	return lot.Run(ctx, j.boards, j.work, lot.RunOptions{Workers: j.Workers, Progress: progress.Boards}, func(o *lot.Outcome) error {
		var v *ledger.Visit
		if j.held != nil {
			v = j.about.Visit(o)
		}
		if j.ledger != nil { // before the lot looks at it: what one board is does not depend on the others
			if err := j.ledger.Record(ctx, v); err != nil {
				return err
			}
		}
		return j.take(o, v)
	})
}

// take adds a board to the lot, and holds what is to be written of it.
func (j *lotJob) take(o *lot.Outcome, v *ledger.Visit) error {
	j.collector.Add(o)
	if j.held == nil {
		return nil
	}
	return j.held.Add(v)
}

// write writes the boards where they are wanted, as the lot knows them: which stand out, and which captures are not of one board.
func (j *lotJob) write(ctx context.Context) error {
	if j.held == nil {
		return nil
	}
	rows := j.collector.Rows()
	return j.held.Each(func(i int, v *ledger.Visit) error {
		if j.ledger != nil && j.Shard == "" && rows[i].Judged() {
			if err := j.ledger.Judged(ctx, v, rows[i].Apart); err != nil {
				return err
			}
		}
		v = v.InLot(rows[i].Apart)
		v.Error = rows[i].Error
		if j.stream != nil {
			if err := j.stream.Board(v); err != nil {
				return printed(err)
			}
		}
		if j.rows != nil {
			return j.rows.Board(v)
		}
		return nil
	})
}

// fromLedger takes the current results of a lot, in the order of its manifest.
func (j *lotJob) fromLedger(ctx context.Context) error {
	opened, err := store.Read(ctx, j.From)
	if err != nil {
		return err
	}
	defer opened.Close()
	n, other := 0, 0
	err = opened.Each(ctx, store.Filter{Lot: j.Name, Current: true, Manifest: true}, func(v *ledger.Visit) error {
		if n++; v.Revision != j.about.Revision {
			other++
			return nil
		}
		o, err := v.Outcome()
		if err != nil {
			return err
		}
		if j.ledger != nil {
			j.ledger.Seen(v)
		}
		return j.take(o, v.Own())
	})
	switch {
	case err != nil:
		return err
	case n == 0:
		return fmt.Errorf("ledger %s has no result of the lot %q; offbeat ledger lists what there is", opened.Name(), j.Name)
	case other > 0:
		return fmt.Errorf("ledger %s: %d of the %d current results of the lot %q are of another design than this one (revision %s); run the lot again from its captures, or give the design that they are of",
			opened.Name(), other, n, j.Name, j.about.Revision)
	}
	return nil
}

// share ends a run that did its share of the boards.
func (j *lotJob) share() error {
	n := len(j.collector.Rows())
	done := fmt.Sprintf("Share %s: %d boards, %d of them known already. Once all shares are done, judge the lot with offbeat lot DESIGN --from LEDGER --ledger LEDGER.", j.Shard, n, j.ledger.Known)
	if j.stream != nil {
		return printed(j.stream.Close(&lot.Report{Finding: done, About: lot.About{Version: j.about.Tool, DesignSHA256: j.about.DesignSHA256, Options: j.typed, Instrument: j.about.Instrument}, Warnings: append(j.notes, j.ledger.Notes()...)}))
	}
	_, err := fmt.Fprintln(j.s.Out, strings.Join(append([]string{done}, j.ledger.Notes()...), "\n"))
	return printed(err)
}

// sign adds what an auditor asks for, and keeps the decision.
func (j *lotJob) sign(ctx context.Context, r *lot.Report) error {
	at := j.s.Now().UTC().Truncate(time.Second)
	r.Version, r.At, r.DesignSHA256, r.Options, r.DecidedBy = j.about.Tool, &at, j.about.DesignSHA256, j.typed, j.Ledger.By
	r.Instrument = j.about.Instrument
	if j.ledger != nil {
		for _, l := range r.Each() {
			d := &ledger.Decision{Lot: l.Lot, At: at, By: j.Ledger.By, Result: string(l.Acceptance.Result), Reason: l.Acceptance.Reason, Plan: l.Acceptance.Plan, Boards: l.Boards, Options: j.typed}
			if err := j.ledger.Decide(ctx, d); err != nil {
				return err
			}
		}
		r.Warnings = append(j.ledger.Notes(), r.Warnings...)
	}
	r.Warnings = slices.Concat(j.notes, j.design.Notes, r.Warnings)
	return nil
}

func (j *lotJob) verdict(r *lot.Report) error {
	word := map[acceptance.Result]string{acceptance.Reject: "fail", acceptance.Undecided: "undecided"}[r.Acceptance.Result]
	if len(j.design.Targets) == 0 || word == "" {
		return nil
	}
	return verdictError{word}
}

// judgeBoard and decideLot can be replaced: the tests do once what is asked of them again.
var (
	judgeBoard = func(ctx context.Context, r *lot.Reconciler, _ *fit.Design, b *lot.Board, ms []*fit.Measurement) (*compare.Finding, error) {
		return r.Board(ctx, b, ms)
	}
	decideLot = (*lot.Collector).Report
)

// work reads, measures and reconciles one board.
func (j *lotJob) work(ctx context.Context, b *lot.Board) (*compare.Finding, []lot.Measured, error) {
	r := &reading{}
	var each []lot.Measured
	if j.ledger != nil {
		if o, err := j.ledger.Find(ctx, b); err != nil {
			return nil, nil, err
		} else if o != nil {
			return nil, nil, &lot.Known{Outcome: o}
		}
	}
	b.Identify()
	read := j.read
	read.strict = true
	for i := range b.Captures {
		e := &b.Captures[i]
		if err := r.read(j.s, e.Capture, read); err != nil {
			return nil, nil, err
		}
		for k := len(each); k < len(r.captures); k++ {
			r.captures[k].SHA256 = b.Digests[i]
		}
		for _, m := range r.measurements[len(each):] {
			each = append(each, lot.Measured{Entry: e, Measurement: m})
		}
	}
	f, err := judgeBoard(ctx, j.judge, j.design, b, r.measurements)
	if err != nil {
		return nil, nil, err
	}
	f.Captures = r.captures
	f.Warnings = append(f.Warnings, r.warnings...)
	return f, each, nil
}
