package read

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// oddLine deals with a line that is no row: it is counted once, and may end the record.
func (r *tableReader) oddLine(o *scan.Odd) error {
	if sifted(*o) {
		r.sifted(o)
		return nil
	}
	line := r.b.text[o.Start:o.End]
	trimmed := bytes.TrimSpace(line)
	num := r.line(o.Row)
	last := r.b.cut && r.odd == len(r.b.odd)-1 && o.Row == r.b.n
	switch {
	case len(bytes.Trim(trimmed, ",;| \t")) == 0:
		r.counts.Add(acquire.BlankLine, 1, "")
	case r.p.IsHeader(trimmed):
		r.counts.Add(acquire.HeaderLine, 1, "")
		r.boundary, r.foreign = true, false
	case recognise.IsComment(trimmed, r.p.Layout.Delim):
		r.counts.Add(acquire.PreambleLine, 1, "")
	case r.p.IsPreamble(trimmed):
		r.counts.Add(acquire.PreambleLine, 1, "")
		r.boundary, r.foreign = true, false
		r.restate(line)
	case r.foreign:
		r.skip(1, anotherTable)
	case last:
		r.skip(1, cutRow)
		return cutError(r.p.Name, num, scan.Column(line, r.p.Layout.Delim, o.Cell))
	case allText(scan.Split(nil, line, r.p.Layout.Delim)):
		r.boundary = true
		cells := scan.Split(nil, line, r.p.Layout.Delim)
		r.foreign = len(cells) > 1 && len(cells[1]) > 0
		if r.foreign {
			r.skip(1, anotherTable)
		} else {
			r.skip(1, looseText)
			r.worded = true
		}
	case r.worded: // what follows words and is no row is another table, or a dump
		r.foreign = true
		r.skip(1, anotherTable)
	default:
		r.boundary = true
		r.skip(1, badRow)
		return r.malformed(o, line, num)
	}
	return nil
}

// sifted deals with a row that the sieve took out.
func (r *tableReader) sifted(o *scan.Odd) {
	reason := repeatedRow
	if o.Fault == scan.FalseTime {
		reason, r.boundary = falseTime, true
	}
	if r.foreign {
		reason = anotherTable
	}
	r.skip(int64(1+o.More), reason)
}

// restate takes a preamble that is repeated within the file: its interval holds for the records below it.
func (r *tableReader) restate(line []byte) {
	if step, rounding := recognise.Interval(line, r.p.Layout.Delim); step > 0 && r.opt.Interval == 0 {
		r.step, r.rounding = step, rounding
	}
}

// malformed lets a few bad rows pass, and fails when they are too many to be slips.
func (r *tableReader) malformed(o *scan.Odd, line []byte, num int64) error {
	cells := scan.Split(nil, line, r.p.Layout.Delim)
	e := &acquire.Error{File: r.p.Name, Line: int(num), Column: scan.Column(line, r.p.Layout.Delim, o.Cell), Err: acquire.ErrSyntax}
	switch o.Fault {
	case scan.Few:
		e.What, e.Expect, e.Column = fmt.Sprintf("the row has %d cells", len(cells)), fmt.Sprintf("%d", r.p.Layout.Cells), 0
	case scan.Many:
		e.What, e.Expect = fmt.Sprintf("the row has %d cells", len(cells)), fmt.Sprintf("%d", r.p.Layout.Cells)
		if number := r.cutNumber(cells); number != "" {
			e.What, e.Expect, e.Do = fmt.Sprintf("the digits of %q are grouped by what parts the columns", number), "plain digits", "export without digit grouping"
		}
	case scan.BadTime:
		e.What, e.Expect = fmt.Sprintf("%q is no time", scan.Clip(cells[o.Cell])), "a number"
	default:
		e.What, e.Expect = fmt.Sprintf("%q is no level", scan.Clip(cells[o.Cell])), "a number, 0 or 1, or a mark such as X or NaN"
	}
	r.firstBad = cmp.Or(r.firstBad, e)
	r.note(fmt.Sprintf("line %d is skipped: %s", num, e.What))
	if r.bad++; r.bad > maxBad && r.bad*100 > r.counts.Rows {
		e = r.firstBad
		if e.Do == "" {
			e.Do = fmt.Sprintf("mend or delete the line; it is the first of %d such lines", r.bad)
		}
		return e
	}
	return nil
}

// cutNumber is the first number whose grouped digits the delimiter has cut; empty: none.
func (r *tableReader) cutNumber(cells [][]byte) string {
	for k := range len(cells) - 1 {
		whole := slices.Concat(cells[k], []byte{r.p.Layout.Delim}, cells[k+1])
		if scan.Grouped(whole, r.p.Layout.Point) {
			return string(whole)
		}
	}
	return ""
}

// checkCut looks at a last line that has no line end but reads as a row: if it was cut, it is none.
func (r *tableReader) checkCut() {
	b := r.b
	if b.n == 0 || len(b.odd) > 0 && b.odd[len(b.odd)-1].Row == b.n {
		return
	}
	end := len(b.text) - 1
	start := bytes.LastIndexByte(b.text[:end], '\n') + 1
	var before []byte
	for from := start; from > 0 && len(bytes.TrimSpace(before)) == 0; { // past blank lines
		to := from - 1
		from = bytes.LastIndexByte(b.text[:to], '\n') + 1
		before = b.text[from:to]
	}
	if len(bytes.TrimSpace(before)) == 0 {
		before = nil
	}
	if cell, short := r.p.Cut(b.text[start:end], before); short {
		b.n--
		b.odd = append(b.odd, scan.Odd{Row: b.n, Start: start, End: end, Fault: scan.BadLevel, Cell: cell})
	}
}
