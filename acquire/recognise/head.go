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
