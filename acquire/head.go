package acquire

import (
	"bytes"
	"fmt"
	"strings"

	"offbeat/acquire/internal/scan"
)

// head is the recogniser's view of the first lines: cells, their classes, the first table and what stands above it.
type head struct {
	name  string
	lines []headLine
	whole bool // these are all the lines there are

	delim byte
	point byte // decimal mark

	first, last int // the table's rows are lines[first:last]
	names       int // line of the column names, -1: none
	units       int // line of the units, -1: none
	columns     []column
	meta        meta

	evidence []string
}

type headLine struct {
	text  []byte
	cells [][]byte
	class []cellClass
}

// column is what the head shows of one column of the table.
type column struct {
	name, unit string
	filled     int // cells that hold something
	numbers    int
	states     int  // cells that are 0, 1 or a word for a state
	logic      bool // every filled cell is 0, 1, a state word or an unknown mark
	integers   bool
	quantity   bool // time unit in the cells
	calendar   bool
	counting   bool // 0, 1, 2 …: each one more than the one before
	rising     bool // never falls, and rises at least once
	falls      int
	values     []float64 // numbers only, NaN elsewhere; one a row of the table
}

func (h *head) say(format string, a ...any) {
	h.evidence = append(h.evidence, fmt.Sprintf(format, a...))
}

// splitLines cuts text into lines without their ends; an unterminated last line is kept only if it is all there is.
func splitLines(b []byte, whole bool) [][]byte {
	var lines [][]byte
	for len(b) > 0 {
		i := bytes.IndexByte(b, '\n')
		if i < 0 {
			if whole {
				lines = append(lines, b)
			}
			break
		}
		lines = append(lines, b[:i])
		b = b[i+1:]
	}
	return lines
}

var delimiters = []byte{',', ';', '\t', blankDelimiter, 0}

// delimiterNames are the words of Options.Delimiter.
var delimiterNames = map[string]byte{",": ',', ";": ';', "tab": '\t', "\t": '\t', "space": blankDelimiter, " ": blankDelimiter, "comma": ',', "semicolon": ';'}

func delimiterWord(d byte) string {
	switch d {
	case '\t':
		return "tab"
	case blankDelimiter:
		return "blanks"
	case 0:
		return "none (one cell a line)"
	}
	return fmt.Sprintf("%q", string(d))
}

// newHead finds the delimiter and the first table.
func newHead(name string, t *text, opt Options) (*head, error) {
	h := &head{name: name, whole: t.whole, names: -1, units: -1}
	lines := splitLines(t.head, t.whole)
	try := delimiters
	if opt.Delimiter != "" {
		d, ok := delimiterNames[opt.Delimiter]
		if !ok {
			return nil, &Error{File: name, What: fmt.Sprintf("unknown delimiter %q", opt.Delimiter), Expect: `",", ";", "tab" or "space"`, Err: ErrShape}
		}
		try = []byte{d}
	}
	best := 0
	for _, d := range try {
		c := &head{lines: make([]headLine, len(lines))}
		for i, l := range lines {
			hl := headLine{text: l, cells: splitCells(nil, l, d)}
			for _, cell := range hl.cells {
				hl.class = append(hl.class, classify(cell))
			}
			c.lines[i] = hl
		}
		c.findTable()
		width := 0
		for _, l := range c.lines[c.first:c.last] {
			width = max(width, len(l.cells))
		}
		// More rows is better evidence than more columns; a table of one column is the last resort.
		if score := (c.last-c.first)*100 + min(width, 50); score > best && (width > 1 || best == 0) && c.last > c.first {
			best = score
			h.lines, h.first, h.last, h.delim = c.lines, c.first, c.last, d
		}
	}
	if best == 0 {
		return h, nil
	}
	h.point = '.'
	for _, l := range h.lines[h.first:h.last] {
		for _, c := range l.class {
			if c == commaCell {
				h.point = ','
			}
		}
	}
	h.say("delimiter %s, decimal mark %q, from %d consistent rows", delimiterWord(h.delim), string(h.point), h.last-h.first)
	h.findHeader()
	h.readMeta()
	h.readColumns()
	return h, nil
}

// dataish reports whether a line may be a row of data: at least one level, and no text.
func (l *headLine) dataish() bool {
	level := false
	for _, c := range l.class {
		switch c {
		case textCell:
			return false
		case emptyCell:
		default:
			level = true
		}
	}
	return level
}

func (l *headLine) blank() bool { return len(bytes.TrimSpace(l.text)) == 0 }

// filled counts the cells up to the last one that holds something.
func (l *headLine) filled() int {
	n := len(l.class)
	for n > 0 && l.class[n-1] == emptyCell {
		n--
	}
	return n
}

// findTable sets first and last to the longest run of rows; of equally long ones, to the first.
func (h *head) findTable() {
	for i := 0; i < len(h.lines); {
		if !h.lines[i].dataish() {
			i++
			continue
		}
		k := i + 1
		for k < len(h.lines) && h.lines[k].dataish() {
			k++
		}
		if k-i > h.last-h.first {
			h.first, h.last = i, k
		}
		i = k
	}
}

func (h *head) width() int {
	n := 0
	for _, l := range h.lines[h.first:h.last] {
		n = max(n, l.filled())
	}
	return n
}

// findHeader looks for names and units in the lines just above the table.
func (h *head) findHeader() {
	i := h.above(h.first)
	if i < 0 || !h.mayHead(i) {
		return
	}
	if h.allUnits(i) {
		h.units = i
		if j := h.above(i); j >= 0 && h.mayHead(j) && !h.allUnits(j) {
			h.names = j
		}
		return
	}
	h.names = i
}

// above gives the nearest line before i that is not blank.
func (h *head) above(i int) int {
	for i--; i >= 0 && h.lines[i].blank(); i-- {
	}
	return i
}

// mayHead: a row of names or units has about as many cells as the table and is no "name,value" line, whose
// second cell holds a number. Numbers may name channels, but not beside anything but a time or an index.
func (h *head) mayHead(i int) bool {
	l := &h.lines[i]
	if bytes.HasPrefix(bytes.TrimSpace(l.text), []byte("#")) || bytes.HasPrefix(bytes.TrimSpace(l.text), []byte(";")) && h.delim != ';' {
		return false
	}
	n := l.filled()
	if n < 2 && h.width() > 1 || n < h.width()-1 {
		return false
	}
	numbers := 0
	for _, c := range l.class[:n] {
		if c == numberCell || c == commaCell {
			numbers++
		}
	}
	if n == 0 {
		return false
	}
	first := string(l.cells[0])
	name, _ := splitUnit(first)
	return numbers == 0 || isTimeName(name) || isIndexName(name) || h.allUnits(i)
}

// allUnits: every filled cell is a unit, or, after units, a number that gives start and increment.
func (h *head) allUnits(i int) bool {
	l := &h.lines[i]
	units := 0
	for k, cell := range l.cells {
		switch {
		case isUnit(string(cell)):
			units++
		case l.class[k] == emptyCell:
		case l.class[k] == numberCell && units >= 2:
		default:
			return false
		}
	}
	return units > 0
}

// readColumns fills the columns from the table's rows.
func (h *head) readColumns() {
	h.columns = make([]column, h.width())
	for k := range h.columns {
		c := &h.columns[k]
		if h.names >= 0 && k < len(h.lines[h.names].cells) {
			c.name, c.unit = splitUnit(string(h.lines[h.names].cells[k]))
		}
		if h.units >= 0 && k < len(h.lines[h.units].cells) {
			if u := string(h.lines[h.units].cells[k]); isUnit(u) {
				c.unit = unitOf(u)
			}
		}
		h.readColumn(c, k)
	}
}

func (h *head) readColumn(c *column, k int) {
	c.logic, c.integers, c.counting = true, true, true
	last, seen := 0.0, false
	for _, l := range h.lines[h.first:h.last] {
		v := nan
		if k < len(l.cells) {
			cell := l.cells[k]
			switch l.class[k] {
			case numberCell, commaCell:
				v, _ = scan.Float(cell, h.point, 0)
				c.numbers++
				c.filled++
				if v == 0 || v == 1 {
					c.states++
				} else {
					c.logic = false
				}
				if v != float64(int64(v)) || bytes.ContainsAny(cell, ".,eE") {
					c.integers = false
				}
			case quantityCell:
				v, _ = quantitySeconds(cell)
				c.quantity, c.logic, c.integers = true, false, false
				c.filled++
			case calendarCell:
				c.calendar, c.logic, c.integers = true, false, false
				c.filled++
			case stateCell:
				c.states++
				c.filled++
			case clippedCell:
				c.logic = false
				c.filled++
			case unknownCell:
				c.filled++
			}
		}
		c.values = append(c.values, v)
		if v != v {
			continue
		}
		if seen {
			if v < last {
				c.falls++
			} else if v > last {
				c.rising = true
			}
			if v != last+1 {
				c.counting = false
			}
		}
		last, seen = v, true
	}
	c.rising = c.rising && c.falls == 0
	c.logic = c.logic && c.states > 0
	c.counting = c.counting && c.integers && c.numbers > 1
}

func (h *head) comment(i int) bool {
	t := strings.TrimSpace(string(h.lines[i].text))
	return strings.HasPrefix(t, "#") || strings.HasPrefix(t, ";") || strings.HasPrefix(t, "//") || strings.HasPrefix(t, "%")
}
