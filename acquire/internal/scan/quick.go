package scan

import (
	"bytes"
	"math"
)

// batch is how many rows are read column by column: few enough that one that is none does not cost much.
const batch = 64

// quickRows reads at most limit rows at text[pos:end] while they are plain, and returns the place of the first that is not.
// In a run the times must be what the run foretells. text is readable loadPad bytes past end, and text[end-1] is a line feed.
func (l *Layout) quickRows(text []byte, pos, end int, r *Rows, limit int) int {
	x, t, from := &r.index, &r.template, r.N
	running := t.run.left > 0
	limit = min(limit, r.capacity()-from)
	for want := 0; r.N-from < limit && pos < end; pos = x.pos {
		if (x.pos != pos || x.row == len(x.ends)) && !x.fill(text, pos, end, l.Delim, l.Cells, min(limit, indexBlock/32)*32) {
			break
		}
		want = min(limit-(r.N-from), len(x.ends)-x.row, batch)
		n := l.wholeRows(text, r, want)
		for k := range r.steps {
			s := &r.steps[k]
			switch {
			case s.value >= 0:
				n = l.column(text, r, s, r.Value[s.value][r.N:r.N+n])
			case running:
				n = t.run.column(text, r, s.cell, n)
			default:
				n = l.column(text, r, s, r.Time[r.N:r.N+n])
			}
		}
		if n > 0 && l.Time >= 0 {
			i, j := x.cell(n-1, l.Time)
			t.last, _ = within(text, i, j)
		}
		x.pass(n)
		if r.N += n; n < want {
			pos = x.pos
			break
		}
	}
	if running {
		t.run.end(r, from, r.N-from, t.timeOver)
	}
	return pos
}

// wholeRows counts the next rows, want at most, that have as many cells as there should be.
func (l *Layout) wholeRows(text []byte, r *Rows, want int) int {
	x, need := &r.index, l.need()
	first := x.first
	for n, last := range x.ends[x.row : x.row+want] {
		if cells := int(last - first); cells != l.Cells || !r.plain {
			starts := x.starts[first : last+1]
			if cells < need || cells > l.Cells && !l.emptyFrom(text, starts) || !r.plain && !l.wellFormed(text, starts) {
				return n
			}
		}
		first = last
	}
	return want
}

// column checks the times of the next n rows, and returns how many of them are as foretold.
func (u *run) column(text []byte, r *Rows, cell, n int) int {
	x := &r.index
	k := 0
	if hasVector && u.size <= vectorTime && u.lanes == math.MaxUint64 && n > 0 {
		v := x.cells(text, cell, 0, n)
		v.size, v.at, v.literal, v.step, v.pass, v.next = u.size, u.at, u.literal, u.step, u.pass, u.next
		for i := range v.want {
			v.want[i], v.mask[i] = byte(u.want[i/8]>>(i%8*8)), byte(u.mask[i/8]>>(i%8*8))
		}
		vectorTimes(&v)
		if k, u.next = n-v.rows, v.next; k == n {
			return n
		}
	}
	for ; k < n; k++ {
		i, j := x.cell(k, cell)
		if text[i] < '+' || text[j-1] <= '"' {
			i, j = within(text, i, j)
		}
		if i+int(u.size)-1 != j || !u.foretold((*window)(text[i:]), u.next) {
			return k
		}
		u.next = u.after(u.next)
	}
	return n
}

// within takes blanks and quotes off a cell.
func within(text []byte, from, to int) (i, j int) {
	c := Trim(text[from:to])
	i = cap(text) - cap(c)
	return i, i + len(c)
}

// column reads a cell of the next rows into out, and returns how many of them hold a number, or a mark where that is allowed.
func (l *Layout) column(text []byte, r *Rows, s *step, out []float64) int {
	x, points := &r.index, lanes8(l.Point)
	for n := 0; n < len(out); n++ {
		if hasVector {
			if n += s.vectorCells(text, x, l.Point, n, out[n:]); n == len(out) {
				break
			}
		}
		from, to := x.cell(n, s.cell)
		if v, ok := s.number(text, from, to, points); ok {
			out[n] = v
		} else if !l.cell(text, r, s, from, to, &out[n]) {
			out = out[:n]
		}
	}
	for n, t := range out {
		if s.value < 0 && math.Abs(t) > longestTime {
			return n
		}
	}
	return len(out)
}

// cell reads any cell of a column, and learns what exponents look like there.
func (l *Layout) cell(text []byte, r *Rows, s *step, from, to int, out *float64) (ok bool) {
	i, j := within(text, from, to)
	if points := lanes8(l.Point); i < j {
		if *out, ok = s.number(text, i, j, points); !ok {
			_, s.tail = exponentBefore(text, j)
			*out, ok = s.number(text, i, j, points)
		}
	}
	switch {
	case ok:
	case s.value >= 0:
		*out, ok = l.level(text[i:j], s.value, r)
	default:
		*out, ok = Float(text[i:j], l.Point, s.shift)
	}
	return ok
}

// plain reports whether there is no quote, and no carriage return but at the end of a line.
func plain(text []byte) bool {
	returns := bytes.Count(text, []byte{'\r'})
	return bytes.IndexByte(text, '"') < 0 && (returns == 0 || returns == bytes.Count(text, []byte("\r\n")))
}

// emptyFrom reports whether the cells of a row behind the table's are empty.
func (l *Layout) emptyFrom(text []byte, starts []uint32) bool {
	for k := l.Cells; k < len(starts)-1; k++ {
		if c := text[starts[k] : starts[k+1]-1]; len(c) > 0 && !(len(c) == 1 && c[0] == '\r') {
			return false
		}
	}
	return true
}

// wellFormed reports whether a row, in a text that is not plain, has quotes round whole cells only and a carriage return at
// its end only.
func (l *Layout) wellFormed(text []byte, starts []uint32) bool {
	for k := range starts[1:] {
		c := text[starts[k] : starts[k+1]-1]
		if k == len(starts)-2 && len(c) > 0 && c[len(c)-1] == '\r' {
			c = c[:len(c)-1]
		}
		if n := len(c); n > 1 && c[0] == '"' && c[n-1] == '"' {
			c = c[1 : n-1]
		}
		if bytes.IndexByte(c, '"') >= 0 || bytes.IndexByte(c, '\r') >= 0 {
			return false
		}
	}
	return true
}
