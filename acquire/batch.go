package acquire

import (
	"bytes"
	"fmt"
	"io"

	"offbeat/acquire/internal/scan"
)

// batch is a run of lines after parsing: rows in columns, and the odd lines between them.
type batch struct {
	rows  int
	time  []float64
	unit  []float64 // s, the unit of each time's last digit
	line  []int64   // line of each row, from 1
	value [][]float64
	odd   []oddLine
}

// oddLine is a line that is no row; it stands before row number row of its batch.
type oddLine struct {
	row  int
	line int64
	text []byte
	err  *Error // why it is no row
	cut  bool   // it is the last and has no line end
}

// batchRows is how many lines make a batch.
const batchRows = 4096

// rowParser turns lines into batches.
type rowParser struct {
	name  string
	p     *plan
	in    io.Reader
	buf   []byte
	from  int
	eof   bool
	err   error
	line  int64
	cells [][]byte
	b     batch
}

// nextLine returns the next line without its end; cut is true for a last line without one.
func (r *rowParser) nextLine() (line []byte, cut bool, err error) {
	for {
		if i := bytes.IndexByte(r.buf[r.from:], '\n'); i >= 0 {
			line = r.buf[r.from : r.from+i]
			r.from += i + 1
			return line, false, nil
		}
		if r.eof {
			if r.from < len(r.buf) {
				line, r.from = r.buf[r.from:], len(r.buf)
				return line, true, nil
			}
			if r.err != nil {
				return nil, false, r.err
			}
			return nil, false, io.EOF
		}
		keep := copy(r.buf, r.buf[r.from:])
		r.from = 0
		if keep == cap(r.buf) {
			r.buf = append(r.buf[:keep], make([]byte, cap(r.buf))...)
		}
		n, err := r.in.Read(r.buf[keep:cap(r.buf)])
		r.buf = r.buf[:keep+n]
		if err != nil {
			r.eof = true
			if err != io.EOF {
				r.err = ioError(r.name, err)
			}
		}
	}
}

// next parses the next lines; io.EOF when there are none.
func (r *rowParser) next() (*batch, error) {
	b := &r.b
	b.rows, b.time, b.unit, b.line, b.odd = 0, b.time[:0], b.unit[:0], b.line[:0], b.odd[:0]
	if b.value == nil {
		b.value = make([][]float64, len(r.p.columns))
	}
	for i := range b.value {
		b.value[i] = b.value[i][:0]
	}
	for b.rows < batchRows && len(b.odd) < batchRows {
		line, cut, err := r.nextLine()
		if err != nil {
			if err == io.EOF && b.rows+len(b.odd) > 0 {
				return b, nil
			}
			return nil, err
		}
		r.line++
		if e := r.row(line); e != nil {
			b.odd = append(b.odd, oddLine{row: b.rows, line: r.line, text: bytes.Clone(line), err: e, cut: cut})
		}
	}
	return b, nil
}

// row appends one line as a row, or says why it is none.
func (r *rowParser) row(line []byte) *Error {
	p, b := r.p, &r.b
	r.cells = splitCells(r.cells, line, p.delim)
	at := func(k int, what, expect string) *Error {
		e := &Error{File: r.name, Line: int(r.line), What: what, Expect: expect, Err: ErrSyntax}
		if k < len(r.cells) {
			e.Column = cap(line) - cap(r.cells[k]) + 1
		}
		return e
	}
	if len(r.cells) <= p.time {
		return at(p.time, fmt.Sprintf("the row has %d cells", len(r.cells)), fmt.Sprintf("at least %d", p.cells))
	}
	d, ok := scan.ParseDecimal(r.cells[p.time], p.point)
	if !ok {
		return at(p.time, fmt.Sprintf("%q is no number", r.cells[p.time]), "a time")
	}
	var v [8]float64
	vs := v[:0]
	for i, k := range p.columns {
		if k >= len(r.cells) {
			if k == len(r.cells) && len(line) > 0 && line[len(line)-1] == p.delim {
				vs = append(vs, nan)
				continue
			}
			return at(k, fmt.Sprintf("the row has %d cells", len(r.cells)), fmt.Sprintf("at least %d", p.cells))
		}
		f, ok := scan.Float(r.cells[k], p.point, p.shifts[i])
		if !ok {
			if _, f, ok = mark(r.cells[k]); !ok {
				return at(k, fmt.Sprintf("%q is no level", r.cells[k]), "a number, 0 or 1")
			}
		}
		vs = append(vs, f)
	}
	b.time = append(b.time, d.Float(r.cells[p.time], p.point, p.shift))
	b.unit = append(b.unit, scaled(1, d.Unit+p.shift))
	b.line = append(b.line, r.line)
	for i, f := range vs {
		b.value[i] = append(b.value[i], f)
	}
	b.rows++
	return nil
}
