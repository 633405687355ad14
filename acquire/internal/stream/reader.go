package stream

import (
	"bytes"
	"io"
)

// batchRows is how many rows Read hands out at most at a time, a few more where a line makes several.
const batchRows = 4096

// Reader reads a stream: records, and their rows in one pass and bounded memory. The same bytes give the
// same rows however the reads fall.
type Reader struct {
	frame *Framer
	p     *parser
	err   error // what ended the stream
}

// NewReader reads what r brings. The error is about the options.
func NewReader(r io.Reader, o Options) (*Reader, error) {
	p, err := newParser(o)
	if err != nil {
		return nil, err
	}
	return &Reader{frame: NewFramer(r), p: p}, nil
}

const (
	likely   = 8   // readings that make a stream of what no header says is one
	readings = 0.7 // share of its lines that are readings
)

// Likely says whether the first bytes of a text are lines of a board, with others among them that are none. Readings of a
// converter are samples in any table, and count only where lines of edges could not be read as one either (refused). said: one of
// the others tells the unit of the times. durations: each line is one, and something tells their unit.
func Likely(head []byte, refused bool) (ok, said, durations bool) {
	r, err := NewReader(bytes.NewReader(head), Options{})
	if err != nil || ofBits(head) {
		return false, false, false
	}
	rec, err := r.Next()
	if err != nil || rec.Form == TimeReading || rec.Form == TimeLook && !refused {
		return false, false, false
	}
	for rows := (Rows{}); err == nil; {
		err = r.Read(&rows)
	}
	c := r.Counts()
	return (c.Readings >= likely || r.p.rating.grain > 0) && float64(c.Readings) >= readings*float64(c.Lines) && (refused || c.Garbage > 0 && c.Resets == 0), r.p.stated > 0, rec.Form == Duration && rec.Guess == ""
}

// ofBits reports whether most lines are several zeros and ones, a zero first in some: states of as many lines, and no durations.
func ofBits(head []byte) bool {
	lines, bits, zero := 0, 0, false
	for line := range bytes.Lines(head) {
		if line = bytes.TrimSpace(line); len(line) > 0 {
			lines++
		}
		if len(line) > 1 && len(bytes.Trim(line, "01")) == 0 {
			bits, zero = bits+1, zero || line[0] == '0'
		}
	}
	return zero && bits*10 > 9*lines
}

// Counts says what was met so far.
func (r *Reader) Counts() Counts { return r.p.counted() }

// Next returns the next record once its form has settled, and io.EOF after the last. Rows of the record
// before it that were not read are read over.
func (r *Reader) Next() (*Record, error) {
	var over Rows
	for r.p.rec != nil {
		if err := r.Read(&over); err != nil && err != io.EOF {
			return nil, err
		}
	}
	for {
		if err := r.p.begin(r.err != nil); err != nil || r.p.rec != nil {
			return r.p.rec, err
		}
		if r.err != nil {
			return nil, r.p.none(r.err)
		}
		if err := r.line(); err != nil && err != r.err {
			return nil, err
		}
	}
}

// Read fills rows with the next rows of the record that Next returned last. It returns no rows and io.EOF
// at the end of the record, and what the source failed with after the rows before it. While lines are
// waiting it goes on; it reads the source only when it has no row to hand out.
func (r *Reader) Read(rows *Rows) error {
	p := r.p
	if p.rec == nil {
		return io.EOF
	}
	for p.rows.Len() == 0 && !p.ended {
		if err := r.line(); err != nil {
			p.flush()
			if p.rows.Len() == 0 {
				p.end()
				return err
			}
		}
	}
	for p.rows.Len() < batchRows && !p.ended {
		l, ok := r.frame.Next()
		if !ok {
			break
		}
		p.line(l)
	}
	p.rec.Rows += int64(p.rows.Len())
	p.settleStep()
	rows.Time = append(rows.Time[:0], p.rows.Time...)
	rows.Value = p.level(rows.Value[:0])
	p.rows.clear()
	if len(rows.Time) == 0 {
		p.end()
		return io.EOF
	}
	return nil
}

// line feeds the parser one line, reading the source until there is one.
func (r *Reader) line() error {
	for {
		if l, ok := r.frame.Next(); ok {
			r.p.line(l)
			return nil
		}
		if r.err != nil {
			return r.err
		}
		r.err = r.frame.Fill()
	}
}
