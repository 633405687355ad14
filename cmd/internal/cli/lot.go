package cli

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"offbeat/acquire/manifest"
	"offbeat/acquire/quantity"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
	"offbeat/compare/lot/acceptance"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/report/table"
	"offbeat/fit"
)

// lotOptions are what `offbeat lot` was asked.
type lotOptions struct {
	Output  outputFlags
	Capture captureFlags
	Design  designFlags
	File    string   // the design; empty: the flags
	Boards  []string // one manifest, folder or pattern, or several captures
	Lot     lot.Options
	By      string
	Workers int
	Ledger  string
}

func newLot(s *streams.Streams, run func(*lotOptions) error) *cobra.Command {
	o := &lotOptions{}
	c := &cobra.Command{
		Use:   "lot DESIGN MANIFEST",
		Short: "Judge many boards: acceptance, capability, charts, and the reel that moved",
		Long: `Lot reconciles every board that a manifest lists, several at once, and decides on the lot: acceptance by
attributes (ISO 2859-1) or by variables (MIL-STD-414 values), capability with its confidence, control charts,
what the whole lot has in common and so which reel moved, the boards that stand out with their own causes, and
what measuring adds where boards were captured more than once. Boards captured at several temperatures tell how they
follow them, in ppm/K, and which part would make that.

MANIFEST is a CSV table with the columns board and capture, then any of lot, station, operator, time,
temperature, supply, readings; or a folder of captures; or a pattern in quotes; or several captures. A capture
that cannot be read leaves its board without a verdict, and does not end the run; one that was read and shows no pulses
makes its board nonconforming. Without --lot-size the plan follows the number of boards. Where the manifest names
several lots each is judged by itself, in the order of time, under normal, tightened or reduced inspection as the
switching rules of ISO 2859-1 ask. A plan by variables accepts only where every board was read, none fails for sure, and
the values may be normally distributed.

Exit status: 0 accepted or no target, 1 rejected, 2 wrong usage, 3 input not read, 4 undecided.`,
		Example: `  offbeat lot lamp.toml manifest.csv
  offbeat lot lamp.toml captures/ --lot-size 1000 --aql 1.0 --ledger harbour.db
  offbeat lot lamp.toml manifest.csv --json`,
		RunE: func(_ *cobra.Command, args []string) error {
			o.File, o.Boards = o.Design.split(args)
			switch {
			case o.File == "" && o.Design.Circuit == "":
				return usagef("the design is missing; expected DESIGN MANIFEST, or --circuit and --part")
			case len(o.Boards) == 0:
				return usagef("the boards are missing; expected a manifest, a folder, a pattern, or several captures")
			}
			if err := o.check(); err != nil {
				return err
			}
			return perform(run, o, s)
		},
	}
	o.Output.register(c)
	o.Capture.register(c)
	o.Design.register(c)
	f := c.Flags()
	f.IntVar(&o.Lot.LotSize, "lot-size", 0, "the lot that these were drawn from, each of several, has `COUNT` boards")
	f.StringVar(&o.Lot.Level, "level-of-inspection", "II", "inspection `LEVEL`: S-1 to S-4, I, II, III; by variables from S-3")
	f.StringVar((*string)(&o.Lot.Inspection), "inspection", "normal", "inspection of the lot, the first of several, by the `PLANS`: normal, tightened, reduced")
	f.Float64Var(&o.Lot.AQL, "aql", 1.0, "acceptable quality limit in `PERCENT`")
	f.StringVar(&o.By, "by", "attributes", "decide by `METHOD`: attributes or variables")
	f.IntVar(&o.Workers, "workers", 0, "work on `COUNT` boards at once (default one a processor)")
	f.StringVar(&o.Ledger, "ledger", "", "keep every board's result in `FILE`, or in a database named postgres://…")
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
	o.Lot.ByValue = o.By == "variables"
	if o.Lot.AQL == 0 { // the lot's own default is for who says nothing
		return usagef("--aql 0; expected a limit above zero, such as 1.0")
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
	f.database(f.writes, "--ledger", o.Ledger)
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
	m, err := o.manifest(s, d)
	if err != nil {
		return err
	}
	listed := o.files(s)
	for i := range m.Entries {
		listed.reads("a capture of this lot", m.Entries[i].Capture)
	}
	if err := listed.check(s); err != nil {
		return err
	}
	job := &lotJob{lotOptions: o, s: s, design: d, read: read, notes: m.Notes, boards: lot.Group(m.Entries), judge: lot.NewReconciler(d)}
	if err := o.Lot.Check(lot.Largest(job.boards)); err != nil {
		return usage(err)
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

// manifest lists the boards.
func (o *lotOptions) manifest(s *streams.Streams, d *fit.Design) (*manifest.Manifest, error) {
	if len(o.Boards) > 1 {
		return manifest.Files(o.Boards), nil
	}
	units := map[string]quantity.Unit{"supply": quantity.Volt, "control": quantity.Volt}
	for _, p := range d.Parts {
		units[p.Name] = map[fit.PartKind]quantity.Unit{fit.Resistor: quantity.Ohm, fit.Capacitor: quantity.Farad}[p.Kind]
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

	ledger   *ledger.Store
	revision string
	known    int // results that the ledger held already
}

// run works through the boards, writing each where it is wanted, and then decides on the lot.
func (j *lotJob) run(csv io.Writer) error {
	ctx, stop := untilInterrupted()
	defer stop()
	if err := j.openLedger(ctx); err != nil {
		return err
	}
	if j.ledger != nil {
		defer j.ledger.Close()
	}
	var sinks []func(*lot.Outcome) error
	var stream *report.LotStream
	if j.Output.JSON && !j.Output.instead() {
		stream = report.NewLotStream(j.s.Out)
		sinks = append(sinks, stream.Board)
	}
	if csv != nil {
		rows, err := table.NewLot(csv)
		if err != nil {
			return printed(err)
		}
		sinks = append(sinks, rows.Board)
	}
	if j.ledger != nil {
		sinks = append(sinks, func(o *lot.Outcome) error { return j.record(ctx, o) })
	}
	collector := lot.NewCollector(j.design)
	progress := j.s.Progress("lot", j.Output.Quiet)
	err := lot.Run(ctx, j.boards, j.work, lot.RunOptions{Workers: j.Workers, Progress: progress.Boards}, func(o *lot.Outcome) error {
		collector.Add(o)
		for _, sink := range sinks {
			if err := sink(o); err != nil {
				return err
			}
		}
		return nil
	})
	progress.Done()
	if err != nil {
		return err
	}
	r, err := collector.Report(j.Lot)
	if err != nil {
		return err
	}
	r.Warnings = append(append(append([]string{}, j.notes...), j.design.Notes...), r.Warnings...)
	if j.known > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d of the results stood in the ledger already", j.known))
	}
	out := j.Output
	if csv != nil && out.CSV != "-" { // its rows are written already
		out.CSV = ""
	}
	var json func(io.Writer) error
	if stream != nil {
		json = func(io.Writer) error { return stream.Close(r) }
	}
	nothing := func(io.Writer) error { return nil }
	if err := out.deliver(j.s, answer{Basis: &document.Basis{Design: j.design, Lot: r, Boards: collector.Rows()}, JSON: json, CSV: nothing}); err != nil {
		return err
	}
	return j.verdict(r)
}

func (j *lotJob) verdict(r *lot.Report) error {
	switch {
	case len(j.design.Targets) == 0:
		return nil
	case r.Acceptance.Result == acceptance.Reject:
		return verdictError{"fail"}
	case r.Acceptance.Result == acceptance.Undecided:
		return verdictError{"undecided"}
	}
	return nil
}

// work reads, measures and reconciles one board.
func (j *lotJob) work(_ context.Context, b *lot.Board) (*compare.Finding, []lot.Measured, error) {
	r := &reading{}
	var each []lot.Measured
	b.Identify()
	for i := range b.Captures {
		e := &b.Captures[i]
		if err := r.read(j.s, e.Capture, j.read); err != nil {
			return nil, nil, err
		}
		for k := len(each); k < len(r.captures); k++ {
			r.captures[k].SHA256 = b.Digests[i]
		}
		for _, m := range r.measurements[len(each):] {
			each = append(each, lot.Measured{Entry: e, Measurement: m})
		}
	}
	f, err := j.judge.Board(b, r.measurements)
	if err != nil {
		return nil, nil, err
	}
	f.Captures = r.captures
	f.Warnings = append(f.Warnings, r.warnings...)
	return f, each, nil
}

func (j *lotJob) openLedger(ctx context.Context) (err error) {
	if j.Ledger == "" {
		return nil
	}
	if j.revision, err = ledger.Revision(j.design); err != nil {
		return err
	}
	j.ledger, err = ledger.Open(ctx, j.Ledger, true)
	return err
}

// record writes a board's result, or why there is none, into the ledger.
func (j *lotJob) record(ctx context.Context, o *lot.Outcome) error {
	v := ledger.Of(o.Board, o.Finding, o.Err)
	v.Design, v.Revision, v.Tool = j.design.Title, j.revision, version()
	added, err := j.ledger.Record(ctx, v)
	if err == nil && !added {
		j.known++
	}
	return err
}
