package read

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// listReader turns the lines of a source into rows one at a time, for shapes whose rows depend on the lines
// before them. It counts its lines itself.
type listReader struct {
	p      *recognise.Plan
	counts *acquire.Counts
	width  int // levels a row
	take   lineTaker

	lines  *bufio.Scanner
	line   int64
	faults int64
	look   surveyor
	last   []byte // the line before, trimmed
	run    int    // how often it has stood
	worded bool   // words stood behind the last row
	b      batch
	err    error
}

// lineTaker is what a shape knows of its lines.
type lineTaker interface {
	// line takes one line: it adds rows and events, and says what the line was.
	line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error)
}

// newList reads the source's lines with the given taker.
func newList(t Text, p *recognise.Plan, counts *acquire.Counts, width int, take lineTaker) *listReader {
	var all io.Reader = bytes.NewReader(t.Head)
	if !t.Whole {
		all = io.MultiReader(all, t.Rest)
	}
	lines := bufio.NewScanner(LineEnds(all))
	lines.Buffer(make([]byte, chunkSize/4), MaxLine)
	lines.Split(withEnd)
	return &listReader{p: p, counts: counts, width: width, take: take, look: lookOf(p), lines: lines}
}

func (l *listReader) stop() {}

// row adds a row at time t.
func (l *listReader) row(t float64, v ...float64) {
	l.worded = false
	l.b.time = append(l.b.time, t)
	for i := range l.b.value {
		l.b.value[i] = append(l.b.value[i], v[i])
	}
	l.b.n++
}

// sample adds a row without a time.
func (l *listReader) sample(v float64) {
	l.b.value[0] = append(l.b.value[0], v)
	l.b.n++
}

// note tells the user something about the record.
func (l *listReader) note(format string, a ...any) {
	l.b.events = append(l.b.events, event{row: l.b.n, note: fmt.Sprintf(format, a...)})
}

// lose tells that a line is skipped for a reason.
func (l *listReader) lose(reason string) {
	l.b.events = append(l.b.events, event{row: l.b.n, lost: reason})
}

// cut begins a new record with the next row.
func (l *listReader) cut() { l.b.events = append(l.b.events, event{row: l.b.n, cut: true}) }

// bad skips a line that is no row and ends the record there; the last line, if it has no line end, is an error.
func (l *listReader) bad(text []byte, num int64, cut bool, cell int) (acquire.LineClass, string, error) {
	if l.line > int64(l.p.First)+1 && allText(scan.Split(nil, text, l.p.Layout.Delim)) {
		l.worded = true
		l.cut()
		l.lose(looseText)
		return acquire.SkippedLine, looseText, nil
	}
	if l.worded { // what follows words and is no row is another table, or a dump
		l.lose(anotherTable)
		return acquire.SkippedLine, anotherTable, nil
	}
	if cut {
		return acquire.SkippedLine, cutRow, cutError(l.p.Name, num, scan.Column(text, l.p.Layout.Delim, cell))
	}
	l.b.events = append(l.b.events, event{row: l.b.n, note: fmt.Sprintf("line %d is skipped: %q is no row", num, scan.Clip(bytes.TrimSpace(text))), skipped: true, cut: true})
	if l.faults++; l.faults > maxBad && l.faults*100 > l.line {
		return acquire.SkippedLine, badRow, &acquire.Error{File: l.p.Name, Line: int(num), What: fmt.Sprintf("%d of %d lines can't be read", l.faults, l.line), Expect: "rows of " + l.p.Shape, Do: "mend or delete the lines, or name another --shape", Err: acquire.ErrSyntax}
	}
	return acquire.SkippedLine, badRow, nil
}

// listRows is about how many rows make a batch.
const listRows = 4096

func (l *listReader) next() (*batch, error) {
	b := &l.b
	b.n, b.time, b.events, b.counted, b.marked = 0, b.time[:0], b.events[:0], true, false
	if b.value == nil {
		b.value = make([][]float64, l.width)
	}
	for i := range b.value {
		b.value[i] = b.value[i][:0]
	}
	b.line = l.line + 1
	for l.err == nil && b.n < listRows {
		text, cut, err := l.nextLine()
		if err != nil {
			l.err = err
			if err == io.EOF {
				if last, ok := l.take.(interface{ end(*listReader) }); ok { // what its last line leaves open
					last.end(l)
				}
			}
			break
		}
		l.line++
		if l.repeats(bytes.TrimSpace(text)) {
			l.counts.Add(acquire.SkippedLine, 1, repeatedRow)
			l.lose(repeatedRow)
			continue
		}
		class, reason, err := l.class(text, cut)
		l.counts.Add(class, 1, reason)
		l.err = err
	}
	if b.n > 0 || len(b.events) > 0 {
		l.look.clean(b)
		return b, nil
	}
	return nil, l.err
}

// class takes a line, and says what it is.
func (l *listReader) class(text []byte, cut bool) (class acquire.LineClass, reason string, err error) {
	if l.p.Layout.Cells > 0 { // rows of a table
		if class, ok := l.p.Above(text, l.line); ok {
			return class, "", nil
		}
	}
	if cut && l.p.Layout.Cells > 0 && !l.worded && !allText(scan.Split(nil, text, l.p.Layout.Delim)) {
		if cell, short := l.p.Cut(text, nil); short {
			return acquire.SkippedLine, cutRow, cutError(l.p.Name, l.line, scan.Column(text, l.p.Layout.Delim, cell))
		}
	}
	return l.take.line(text, l.line, cut, l)
}

// repeats reports whether a line is the one before it once more.
func (l *listReader) repeats(line []byte) bool {
	if l.p.Repeats == recognise.Once || l.line <= int64(l.p.First) || len(line) == 0 {
		return false
	}
	if l.run++; !bytes.Equal(line, l.last) || l.p.Repeats > recognise.AllEqual && l.run > int(l.p.Repeats) {
		l.last, l.run = append(l.last[:0], line...), 1
	}
	return l.run > 1
}

// nextLine returns the next line without its line feed; cut is true for a last line that has none. A line that the input broke
// off in is none.
func (l *listReader) nextLine() (line []byte, cut bool, err error) {
	some, err := l.lines.Scan(), l.lines.Err()
	line, ended := bytes.CutSuffix(l.lines.Bytes(), []byte{'\n'})
	switch {
	case some && (ended || err == nil):
		return line, !ended, nil
	case errors.Is(err, bufio.ErrTooLong):
		err = &acquire.Error{File: l.p.Name, Line: int(l.line) + 1, What: fmt.Sprintf("a line is longer than %d bytes", MaxLine), Expect: "lines of one record", Err: acquire.ErrShape}
	case err != nil:
		err = Fault(l.p.Name, err)
	default:
		err = io.EOF
	}
	return nil, false, err
}

// withEnd cuts lines that keep their line feed.
func withEnd(data []byte, last bool) (advance int, line []byte, err error) {
	n := bytes.IndexByte(data, '\n') + 1
	if n == 0 && last {
		n = len(data)
	}
	if n == 0 {
		return 0, nil, nil
	}
	return n, data[:n], nil
}
