package recognise

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"

	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
)

// findHeader looks for names and units in the lines just above the table.
func (h *head) findHeader() {
	i := h.above(h.first)
	for _, k := range []int{i, h.above(i)} {
		h.recutNames(k)
	}
	h.indexWithoutUnit(i)
	if i >= 0 && h.unitsBelowNames(i) {
		h.units, h.names = i, h.above(i)
		return
	}
	if i < 0 || h.commentHead(i) || !h.mayHead(i) {
		return
	}
	if !h.allUnits(i) {
		h.names = i
		if !h.namesTime(&h.lines[i], 0) && h.namesTime(&h.lines[i], h.surplus(&h.lines[i])) {
			h.before = h.surplus(&h.lines[i])
		}
		return
	}
	h.units = i
	if j := h.above(i); j >= 0 && h.mayHead(j) && !h.allUnits(j) {
		h.names = j
	}
}

// indexWithoutUnit puts an empty cell before units that blanks part, where they stand under one name more: a count has no unit.
func (h *head) indexWithoutUnit(i int) {
	j := h.above(i)
	if i < 0 || j < 0 || h.delim != scan.Blanks || !isIndexName(string(h.cell(j, 0))) {
		return
	}
	if l := &h.lines[i]; len(l.cells) == h.width()-1 && slices.ContainsFunc(l.cells, func(c []byte) bool { return isUnit(string(c)) }) {
		*l = lineOf(l.text, slices.Insert(l.cells, 0, nil), nil)
	}
}

// namesOf are how names of several words stand above rows that blanks part: in quotes, or with wide gaps between them.
var namesOf = []*regexp.Regexp{regexp.MustCompile(`"[^"]*"|[^ \t"]+`), regexp.MustCompile(`[^ \t]+(?: [^ \t]+)*`)}

// recutNames cuts a line above rows that blanks part so that it has as many cells as they do, if a way of namesOf does that.
func (h *head) recutNames(i int) {
	if i < 0 || h.delim != scan.Blanks || h.lines[i].filled() == h.width() {
		return
	}
	text := h.lines[i].text
	for _, way := range namesOf {
		var cells [][]byte
		for _, at := range way.FindAllIndex(text, -1) {
			cells = append(cells, scan.Trim(text[at[0]:at[1]]))
		}
		if len(cells) == h.width() {
			h.lines[i] = lineOf(text, cells, nil)
			return
		}
	}
}

// unitsBelowNames reports whether line i is a row of units and of what belongs to the header alone: under a line of names it
// has as many cells, some unit among them, and numbers only where the rows have no cell. Words that are no unit known here
// are carried as notes.
func (h *head) unitsBelowNames(i int) bool {
	j := h.above(i)
	l := &h.lines[i]
	if j < 0 || isNamed(&h.lines[j]) != h.lines[j].filled() || h.lines[j].filled() != l.filled() || IsComment(bytes.TrimSpace(l.text), h.delim) {
		return false
	}
	units, odd, width := 0, []string{}, h.width()
	for k, cell := range l.cells[:l.filled()] {
		switch class := l.class[k]; {
		case isUnit(string(h.lines[j].cells[k])) && !bytes.ContainsAny(cell[:min(len(cell), 1)], "(["): // a channel "A" over "[mV]"
			return false
		case isUnit(string(cell)) && k < width:
			units++
		case class == scan.Empty:
		case class == scan.Number && k >= width:
		case class == scan.Text && k < width && len(cell) <= 16 && !headsTimes(cell):
			odd = append(odd, string(cell))
		default:
			return false
		}
	}
	if units == 0 || len(odd) > max(units, 1) || len(odd) == 0 && l.filled() == width {
		return false
	}
	for _, word := range odd {
		h.notes = append(h.notes, fmt.Sprintf("the unit %q is not known here", word))
	}
	return true
}

// commentHead takes a comment just above the table for its header, if it names the column that the time is in.
func (h *head) commentHead(i int) bool {
	text := bytes.TrimSpace(h.lines[i].text)
	if !IsComment(text, h.delim) || bytes.ContainsAny(text, "=:") {
		return false
	}
	l := newHeadLine(bytes.TrimLeft(text, "#%;/ \t"), h.delim)
	if whole := h.lines[i]; h.delim == scan.Blanks && h.surplus(&whole) == 0 { // its mark names the count
		l = whole
	}
	before := h.surplus(&l)
	if before < 0 || !h.namesTime(&l, before) {
		return false
	}
	l.text = h.lines[i].text
	h.names, h.before, h.lines[i] = i, before, l
	return true
}

// surplus is how many more cells a line has than the table.
func (h *head) surplus(l *headLine) int { return l.filled() - h.width() }

// namesTime reports whether a line, read as the columns' names from a cell on, gives a time's name and unit to a column
// that rises like one.
func (h *head) namesTime(l *headLine, from int) bool {
	for k := range h.width() {
		if from < 0 || from+k >= len(l.cells) {
			break
		}
		name, unit := splitUnit(string(l.cells[from+k]))
		if !isTimeUnit(unit) || name != "" && !isTimeName(name) {
			continue
		}
		if v := h.numbers(k); len(v) == h.last-h.first && len(v) > 1 && v[0] < v[len(v)-1] && grid.Rising(v) == len(v) {
			return true
		}
	}
	return false
}

// mayHead: a row of names or units has about as many cells as the table, and is no line of name and value, which
// has a number beside its name. Small whole numbers may name channels, beside a time or an index.
func (h *head) mayHead(i int) bool {
	l := &h.lines[i]
	n, width := l.filled(), h.width()
	if n > 1 && sideways[plainName(string(l.cells[0]))] != nil && h.lines[h.first].class[0] == scan.Empty {
		return false // "Unit,V,mV" above rows whose first cell is empty
	}
	if n == 0 || IsComment(bytes.TrimSpace(l.text), h.delim) {
		return false
	}
	if h.allUnits(i) && (len(l.cells) == width || n >= width-1 && n > 1) { // "ms,,"
		return true
	}
	if n < width-1 || n == 1 && width > 1 {
		return false
	}
	if n == 2 && n > width && isUnit(string(l.cells[1])) {
		return false // "VUnit,V"
	}
	if m := (meta{}); n == 1 || h.delim == scan.Blanks {
		if m.readRunning(l, i); m.interval > 0 {
			return false // "sampling interval 2500 ns"
		}
	}
	for _, p := range assigned(l) {
		if _, _, stated := ValueUnit(p[1]); stated {
			return false // "sample_rate_hz: 20000"
		}
	}
	numbers := 0
	for k, c := range l.class[:n] {
		if c == scan.Number || c == scan.Comma {
			numbers++
			if v, ok := scan.Float(l.cells[k], '.', 0); !ok || v != float64(int(v)) || v < 0 || v > maxChannelNumber {
				return false
			}
		} else if _, _, ok := ValueUnit(string(l.cells[k])); ok && k > 0 {
			return false // "62500 Hz"
		}
	}
	return numbers == 0 || slices.ContainsFunc(l.cells[:n], headsTimes)
}

// headsTimes reports whether a cell names a time or a count, or has a unit of time.
func headsTimes(cell []byte) bool {
	name, unit := splitUnit(string(cell))
	return isTimeUnit(unit) || isTimeName(name) || isIndexName(name)
}

// allUnits: every filled cell is a unit, or, behind the units, a number.
func (h *head) allUnits(i int) bool {
	l := &h.lines[i]
	units := 0
	for k, cell := range l.cells {
		switch {
		case isUnit(string(cell)):
			units++
		case l.class[k] == scan.Empty:
		case l.class[k] == scan.Number && units >= 2:
		default:
			return false
		}
	}
	return units > 0
}
