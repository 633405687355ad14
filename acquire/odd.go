package acquire

import (
	"bytes"
	"fmt"

	"offbeat/acquire/internal/scan"
)

// Reasons why a line is skipped.
const (
	anotherTable = "part of another table"
	looseText    = "text among the rows"
	badRow       = "malformed row"
	cutRow       = "cut in mid-row"
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
	count := func(class lineClass, reason string) {
		r.s.counts.add(class, 1, reason)
		if class == skippedLine && r.cur != nil && !r.cur.done {
			r.cur.lost[reason]++
			r.cur.cap.Skipped++
		}
	}
	switch {
	case len(trimmed) == 0 || len(bytes.Trim(trimmed, ",; \t")) == 0:
		count(blankLine, "")
	case r.p.isHeader(trimmed):
		count(headerLine, "")
		r.boundary, r.foreign = true, false
	case isComment(trimmed, r.p.layout.Delim):
		count(preambleLine, "")
	case r.p.isPreamble(trimmed):
		count(preambleLine, "")
		r.boundary, r.foreign = true, false
		r.restate(line)
	case r.foreign:
		count(skippedLine, anotherTable)
	case last:
		count(skippedLine, cutRow)
		return cutError(r.s.name, num, scan.Column(line, r.p.layout.Delim, o.Cell))
	case r.isText(line):
		r.boundary = true
		cells := scan.Split(nil, line, r.p.layout.Delim)
		r.foreign = len(cells) > 1 && len(cells[1]) > 0
		if r.foreign {
			count(skippedLine, anotherTable)
		} else {
			count(skippedLine, looseText)
		}
	default:
		r.boundary = true
		count(skippedLine, badRow)
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
	r.s.counts.add(skippedLine, 1, reason)
	if r.cur != nil && !r.cur.done {
		r.cur.lost[reason]++
		r.cur.cap.Skipped++
	}
}

// restate takes a preamble that is repeated within the file: its interval holds for the records below it.
func (r *tableReader) restate(line []byte) {
	h := head{delim: r.p.layout.Delim, lines: []headLine{newHeadLine(line, r.p.layout.Delim)}}
	h.readPairs(0)
	if h.meta.interval > 0 && r.s.opt.Interval == 0 {
		r.step, r.rounding = h.meta.interval, h.meta.rounding
	}
}

// note tells the user something about the record being read, or else about the next.
func (r *tableReader) note(text string) {
	if r.cur == nil || r.cur.done {
		r.pending = append(r.pending, text)
		return
	}
	r.cur.note("%s", text)
}

// cutError is the error for a last line that is no whole row and has no line end.
func cutError(name string, num int64, column int) *Error {
	return &Error{File: name, Line: int(num), Column: column, What: "the last line is cut in mid-row", Expect: "whole rows",
		Do: "copy or export the file again; without its last line it can be read", Err: ErrTruncated}
}

// maxBad is how many bad rows may be slips however short the file is; of a longer one, one row in a hundred.
const maxBad = 3

// malformed lets a few bad rows pass, and fails when they are too many to be slips.
func (r *tableReader) malformed(o *scan.Odd, line []byte, num int64) error {
	cells := scan.Split(nil, line, r.p.layout.Delim)
	e := &Error{File: r.s.name, Line: int(num), Column: scan.Column(line, r.p.layout.Delim, o.Cell), Err: ErrSyntax}
	switch o.Fault {
	case scan.Few:
		e.What, e.Expect, e.Column = fmt.Sprintf("the row has %d cells", len(cells)), fmt.Sprintf("%d", r.p.layout.Cells), 0
	case scan.Many:
		e.What, e.Expect = fmt.Sprintf("the row has %d cells", len(cells)), fmt.Sprintf("%d", r.p.layout.Cells)
	case scan.BadTime:
		e.What, e.Expect = fmt.Sprintf("%q is no time", clip(cells[o.Cell])), "a number"
	default:
		e.What, e.Expect = fmt.Sprintf("%q is no level", clip(cells[o.Cell])), "a number, 0 or 1, or a mark such as X or NaN"
	}
	if r.firstBad == nil {
		r.firstBad = e
	}
	r.note(fmt.Sprintf("line %d is skipped: %s", num, e.What))
	if r.bad++; r.bad > maxBad && r.bad*100 > r.s.counts.Rows {
		e = r.firstBad
		e.Do = fmt.Sprintf("mend or delete the line; it is the first of %d such lines", r.bad)
		return e
	}
	return nil
}

// clip shortens a cell for a message.
func clip(b []byte) string {
	if len(b) > 40 {
		return string(b[:40]) + "…"
	}
	return string(b)
}

// isText: no cell but text and empty ones.
func (r *tableReader) isText(line []byte) bool {
	for _, c := range scan.Split(nil, line, r.p.layout.Delim) {
		if k := scan.Classify(c); k != scan.Text && k != scan.Empty {
			return false
		}
	}
	return true
}

func isComment(line []byte, delim byte) bool {
	return len(line) > 0 && (line[0] == '#' || line[0] == '%' || line[0] == ';' && delim != ';' || bytes.HasPrefix(line, []byte("//")))
}

// checkCut looks at a last line that has no line end but reads as a row: if its last number has not the form that
// all others have, it was cut, and is no row.
func (r *tableReader) checkCut() {
	b := r.b
	if b.n == 0 || len(b.odd) > 0 && b.odd[len(b.odd)-1].Row == b.n || r.p.tail == (numberForm{}) {
		return
	}
	end := len(b.text) - 1
	start := bytes.LastIndexByte(b.text[:end], '\n') + 1
	if form, cell := tailForm(b.text[start:end], r.p.layout.Delim); form != r.p.tail {
		b.n--
		b.odd = append(b.odd, scan.Odd{Row: b.n, Start: start, End: end, Fault: scan.BadLevel, Cell: cell})
	}
}
