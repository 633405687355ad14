package recognise

import (
	"bytes"
	"math"

	"offbeat/acquire/internal/scan"
)

// foldHead takes the rows that stand more than once out of the head's view. Equal neighbours are one row where a
// column that rises from row to row is printed more finely than its steps, so that rounding can't have made it stand
// still; or where all rows stand equally often. Samples whose times are rounded more coarsely than their steps must
// not be taken for copies.
func (h *head) foldHead() {
	runs, size := h.equalRuns()
	if len(runs) < 3 || len(runs) == h.last-h.first || h.width() < 2 {
		return
	}
	changes := 0
	for i := 1; i < len(runs); i++ {
		if h.differ(runs[i-1], runs[i]) {
			changes++
		}
	}
	k, fine := h.rowsRise(runs)
	switch {
	case k < 0 && (size < 2 || changes < 3):
		return
	case k < 0:
		h.repeats = Repeats(size) // differences, durations, pairs: no time of their own
	case !fine && (size < 2 || changes < 3 || h.statedFor(k)):
		return
	default:
		h.repeats = AllEqual
	}
	lines := h.lines[:h.first:h.first]
	for _, i := range runs {
		lines = append(lines, h.lines[i])
	}
	h.lines, h.last = append(lines, h.lines[h.last:]...), h.first+len(runs)
	h.say("equal rows are taken as one: the first lines hold %d different ones", len(runs))
}

// equalRuns lists the first row of each run of equal rows, and how long all runs are; 0 if they differ, the first and
// the last apart, which may be cut.
func (h *head) equalRuns() (runs []int, size int) {
	from := h.first
	for i := h.first; i < h.last; i++ {
		if i > h.first && bytes.Equal(bytes.TrimSpace(h.lines[i].text), bytes.TrimSpace(h.lines[i-1].text)) {
			continue
		}
		if n := i - from; len(runs) == 2 {
			size = n
		} else if len(runs) > 2 && n != size {
			size = -1
		}
		runs, from = append(runs, i), i
	}
	if len(runs) > 1 && (size < 0 || runs[1]-runs[0] > size || h.last-from > size) {
		size = 0
	}
	return runs, size
}

// differ reports whether two rows differ by more than one cell, or by one that is a level.
func (h *head) differ(i, j int) bool {
	n := 0
	for k := range h.width() {
		if !bytes.Equal(h.cell(i, k), h.cell(j, k)) {
			n++
		}
	}
	return n > 1 || n == 1 && h.width() == 1
}

// rowsRise finds a column that rises from each of the rows to the next, now and then a new start apart, and tells
// whether its steps are longer than one unit of its last digit, or it counts the rows; -1: none.
func (h *head) rowsRise(rows []int) (column int, fine bool) {
	for k := range h.columns {
		if c := &h.columns[k]; c.numbers+c.filled == 0 || c.states == c.numbers && !c.quantity && !c.calendar {
			continue
		}
		l := h.columns[k].instants(h.point, h.cell(h.first, k))
		var last, step float64
		falls, ok, unit, counts := 0, true, math.Inf(-1), h.meta.interval > 0 && h.columns[k].integers
		for n, i := range rows {
			cell := h.cell(i, k)
			v, readable := l.Instant(cell)
			digit, _, _ := l.Digit(cell)
			unit = max(unit, digit)
			if ok = readable; !ok {
				break
			}
			if d := v - last; n > 0 {
				if d < 0 {
					falls++
				} else if step == 0 || d < step {
					step = d
				}
				counts = counts && d == 1
				if ok = d != 0; !ok {
					break
				}
			}
			last = v
		}
		if ok && falls*10 <= len(rows) {
			return k, step > 1.5*unit || counts || isIndexName(h.columns[k].name)
		}
	}
	return -1, false
}

// statedFor reports whether an interval that the preamble states is that of all rows, the equal ones counted: then they
// are samples.
func (h *head) statedFor(k int) bool {
	if h.meta.interval == 0 || h.columns[k].counting {
		return false
	}
	first, _ := scan.Float(h.cell(h.first, k), h.point, 0)
	last, _ := scan.Float(h.cell(h.last-1, k), h.point, 0)
	ratio := (last - first) / float64(h.last-1-h.first) / h.meta.interval
	return math.Abs(ratio-1) < 0.02 || powerOfThousand(ratio)
}

// instants is a layout that reads the column's cells as times.
func (c *column) instants(point byte, first []byte) scan.Layout {
	l := scan.Layout{Point: point}
	switch {
	case c.quantity:
		l.TimeForm = scan.QuantityTime
	case c.calendar:
		t, _ := scan.ParseCalendar(first)
		l.TimeForm, l.Reference = scan.CalendarTime, t.Second
	}
	return l
}
