package recognise

import (
	"fmt"

	"offbeat/acquire/internal/scan"
)

// head is the recogniser's view of the first lines: cells, their classes, the first table and what stands above it.
type head struct {
	name  string
	lines []headLine
	size  int  // bytes
	whole bool // these are all the lines there are

	delim byte
	point byte // decimal mark
	join  int  // see scan.Layout

	first, last int // the table's rows are lines[first:last]
	names       int // line of the column names, -1: none
	before      int // cells of that line before the first column's name, as a banner has them
	units       int // line of the units, -1: none
	columns     []column
	named       map[string]int // the first column of each plain name
	meta        meta
	repeats     Repeats // how often a row is printed
	parsed      map[parsed][]float64

	notes    []string
	evidence []string
}

// cut is the head of lines that a delimiter cuts, no table found yet.
func cut(lines [][]byte, delim byte) *head {
	h := &head{delim: delim, lines: make([]headLine, len(lines))}
	n := 0
	for _, l := range lines {
		n += mostCells(l, delim)
	}
	cells, class := make([][]byte, n), make([]scan.Class, n)
	for i, l := range lines {
		n := mostCells(l, delim)
		h.lines[i] = cutLine(l, delim, cells[:0:n], class[:0:n])
		cells, class = cells[n:], class[n:]
	}
	return h
}

func (h *head) say(format string, a ...any) {
	h.evidence = append(h.evidence, fmt.Sprintf(format, a...))
}

// width is how many cells the table's widest row fills.
func (h *head) width() int {
	n := 0
	for i := range h.lines[h.first:h.last] {
		n = max(n, h.lines[h.first+i].filled())
	}
	return n
}

// above gives the nearest line before i that is not blank.
func (h *head) above(i int) int {
	for i--; i >= 0 && h.lines[i].blank(); i-- {
	}
	return i
}

// cells are those of column k, row by row.
func (h *head) cells(k int) (cells [][]byte) {
	for i := h.first; i < h.last; i++ {
		cells = append(cells, h.cell(i, k))
	}
	return cells
}

// parsed is what the numbers of a column hang on.
type parsed struct {
	column, first, last int
	point               byte
}

// numbers are the numbers of column k, in the order of the rows: read only.
func (h *head) numbers(k int) []float64 {
	at := parsed{k, h.first, h.last, h.point}
	v, known := h.parsed[at]
	if known {
		return v
	}
	for i := h.first; i < h.last; i++ {
		if x, ok := scan.Float(h.cell(i, k), h.point, 0); ok {
			if v == nil {
				v = make([]float64, 0, h.last-i)
			}
			v = append(v, x)
		}
	}
	h.parsed[at] = v
	return v
}

// cell is cell k of line i; nil where there is none.
func (h *head) cell(i, k int) []byte {
	if i < 0 || k >= len(h.lines[i].cells) {
		return nil
	}
	return h.lines[i].cells[k]
}

// nameAt is the line and the column, from 1, of what names column k: its name above the rows, or else its first cell.
func (h *head) nameAt(k int) (line, column int) {
	if h.names < 0 {
		return h.first + 1, h.lines[h.first].column(max(k, 0))
	}
	return h.names + 1, h.lines[h.names].column(h.before + max(k, 0))
}

// maxChannelNumber bounds a number that may be a channel's name in a header.
const maxChannelNumber = 64

// column is what the head shows of one column of the table.
type column struct {
	name, unit string

	filled   int  // cells that hold something
	words    int  // cells that hold a word that is none of a level
	numbers  int  // cells that hold a number
	states   int  // cells that are 0, 1 or a word for a state
	analog   bool // numbers that are neither 0 nor 1, or clipped cells, and too many of them to be slips
	power    bool // some number has a power of ten
	integers bool // all numbers are whole, and written so
	quantity bool // a unit of time in the cells
	calendar bool
	daytime  bool // of which no date is told
	rises    bool // it never falls, and rises at least once
	counting bool // whole numbers, each one more than the one before
	bits     int  // lines whose states stand in each cell, one character each; 0: a cell is one level
	index    bool // it counts samples though it is called a time: an interval is stated, and no unit
}

// logic: states, and nothing that is none.
func (c *column) logic() bool { return !c.analog && c.states > 0 && levelUnits[c.unit].base == "" }

// inVolts: it is a level, whatever it is called.
func (c *column) inVolts() bool { return levelUnits[c.unit].base != "" }

// isTime: its name, its unit or its cells say that it is a time.
func (c *column) isTime() bool {
	return c.quantity || c.calendar || c.numbers > 0 && !c.index && !c.inVolts() && (isTimeUnit(c.unit) || isTimeName(c.name))
}

// oddStates counts the cells of a column of states that are none.
type oddStates struct {
	odd     int
	between int     // of these, how many lie between 0 and 1, and between differing states
	changes int     // of the state
	last    float64 // state; NaN: none yet
	part    bool    // a cell between 0 and 1 follows it
	begun   bool
}

func (o *oddStates) add(v float64) {
	if v != 0 && v != 1 {
		o.odd++
		o.part = v > 0 && v < 1
		return
	}
	if o.begun && v != o.last {
		o.changes++
		if o.part {
			o.between++
		}
	}
	o.last, o.begun, o.part = v, true, false
}

const (
	oddMost = 3  // so many cells of a column may be slips, if there are oddFew states to each
	oddFew  = 8  //
	oddLong = 50 // or more, if there are so many states to each
)

// many reports whether there are too many odd cells among so many states to be slips, or whether they lie on the way
// from one state to the other, as samples of a level do.
func (o *oddStates) many(states int) bool {
	if o.odd == 0 {
		return false
	}
	if o.between*2 >= max(o.changes, 2) {
		return true
	}
	return o.odd*oddLong > states && (o.odd > oddMost || o.odd*oddFew > states)
}
