package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/cmd/internal/benchpage"
	"offbeat/cmd/internal/designfile"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/nextreading"
	"offbeat/compare/report/document"
	"offbeat/compare/report/page"
	"offbeat/fit"
)

// rowsOn are the evidence that counts, each with its place in the state.
func rowsOn(s *benchpage.State) (on []int) {
	for i := range s.Evidence {
		if !s.Evidence[i].Off {
			on = append(on, i)
		}
	}
	return on
}

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
	if len(all.captures)+len(all.blanks)+len(d.Stills) == 0 {
		return nil, errNoEvidence
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return all.judged(ctx, d)
}

// designOf reads a state's design with the readings of its evidence.
func (w *workbench) designOf(state *benchpage.State) (*fit.Design, error) {
	d, _, err := designfile.ReadFrom(w.path(), strings.NewReader(together(state)), designfile.Flags{})
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

// causesOf are a finding's causes with their probabilities.
func causesOf(f *compare.Finding) []benchpage.Cause {
	var out []benchpage.Cause
	for i := range f.Causes {
		c := &f.Causes[i]
		out = append(out, benchpage.Cause{Name: cause.Title(c.Cause, c.Parts), Probability: c.Probability, Text: quantity.Probability(c.Probability)})
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
		out.Command = b.ToEnter(n)
	}
	return out
}

// meansOf says what a reading would show under each of the likely causes.
func meansOf(n *compare.Next, b *document.Basis) (out []string) {
	for _, o := range b.Evidence.Outcomes(n) {
		out = append(out, fmt.Sprintf("%s (%s): then %s, %s", o.Word, quantity.Probability(o.Probability), cause.Title(o.Cause, o.Parts), quantity.Probability(o.Then)))
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
		out = append(out, fmt.Sprintf("%s (%s): %s about %s", cause.Title(e.Cause, e.Parts), quantity.Probability(e.Probability), what, quantity.Format(e.Value, unit)))
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
		out[i].Text = quantity.Probability(out[i].Probability)
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
