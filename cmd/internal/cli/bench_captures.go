package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"

	"offbeat/acquire"
	"offbeat/acquire/open"
	"offbeat/acquire/quantity"
	"offbeat/cmd/internal/benchpage"
	"offbeat/cmd/internal/designfile"
	"offbeat/compare"
	"offbeat/compare/report/document"
	"offbeat/compare/report/page"
	"offbeat/compare/report/picture"
	"offbeat/fit"
)

// join adds what one source gave, under the name that its user knows.
func (r *reading) join(one *reading, name string, with []fit.Condition) {
	for _, c := range one.captures {
		c.Source, c.Notes = name, slices.Clone(c.Notes)
		r.captures = append(r.captures, c)
	}
	for _, b := range one.blanks {
		b.Source, b.from = name, len(r.evidence.with)
		r.blanks = append(r.blanks, b)
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
		return nil, fmt.Errorf("%s cannot be read: %w", src.name, acquire.Reason(err))
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
			drawn.Blocks = append(drawn.Blocks, document.Block{Kind: document.Pictured, Figure: func(id string) picture.Picture { return picture.Capture(id, t, r.measurements[0]) }})
			if _, parts, err := page.Parts(&document.Document{Sections: []document.Section{drawn}}, fmt.Sprintf("x%d-", n)); err == nil && len(parts) > 0 {
				c.HTML = parts[0].HTML
			}
		}
		out = append(out, c)
	}
	return out
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
