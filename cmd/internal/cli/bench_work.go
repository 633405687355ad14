package cli

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"

	"offbeat/acquire"
	"offbeat/acquire/open"
	"offbeat/acquire/quantity"
	"offbeat/cmd/internal/benchpage"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/nextreading"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/document"
	"offbeat/compare/report/page"
	"offbeat/compare/report/picture"
	say "offbeat/compare/report/words"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// workbench answers the bench page.
type workbench struct {
	s      *streams.Streams
	files  *benchpage.Files
	folder string // where the design is, and what is saved will be
	begin  benchpage.Start
	ear    *ear   // nil: nothing is heard
	lot    string // that the command line names; empty: none

	mu     sync.Mutex
	lots   *lotJob             // the last that was judged; nil: none
	lotsOf string              // design and boards that it is of
	read   map[string]*reading // captures that were measured, by all that their times depend on
	saved  string              // the text of the file, as it was read or written last
	name   string              // of the file
}

// newWorkbench reads the design and the captures that the command line names.
func newWorkbench(s *streams.Streams, o *benchOptions, store *benchpage.Files) (*workbench, error) {
	w := &workbench{s: s, files: store, folder: ".", read: map[string]*reading{}, name: "board.toml"}
	if o.File != "" {
		w.folder, w.name = filepath.Dir(o.File), filepath.Base(o.File)
		text, err := os.ReadFile(o.File)
		if err != nil {
			return nil, fmt.Errorf("%s: the design cannot be read: %w", o.File, reason(err))
		}
		state := benchpage.State{}
		if err := w.load(&state, string(text)); err != nil {
			return nil, err
		}
		w.begin.State, w.saved, w.begin.Saved = state, string(text), len(o.Captures) == 0
	}
	for _, c := range o.Captures {
		if designfile.IsStill(c) {
			w.begin.State.Evidence = append(w.begin.State.Evidence, benchpage.Row{Evidence: designfile.Evidence{Capture: c}})
			continue
		}
		f, err := store.Named(c, c)
		if err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", c, reason(err))
		}
		w.begin.State.Evidence = append(w.begin.State.Evidence, benchpage.Row{Evidence: designfile.Evidence{Capture: c}, File: f.ID})
	}
	if w.lot = o.Lot; w.lot != "" {
		w.begin.State.Lot = &benchpage.Lot{}
	}
	w.begin.Name, w.begin.Folder = w.name, w.folder
	if full, err := filepath.Abs(w.folder); err == nil {
		w.begin.Folder = full
	}
	if w.folder != "." {
		w.begin.Prefix = strings.TrimSuffix(filepath.Join(w.folder, "x"), "x")
	}
	w.begin.Circuits = starters()
	return w, nil
}

// load parts a design's text into what the page holds. A text that is no TOML stays as it is, for its user to mend.
func (w *workbench) load(state *benchpage.State, text string) error {
	design, kept, err := designfile.Apart(text)
	var fault *designfile.Error
	switch {
	case errors.As(err, &fault) && fault.Fault.Line > 0:
		state.Design = text
		return nil
	case err != nil:
		return fmt.Errorf("%s: %w", filepath.Join(w.folder, w.name), err)
	}
	state.Design = design
	for _, e := range kept {
		row := benchpage.Row{Evidence: e}
		if isFile(&e) {
			path := e.Capture
			if !filepath.IsAbs(path) {
				path = filepath.Join(w.folder, path)
			}
			f, err := w.files.Named(path, path)
			if err != nil {
				return fmt.Errorf("%s names the capture %s, which cannot be read: %w", filepath.Join(w.folder, w.name), path, reason(err))
			}
			row.File, row.Capture = f.ID, path
		}
		state.Evidence = append(state.Evidence, row)
	}
	return nil
}

// isFile says whether an evidence is a capture in a file, and no reading, look or output that stood still.
func isFile(e *designfile.Evidence) bool { return e.Capture != "" && !designfile.IsStill(e.Capture) }

// starters are the circuits to begin with, each drawn.
func starters() []benchpage.Circuit {
	var out []benchpage.Circuit
	for _, name := range circuit.Names() {
		c, err := circuit.Lookup(name)
		if err != nil {
			continue
		}
		text, err := designfile.Starter(name)
		if err != nil {
			continue
		}
		out = append(out, benchpage.Circuit{Name: c.Name, Title: c.Title, HTML: drawnBoard(text, "c-"+c.Name+"-"), Design: text})
	}
	return out
}

// drawnBoard draws the board of a design's text; empty where it can't be.
func drawnBoard(text, prefix string) string {
	d, _, err := designfile.ReadSessionFrom("board.toml", strings.NewReader(text), designfile.Flags{})
	if err != nil {
		return ""
	}
	_, sections, err := page.Parts(&document.Document{Sections: []document.Section{document.Board(d)}}, prefix)
	if err != nil || len(sections) == 0 {
		return ""
	}
	return sections[0].HTML
}

func (w *workbench) Start() (*benchpage.Start, error) {
	begin := w.begin
	begin.Heard = w.Heard()
	return &begin, nil
}

// path names the file as the command line does.
func (w *workbench) path() string { return filepath.Join(w.folder, w.name) }

// Board reads a design's text and predicts its times.
func (w *workbench) Board(text, key, value string) *benchpage.Board {
	b := &benchpage.Board{Design: text}
	state := &benchpage.State{Design: text}
	if key != "" {
		changed, err := designfile.Set(text, key, strings.TrimSpace(value))
		if err != nil {
			b.Fault = w.Fault(state, err)
			b.Fault.Key = key
			return b
		}
		b.Design, state.Design = changed, changed
	}
	if strings.TrimSpace(state.Design) == "" {
		return b
	}
	b.Fields, _ = designfile.Fields(state.Design) // its fault is that of reading
	d, _, err := designfile.ReadSessionFrom(w.path(), strings.NewReader(state.Design), designfile.Flags{})
	if err != nil {
		b.Fault = w.Fault(state, err)
		return b
	}
	basis := &document.Basis{Design: d}
	if d.Circuit != "bistable" {
		if basis.Prediction, err = reconcile.Predict(d, nil); err != nil {
			b.Fault = w.Fault(state, err)
			b.Schematic = drawnBoard(state.Design, "b-")
			return b
		}
		var sections []page.Part
		doc := document.Of(basis)
		if _, sections, err = page.Parts(doc, "b-"); err != nil {
			b.Fault = w.Fault(state, err)
			return b
		}
		b.Promise = strings.Join(doc.Answer, " ")
		for _, p := range sections {
			switch p.ID {
			case "board":
				b.Schematic = p.HTML
			case "promise":
				b.Sections = append(b.Sections, p)
			}
		}
	}
	return b
}

// rowsOn are the evidence that counts, each with its place in the state.
func rowsOn(s *benchpage.State) (on []int) {
	for i := range s.Evidence {
		if !s.Evidence[i].Off {
			on = append(on, i)
		}
	}
	return on
}

// rowError is an error of one evidence.
type rowError struct {
	row     int
	err     error
	columns []benchpage.Channel // where one must be chosen
}

func (e *rowError) Error() string { return e.err.Error() }
func (e *rowError) Unwrap() error { return e.err }

// errNoEvidence is what a state without a capture lacks.
var errNoEvidence = errors.New("no capture counts yet; drop one on the page, or choose one")

// judged answers a state: the same work as reconcile does with the file that is saved from it.
func (w *workbench) judged(ctx context.Context, state *benchpage.State, tell func(string, int64, int64)) (*document.Basis, error) {
	d, err := w.designOf(state)
	if err != nil {
		return nil, err
	}
	o := reconcileOptions{Output: outputFlags{Report: "-"}} // what a report needs is kept
	all := &reading{evidence: &evidence{}, command: w.command()}
	var on []designfile.Evidence
	var late []string // as reconcile says them: after what the captures say
	for i := range state.Evidence {
		row := &state.Evidence[i]
		if row.Off || row.Capture == "" {
			continue
		}
		k := row.Evidence
		on = append(on, k)
		k.SHA256 = "" // it is the server's own
		sources, e, _, err := o.kept(d, []designfile.Evidence{k})
		if err != nil {
			return nil, &rowError{row: i, err: err}
		}
		if len(sources) == 0 { // no pulse was seen, and the design holds that
			continue
		}
		f := w.files.Get(row.File)
		if f == nil {
			return nil, &rowError{row: i, err: fmt.Errorf("%s: the capture is no longer here; drop it again", row.Capture)}
		}
		r, err := w.measured(ctx, f, sources[0], tell)
		if errors.Is(err, acquire.ErrChoice) && d.Circuit != "bistable" {
			return nil, &rowError{i, err, w.columns(ctx, f, d, k)}
		}
		if err != nil {
			return nil, &rowError{row: i, err: err}
		}
		all.join(r, row.Capture, e.with[0])
		if row.SHA256 != "" && row.SHA256 != f.SHA256 {
			late = append(late, differs(row.Capture))
		}
	}
	all.warnings = append(all.warnings, late...)
	all.command, all.anew = spelled(all.command, on), all.command
	if len(all.captures) == 0 && len(d.Stills) == 0 {
		return nil, errNoEvidence
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return all.judged(ctx, d)
}

// designOf reads a state's design with the readings of its evidence.
func (w *workbench) designOf(state *benchpage.State) (*fit.Design, error) {
	d, _, err := designfile.ReadSessionFrom(w.path(), strings.NewReader(together(state)), designfile.Flags{})
	return d, err
}

// together is the text of the file that a state is saved as, with captures named as they are now.
func together(state *benchpage.State) string {
	var all []designfile.Evidence
	for i := range state.Evidence {
		all = append(all, state.Evidence[i].Evidence)
	}
	return designfile.Together(state.Design, all)
}

// join adds what one source gave, under the name that its user knows.
func (r *reading) join(one *reading, name string, with []fit.Condition) {
	for _, c := range one.captures {
		c.Source, c.Notes = name, slices.Clone(c.Notes)
		r.captures = append(r.captures, c)
	}
	for range one.measurements {
		r.from = append(r.from, len(r.evidence.with))
	}
	r.measurements, r.waves, r.traces = append(r.measurements, one.measurements...), append(r.waves, one.waves...), append(r.traces, one.traces...)
	r.checks, r.warnings = append(r.checks, one.checks...), append(r.warnings, one.warnings...)
	r.evidence.with = append(r.evidence.with, with)
}

// measured measures a capture, once for each way to read it. It stops with its context.
func (w *workbench) measured(ctx context.Context, f *benchpage.File, src source, tell func(string, int64, int64)) (*reading, error) {
	o := src.readOptions
	latch := ""
	if o.latch != nil {
		latch = fmt.Sprint(*o.latch)
	}
	o.Progress = nil
	key := fmt.Sprintf("%s %+v %v %v %v %v %v %s", f.SHA256, o.Options, o.level, o.levelSet, o.clock, o.onePulse, o.roles, latch)
	key += " " + src.name
	w.mu.Lock()
	r := w.read[key]
	w.mu.Unlock()
	if r != nil {
		return r, nil
	}
	file, err := os.Open(f.Path)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", src.name, reason(err))
	}
	defer file.Close()
	defer context.AfterFunc(ctx, func() { file.Close() })()
	o.Progress = func(read, total int64) {
		if tell != nil {
			tell(src.name, read, total)
		}
	}
	in, err := open.OpenFile(src.name, file, o.Options)
	if err == nil {
		r = &reading{}
		err = r.records(in, o)
	}
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case err != nil:
		return nil, misplaced(choice(err, o), src.name)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.read) > 200 { // of many tries; what counts is measured again
		clear(w.read)
	}
	w.read[key] = r
	return r, nil
}

// maxColumns is how many columns are drawn to choose from.
const maxColumns = 8

// columns measures and draws each column of a capture as if it were the output, so that one can be chosen by sight.
func (w *workbench) columns(ctx context.Context, f *benchpage.File, d *fit.Design, k designfile.Evidence) (out []benchpage.Channel) {
	o := reconcileOptions{Output: outputFlags{Report: "-"}}
	for n := 1; n <= maxColumns; n++ {
		k.Channels = []string{strconv.Itoa(n)}
		sources, _, _, err := o.kept(d, []designfile.Evidence{k})
		if err != nil {
			return out
		}
		r, err := w.measured(ctx, f, sources[0], nil)
		c := benchpage.Channel{Number: n}
		switch {
		case ctx.Err() != nil, errors.Is(err, acquire.ErrChoice): // there is no such column
			return out
		case err != nil:
			c.Text = said(err)
		case len(r.measurements) > 0 && r.traces[0] != nil:
			t := r.traces[0]
			if len(t.Channels) > 0 {
				c.Name = t.Channels[0].Name
			}
			c.Text = summaryOf(&r.captures[0])
			drawn := document.Section{ID: fmt.Sprintf("column-%d", n)}
			drawn.Blocks = append(drawn.Blocks, document.Block{Kind: document.Pictured, Figure: func(id string) (picture.Picture, bool) { return picture.Capture(id, t, r.measurements[0]), true }})
			if _, parts, err := page.Parts(&document.Document{Sections: []document.Section{drawn}}, fmt.Sprintf("x%d-", n)); err == nil && len(parts) > 0 {
				c.HTML = parts[0].HTML
			}
		}
		out = append(out, c)
	}
	return out
}

// Solve answers a state.
func (w *workbench) Solve(ctx context.Context, state *benchpage.State, tell func(string, int64, int64)) (*benchpage.Answer, error) {
	b, err := w.judged(ctx, state, tell)
	if err != nil {
		return nil, err
	}
	doc := document.Of(b)
	a := &benchpage.Answer{Title: doc.Title, Causes: causesOf(b.Finding), Command: w.command(), Unsaved: !w.isSaved(state), After: after(b.Finding)}
	if a.Finding, a.Sections, err = page.Parts(doc, "a-"); err != nil {
		return nil, err
	}
	for i := range b.Finding.Next {
		n := nextOf(&b.Finding.Next[i], b)
		if b.Evidence != nil {
			n.Means = meansOf(&b.Finding.Next[i], b)
		}
		a.Next = append(a.Next, n)
	}
	a.Rows = make([]benchpage.Measured, len(state.Evidence))
	for i := range state.Evidence {
		for k := range b.Finding.Captures {
			if c := &b.Finding.Captures[k]; c.Source == state.Evidence[i].Capture && !state.Evidence[i].Off {
				a.Rows[i] = benchpage.Measured{Text: summaryOf(c), Notes: c.Notes}
			}
		}
	}
	return a, nil
}

// summaryOf is what a capture says by itself, in a line.
func summaryOf(c *compare.Capture) string {
	m := c.Measured
	switch {
	case m == nil:
		return ""
	case m.Frequency != nil && m.Duty != nil:
		return fmt.Sprintf("%s, duty factor %s, %s", quantity.PlusMinus(m.Frequency.Value, m.Frequency.Uncertainty, quantity.Hertz), quantity.Relative(m.Duty.Value), quantity.Plural(c.Cycles, "whole cycle"))
	case m.High != nil:
		return fmt.Sprintf("high time %s, %s", quantity.PlusMinus(m.High.Value, m.High.Uncertainty, quantity.Second), quantity.Plural(c.Cycles, "whole pulse"))
	}
	return ""
}

// causesOf are a finding's causes with their probabilities.
func causesOf(f *compare.Finding) []benchpage.Cause {
	var out []benchpage.Cause
	for i := range f.Causes {
		c := &f.Causes[i]
		out = append(out, benchpage.Cause{Name: cause.Title(c.Cause, c.Parts), Probability: c.Probability, Text: say.Percent(c.Probability)})
	}
	return out
}

// nextOf is a reading to take with the way to enter it.
func nextOf(n *compare.Next, b *document.Basis) benchpage.Next {
	out := benchpage.Next{Reading: n.Reading, Kind: n.Kind, Caution: n.Caution, Minutes: n.Effort, Part: n.Part}
	if name, ok := strings.CutPrefix(n.Enter, "--reading "); ok {
		out.Direct, _, _ = strings.Cut(name, "=")
	} else if rest, ok := strings.CutPrefix(n.Enter, `--with "`); ok {
		out.Condition, _, _ = strings.Cut(rest, `"`)
		if !strings.Contains(out.Condition, nextreading.Measured) {
			out.Condition = strings.TrimSpace(out.Condition)
		}
	}
	if rest, ok := strings.CutPrefix(n.Enter, `--look "`); ok && b.Evidence != nil {
		out.Look, _, _ = strings.Cut(rest, `"`)
		for _, o := range b.Evidence.Outcomes(n) {
			out.Outcomes = append(out.Outcomes, o.Word)
		}
	}
	if n.Enter != "" {
		out.Command = strings.TrimSpace(b.Command + " " + n.Enter)
	}
	return out
}

// meansOf says what a reading would show under each of the likely causes.
func meansOf(n *compare.Next, b *document.Basis) (out []string) {
	for _, o := range b.Evidence.Outcomes(n) {
		out = append(out, fmt.Sprintf("%s (%s): then %s, %s", o.Word, say.Percent(o.Probability), cause.Title(o.Cause, o.Parts), say.Percent(o.Then)))
	}
	for _, e := range b.Evidence.Expected(n) {
		if e.Probability < 0.02 || len(out) == 3 {
			break
		}
		unit, what := quantity.Hertz, "the frequency"
		switch n.Kind {
		case nextreading.Resistance:
			unit, what = quantity.Ohm, n.Part
		case nextreading.Capacitance:
			unit, what = quantity.Farad, n.Part
		case nextreading.Supply, nextreading.Control:
			unit, what = quantity.Volt, "the "+n.Kind+" voltage"
		}
		if len(b.Finding.Captures) > 0 && b.Finding.Measured.Period == nil && unit == quantity.Hertz {
			return nil // a single pulse has no frequency
		}
		out = append(out, fmt.Sprintf("%s (%s): %s about %s", cause.Title(e.Cause, e.Parts), say.Percent(e.Probability), what, quantity.Format(e.Value, unit)))
	}
	return out
}

// after says what to do when no reading remains to be taken.
func after(f *compare.Finding) string {
	if len(f.Causes) == 0 {
		return ""
	}
	c := &f.Causes[0]
	check := "Then capture again and drop the new capture here as the check."
	switch {
	case f.Latch != nil:
		return ""
	case c.Cause == cause.Nothing:
		return "Nothing is to be repaired as far as these readings tell. " + check
	case len(c.Parts) == 1:
		return "Power off, discharge the capacitors, replace " + c.Parts[0] + ". " + check
	case len(c.Parts) > 1:
		return "Power off, discharge the capacitors, look at " + strings.Join(c.Parts, " and ") + " and put the right parts in. " + check
	}
	return "The likeliest cause is " + cause.Title(c.Cause, c.Parts) + ": mend that first. " + check
}

// mostOff is how many evidence that are left out are tried.
const mostOff = 8

// Trail answers a state with one more evidence at a time, to all of it. The first stage is the prior odds; after the last come
// those with an evidence more that is left out.
func (w *workbench) Trail(ctx context.Context, state *benchpage.State) ([]benchpage.Stage, error) {
	var out []benchpage.Stage
	on := rowsOn(state)
	for n := range on {
		part := &benchpage.State{Design: state.Design}
		captures := 0
		for _, i := range on[:n+1] {
			part.Evidence = append(part.Evidence, state.Evidence[i])
			if state.Evidence[i].Capture != "" {
				captures++
			}
		}
		if captures == 0 {
			continue
		}
		b, err := w.judged(ctx, part, nil)
		if err != nil {
			return nil, err
		}
		if len(out) == 0 {
			out = append(out, benchpage.Stage{Row: -1, Causes: priorsOf(b.Finding)})
		}
		out = append(out, benchpage.Stage{Row: on[n], Causes: causesOf(b.Finding)})
	}
	if len(out) == 0 {
		return out, nil
	}
	for i, tried := 0, 0; i < len(state.Evidence) && tried < mostOff; i++ {
		if !state.Evidence[i].Off {
			continue
		}
		tried++
		with := *state
		with.Evidence = slices.Clone(state.Evidence)
		with.Evidence[i].Off = false
		if b, err := w.judged(ctx, &with, nil); err == nil { // else it is left out for that
			out = append(out, benchpage.Stage{Row: i, Off: true, Causes: causesOf(b.Finding)})
		}
	}
	return out, ctx.Err()
}

// priorsOf are the causes as they stood before anything was read.
func priorsOf(f *compare.Finding) []benchpage.Cause {
	sum := 0.0
	for i := range f.Causes {
		sum += f.Causes[i].PriorOdds
	}
	out := causesOf(f)
	for i := range out {
		out[i].Probability = f.Causes[i].PriorOdds / cmp.Or(sum, 1)
		out[i].Text = say.Percent(out[i].Probability)
	}
	return out
}

// Report writes the answer as the page that reconcile --report writes.
func (w *workbench) Report(ctx context.Context, state *benchpage.State, out io.Writer) error {
	b, err := w.judged(ctx, state, nil)
	if err != nil {
		return err
	}
	return page.Write(out, document.Of(b), maker(w.s))
}

// isSaved says whether the file holds the state.
func (w *workbench) isSaved(state *benchpage.State) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	design, kept, err := designfile.Apart(w.saved)
	if err != nil || design != state.Design || len(kept) != len(state.Evidence) {
		return false
	}
	for i := range kept {
		k, row := kept[i], state.Evidence[i].Evidence
		if isFile(&k) && !filepath.IsAbs(k.Capture) {
			k.Capture = filepath.Join(w.folder, k.Capture)
		}
		if isFile(&row) {
			row.SHA256 = cmp.Or(row.SHA256, k.SHA256)
		}
		if designfile.Together("", []designfile.Evidence{k}) != designfile.Together("", []designfile.Evidence{row}) {
			return false
		}
	}
	return true
}

// command is the command line that gives the answer of a state once it is saved.
func (w *workbench) command() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return "offbeat reconcile " + shellWord(w.path())
}

// Save writes a state to a file of the folder, with the captures that were dropped on the page beside it.
func (w *workbench) Save(state *benchpage.State, name string, over bool) (*benchpage.Saved, error) {
	if name != filepath.Base(name) || strings.ContainsAny(name, `/\`) || filepath.Ext(name) != ".toml" || len(name) <= len(".toml") {
		return nil, fmt.Errorf("%q is no name for the design file; expected a plain name such as board.toml, which goes into %s", name, w.begin.Folder)
	}
	path := filepath.Join(w.folder, name)
	own := name == w.name && w.saved != ""
	if i, err := os.Lstat(path); err == nil && !i.Mode().IsRegular() && !own { // a link may lead anywhere
		return nil, fmt.Errorf("%s is no plain file; expected another name, or the file that the link leads to named as offbeat bench begins", path)
	}
	if text, err := os.ReadFile(path); err == nil && !over && (!own || string(text) != w.saved) {
		return nil, fmt.Errorf("%s is there already, and not as this page knows it: %w", path, fs.ErrExist)
	}
	out := &benchpage.Saved{Name: name, State: benchpage.State{Design: state.Design}}
	kept := make([]designfile.Evidence, len(state.Evidence))
	for i, row := range state.Evidence {
		if isFile(&row.Evidence) {
			f := w.files.Get(row.File)
			if f == nil {
				return nil, &rowError{row: i, err: fmt.Errorf("%s: the capture is no longer here; drop it again", row.Capture)}
			}
			at, wrote, err := w.beside(f)
			if err != nil {
				return nil, &rowError{row: i, err: err}
			}
			if wrote {
				out.Written = append(out.Written, at)
			}
			row.Capture, row.SHA256 = at, f.SHA256
		}
		kept[i] = row.Evidence
		if isFile(&row.Evidence) {
			if rel, err := filepath.Rel(w.folder, row.Capture); err == nil {
				kept[i].Capture = rel
			}
		}
		out.State.Evidence = append(out.State.Evidence, row)
	}
	more, err := w.saveLot(state.Lot, path)
	if err != nil {
		return nil, err
	}
	out.State.Lot, out.Written = state.Lot, append(out.Written, more...)
	text := designfile.Together(state.Design, kept)
	if err := writeFile(path, func(to io.Writer) error { _, err := io.WriteString(to, text); return err }); err != nil {
		return nil, err
	}
	w.mu.Lock()
	w.saved, w.name = text, name
	w.mu.Unlock()
	out.Written = append(out.Written, path)
	if out.Command = w.command(); state.Lot != nil {
		out.Command = w.lotCommand(state.Lot, w.savedLot(state.Lot, path))
	}
	return out, nil
}

// beside finds a capture a place from which the saved file can name it: where it is, or, where it was dropped on the page,
// in the folder, under its own name or one like it that is free.
func (w *workbench) beside(f *benchpage.File) (path string, wrote bool, err error) {
	if !f.Sent {
		return f.Path, false, nil
	}
	stem, ext, _ := strings.Cut(f.Name, ".")
	for n := 1; n < 1000; n++ {
		name := f.Name
		if n > 1 {
			name = strings.TrimSuffix(fmt.Sprintf("%s-%d.%s", stem, n, ext), ".")
		}
		path = filepath.Join(w.folder, name)
		there, err := digestOf(path)
		if i, is := os.Lstat(path); is == nil && !i.Mode().IsRegular() { // a link may lead anywhere
			continue
		}
		switch {
		case err == nil && there == f.SHA256:
			return path, false, nil
		case err == nil:
			continue
		case !errors.Is(err, fs.ErrNotExist):
			return "", false, fmt.Errorf("%s cannot be written: %w", path, reason(err))
		}
		from, err := os.Open(f.Path)
		if err != nil {
			return "", false, err
		}
		defer from.Close()
		return path, true, writeFile(path, func(to io.Writer) error { _, err := io.Copy(to, from); return err })
	}
	return "", false, fmt.Errorf("%s: no free name is left in %s", f.Name, w.folder)
}

// digestOf is the SHA-256 of a file.
func digestOf(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	_, err = io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), err
}

// Fault explains an error to the page: beside which field or evidence it belongs.
func (w *workbench) Fault(state *benchpage.State, err error) *benchpage.Fault {
	f := &benchpage.Fault{Message: said(err), Short: said(err), Row: -1}
	var of *rowError
	if errors.As(err, &of) {
		f.Row, f.Columns = of.row, of.columns
	}
	var d *designfile.Error
	if !errors.As(err, &d) || state == nil {
		return f
	}
	bare := d.Fault
	bare.File, bare.Line, bare.Column = "", 0, 0
	f.Short = strings.TrimPrefix(bare.Error(), ": ")
	lines := 1 + strings.Count(strings.TrimSuffix(state.Design, "\n"), "\n")
	if f.Row >= 0 || d.Fault.Line == 0 {
		return f
	}
	if d.Fault.Line > lines { // below the design: of an evidence
		text := strings.SplitN(together(state), "\n", d.Fault.Line+1)
		for _, l := range text[:min(d.Fault.Line, len(text))] {
			if strings.HasPrefix(l, "[[") {
				f.Row++
			}
		}
		return f
	}
	f.Line, f.Column = d.Fault.Line, d.Fault.Column
	fields, err := designfile.Fields(state.Design)
	if err != nil {
		return f
	}
	for _, field := range fields {
		if field.Line == f.Line && (f.Key == "" || field.Column <= f.Column) {
			f.Key = field.Key
		}
	}
	return f
}
