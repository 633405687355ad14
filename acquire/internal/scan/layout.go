// Package scan is the hot path: the bytes of a table into columns of float64, without an allocation a row.
//
// Three readers give the same rows, each faster and narrower than the one before; a row that one can't read
// for certain falls back to the next:
//
//   - careful reads anything a table may hold, and defines what a row means;
//   - quick finds where the cells of many rows begin and end, without a branch on what they hold, and then reads the
//     wanted ones column by column, each number from its end; where times are foretold, it only compares them;
//   - template reads rows of one time and one level that look like the row before them, digit for digit.
//
// Where there is AVX, the last two take sixteen bytes at a time, and the marks between cells sixty-four.
package scan

import (
	"bytes"
	"math"
)

// TimeForm is how a table writes its times.
type TimeForm int

const (
	PlainTime    TimeForm = iota // a number in one unit
	QuantityTime                 // a number with its unit in each cell
	CalendarTime                 // ISO 8601; seconds since Reference
	EpochTime                    // a number so large that Reference is subtracted from it before it is rounded
)

// Layout says how a row is cut into cells and which cells are wanted.
type Layout struct {
	Delim byte // 0: the line is one cell; Blanks: runs of blanks
	Point byte // decimal mark
	Cells int  // a row's cells; more may follow if they are empty
	Join  int  // cell that is joined with the next one by a decimal comma; -1: none

	Time      int // cell of the time; -1: none
	TimeForm  TimeForm
	TimeShift int   // power of ten from its unit to seconds
	Longer    int64 // further factor, of minutes and hours; 0: 1
	Reference int64 // s, see CalendarTime and EpochTime

	Value []int // cells of the levels
	Shift []int // power of ten of each
	Bit   []int // line of each, counted from the right, where the cell holds several; -1: the cell is one level; nil: all are
}

// need is how many cells a row must have.
func (l *Layout) need() int {
	n := l.Time + 1
	for _, k := range l.Value {
		n = max(n, k+1)
	}
	return n
}

// Rows are the rows of a text, in columns, and what stood between them.
type Rows struct {
	N     int
	Time  []float64 // s; empty if the layout has no time; see Runs
	Value [][]float64
	Odd   []Odd
	Marks bool  // some level may be a mark: NoLevel, or ±Inf
	Runs  []Run // in rising order: stretches whose times are not all filled in, see Fill

	template template
	steps    []step
	index    index
	plain    bool // see plain
	cells    [][]byte
}

// Odd is a line that is no row. It stands before row number Row.
type Odd struct {
	Row        int
	Start, End int // the line is text[Start:End], without its line end
	Fault      Fault
	Cell       int // the faulty cell, from 0
	More       int // further lines like it that follow at once; with Again only
}

// Fault says why a line is no row.
type Fault int

const (
	NoFault   Fault = iota
	Few             // too few cells
	Many            // cells where none should be
	BadTime         // the time is no time
	BadLevel        // the level is neither a number nor a mark
	Again           // the row before it once more; the reader of whole records tells, and gives it no text
	FalseTime       // a row whose time its neighbours deny; likewise
)

// reset makes r ready for up to rows rows.
func (r *Rows) reset(l *Layout, rows int) {
	r.N, r.Odd, r.Runs, r.Marks = 0, r.Odd[:0], r.Runs[:0], false
	if len(r.steps) == 0 {
		r.steps = l.steps()
	}
	if l.Time >= 0 {
		r.Time = room(r.Time, rows)
	} else {
		r.Time = r.Time[:0]
	}
	if len(r.Value) != len(l.Value) {
		r.Value = make([][]float64, len(l.Value))
	}
	for i := range r.Value {
		r.Value[i] = room(r.Value[i], rows)
	}
}

// room returns s with a length of at least n; what it held is kept.
func room(s []float64, n int) []float64 {
	if n <= cap(s) {
		return s[:cap(s)]
	}
	t := make([]float64, n)
	copy(t, s)
	return t
}

// grow makes sure that one more row fits.
func (r *Rows) grow() {
	n := r.N + 1
	if len(r.Time) > 0 && n > len(r.Time) {
		r.Time = room(r.Time, n+n/4+16)
	}
	for i := range r.Value {
		if n > len(r.Value[i]) {
			r.Value[i] = room(r.Value[i], n+n/4+16)
		}
	}
}

// Pad is how many bytes a text must be readable past its end.
const Pad = loadPad

// Parse reads the rows of text[:end] into r, whatever r held before. text is readable Pad bytes past end, and
// text[end-1] is a line feed.
func (l *Layout) Parse(text []byte, end int, r *Rows) {
	first := bytes.IndexByte(text[:end], '\n') + 1
	r.reset(l, min(end/first*9/8, end/max(l.need(), 2))+16) // rows of a text are mostly as long as its first
	t := &r.template
	t.misses, t.hopes = 0, maxHopes
	r.plain = plain(text[:end])
	r.index.pos = -1
	quick := l.quick()
	for pos := 0; pos < end; {
		guess := quick && t.misses < maxMisses && l.Time >= 0
		if guess && t.learned {
			pos = l.guessRows(text, pos, end, r)
		}
		limit := math.MaxInt
		if guess {
			t.misses++
			limit = 1
		}
		from := pos
		if quick {
			pos = l.quickRows(text, pos, end, r, limit)
		}
		if pos == from && pos < end {
			pos = l.carefulLine(text, pos, end, r)
		}
		if guess && pos < end {
			t.learn(l, text, from)
		}
	}
}

// guessRows reads rows that fit the template: in runs, as long as these do well.
func (l *Layout) guessRows(text []byte, pos, end int, r *Rows) int {
	t := &r.template
	for t.hopes > 0 {
		n := r.N
		if pos = l.likeRows(text, pos, end, r, 3); r.N < n+3 {
			return pos
		}
		t.hopes--
		if t.wide && !t.relearn(l, text) {
			continue
		}
		if t.foretell(text[t.last:], r) {
			n = r.N
			if pos = l.likeRows(text, pos, end, r, t.run.left); r.N > n+worthARun {
				t.hopes++
			}
		}
	}
	return l.likeRows(text, pos, end, r, math.MaxInt)
}

// likeRows reads at most limit rows that fit the template, and returns the place of the first that does not.
func (l *Layout) likeRows(text []byte, pos, end int, r *Rows, limit int) int {
	if r.template.wide {
		return l.quickRows(text, pos, end, r, limit)
	}
	return r.template.rows(text, pos, end, r, limit)
}

// maxHopes is how many runs may come to little in one text before times are read one by one; worthARun is how many
// rows pay for the trouble of one.
const (
	maxHopes  = 8
	worthARun = 30
)

// maxMisses is how often a template is learned anew in one text before it is left alone: a miss costs as much
// as some ten rows.
const maxMisses = 200

// carefulLine reads one line with care, and returns the place behind it. A line ends in LF, CR LF or CR alone.
func (l *Layout) carefulLine(text []byte, pos, end int, r *Rows) int {
	stop := pos
	for text[stop] != '\n' && text[stop] != '\r' {
		stop++
	}
	after := stop
	for text[after] == '\r' {
		after++
	}
	if text[after] != '\n' {
		after = stop
	}
	if fault, cell := l.careful(text[pos:stop], r); fault != NoFault {
		r.Odd = append(r.Odd, Odd{Row: r.N, Start: pos, End: stop, Fault: fault, Cell: cell})
	}
	return after + 1
}
