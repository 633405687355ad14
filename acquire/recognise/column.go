package recognise

import (
	"bytes"
	"slices"
	"strings"

	"offbeat/acquire/internal/scan"
)

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

// perCycle reports whether the rows tell of cycles: columns of a frequency, a duty factor or times that are none of the rows,
// and no levels.
func (h *head) perCycle(time int, channels []int) bool {
	cycles := false
	for k := range h.columns {
		c := &h.columns[k]
		name := plainName(c.name)
		told := strings.HasPrefix(name, "freq") || strings.HasPrefix(name, "duty") || strings.HasPrefix(name, "period") || k != time && isTimeUnit(c.unit) && !c.rises
		if cycles = cycles || told && c.numbers > 0; !told && slices.Contains(channels, k) {
			return false
		}
	}
	return cycles
}

// isTime: its name, its unit or its cells say that it is a time.
func (c *column) isTime() bool {
	return c.quantity || c.calendar || c.numbers > 0 && !c.index && !c.inVolts() && (isTimeUnit(c.unit) || isTimeName(c.name))
}

// readColumns fills the columns from the header and the table's rows.
func (h *head) readColumns() {
	h.columns, h.named = make([]column, h.width()), map[string]int{}
	for k := range h.columns {
		c := &h.columns[k]
		if cell := h.cell(h.names, h.before+k); cell != nil {
			c.name, c.unit = splitUnit(string(cell))
		} else if k < len(h.meta.names) {
			c.name = h.meta.names[k]
		}
		if cell := h.cell(h.units, k); cell != nil && isUnit(string(cell)) {
			c.unit = unitOf(string(cell))
		} else if k < len(h.meta.units) {
			c.unit = unitOf(h.meta.units[k])
		}
		h.readColumn(c, k)
		c.index = c.counting && c.unit == "" && h.meta.interval > 0 && !isTimeUnit(c.name)
		if n := plainName(c.name); n != "" {
			if _, ok := h.named[n]; !ok {
				h.named[n] = k
			}
		}
	}
}

// cell is cell k of line i; nil where there is none.
func (h *head) cell(i, k int) []byte {
	if i < 0 || k >= len(h.lines[i].cells) {
		return nil
	}
	return h.lines[i].cells[k]
}

func (h *head) readColumn(c *column, k int) {
	c.integers, c.rises, c.counting = true, true, true
	last, rose, seen := 0.0, false, false
	var odd oddStates
	for i := h.first; i < h.last; i++ {
		if k >= len(h.lines[i].cells) {
			continue
		}
		cell, class := h.lines[i].cells[k], h.lines[i].class[k]
		if class != scan.Empty {
			c.filled++
		}
		switch class {
		case scan.Text:
			c.words++
		case scan.Quantity:
			c.quantity = true
		case scan.Calendar:
			c.calendar, c.daytime = true, cell[1] == ':' || cell[2] == ':'
		case scan.State:
			c.states++
			_, v, _ := scan.Mark(cell)
			odd.add(v)
		case scan.Clipped:
			odd.add(nan)
		}
		if class != scan.Number && class != scan.Comma {
			continue
		}
		v, _ := scan.Float(cell, h.point, 0)
		c.numbers++
		if v == 0 || v == 1 {
			c.states++
		}
		odd.add(v)
		c.power = c.power || bytes.ContainsAny(cell, "eE")
		c.integers = c.integers && !bytes.ContainsAny(cell, ".,eE")
		if seen {
			c.rises = c.rises && v >= last
			rose = rose || v > last
			c.counting = c.counting && v == last+1
		}
		last, seen = v, true
	}
	if c.bits = h.bitsOf(k); c.bits > 0 {
		c.states, c.numbers, c.integers, rose, odd = c.filled, 0, false, false, oddStates{}
	}
	c.analog = odd.many(c.states)
	c.rises = c.rises && rose
	c.counting = c.counting && c.integers && (c.numbers > 2 || c.numbers == 2 && isIndexName(c.name))
}

// mostLines is how many lines a cell may show the states of: more characters are samples of one line.
const mostLines = 32

// bitsOf counts the lines whose states each cell of a column holds; 0 if they hold none. As many zeros and ones in each cell, a
// zero first in some, are no numbers.
func (h *head) bitsOf(k int) int {
	lines, sure := 0, false
	for i := h.first; i < h.last; i++ {
		cell := h.cell(i, k)
		n, written := scan.BitsOf(cell)
		if len(cell) > 0 && (n < 2 || n > mostLines || lines > 0 && n != lines) {
			return 0
		}
		lines = max(lines, n)
		sure = sure || n > 0 && (written || cell[0] == '0')
	}
	if !sure || h.last-h.first < 3 {
		return 0
	}
	return lines
}

// timeColumn finds the column that holds the time, or the row number; -1: none. What a column says of itself
// counts more than how its numbers run.
func (h *head) timeColumn() int {
	tests := []func(c *column) bool{
		func(c *column) bool { return c.quantity || c.calendar && !c.daytime },
		func(c *column) bool { return c.numbers > 0 && isTimeUnit(c.unit) },
		func(c *column) bool { return c.isTime() },
		func(c *column) bool { return c.rises && c.analog && !c.counting && c.name == "" },
		func(c *column) bool { return c.counting && (c.name == "" || isIndexName(c.name) || c.index) },
		func(c *column) bool {
			return c.rises && c.analog && !c.counting && h.meta.interval == 0 && levelUnits[c.unit].base == ""
		},
	}
	if len(h.columns) < 2 {
		return -1
	}
	for _, ok := range tests {
		for k := range h.columns {
			if ok(&h.columns[k]) {
				return k
			}
		}
	}
	if h.columns[0].name == "" && h.columns[0].analog && h.restarts(0) {
		return 0
	}
	return -1
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
