package recognise

import (
	"slices"

	"offbeat/acquire/internal/scan"
)

// findTable sets first and last to the longest run of rows; of equally long ones, to the first. A shorter run
// before it of the same form is a part of the same table.
func (h *head) findTable() {
	type run struct{ from, to int }
	var runs []run
	longest := 0
	for i := 0; i < len(h.lines); i++ {
		if !h.lines[i].dataish() {
			continue
		}
		from := i
		for i < len(h.lines) && h.lines[i].dataish() {
			i++
		}
		if from+3 < i && len(h.lines[from].cells) != len(h.lines[from+1].cells) && h.sameWidth(from+1, i) {
			runs = append(runs, run{from, from + 1}) // a row of its own above a table
			from++
		}
		runs = append(runs, run{from, i})
		if r := runs[longest]; i-from > r.to-r.from {
			longest = len(runs) - 1
		}
	}
	if len(runs) == 0 {
		return
	}
	if r := runs[longest]; !h.headed(r.from, r.to) { // a raw dump that follows a table is not the table
		for k, r := range runs[:longest] {
			if h.headed(r.from, r.to) {
				longest = k
				break
			}
		}
	}
	h.first, h.last = runs[longest].from, runs[longest].to
	form := h.lines[h.first].class
	for _, r := range runs[:longest] {
		if sameForm(h.lines[r.from].class, form) && !(r.to == r.from+1 && h.statesTimes(r.from)) {
			h.first, h.last = r.from, r.to
			return
		}
	}
}

// sameWidth reports whether all rows have as many cells.
func (h *head) sameWidth(from, to int) bool {
	return !slices.ContainsFunc(h.lines[from:to], func(l headLine) bool { return len(l.cells) != len(h.lines[from].cells) })
}

// statesTimes reports whether a row holds values under names of which one is that of an interval or a rate, as above a table
// of levels alone.
func (h *head) statesTimes(i int) bool {
	j := h.above(i)
	if j < 0 || isNamed(&h.lines[j]) != h.lines[j].filled() || h.lines[j].filled() != h.lines[i].filled() || h.lines[i].filled() < 2 {
		return false
	}
	var m meta
	m.readUnder(&h.lines[j], &h.lines[i], i)
	return m.interval > 0
}

// wordyHead looks for a table some of whose columns hold words, such as a bus in hexadecimal: rows that begin with a number,
// with words in the same places.
func wordyHead(lines [][]byte, delimiters []byte) (best *head) {
	for _, d := range delimiters {
		if d == scan.Blanks || d == ':' {
			continue
		}
		c := cut(lines, d)
		for from := 0; from < len(c.lines); {
			to := c.wordyRun(from)
			if to-from > c.last-c.first {
				c.first, c.last = from, to
			}
			from = max(to, from+1)
		}
		if c.last-c.first >= 3 && (best == nil || c.last-c.first > best.last-best.first) {
			best = c
		}
	}
	return best
}

// wordyRun is the end of the rows from a line on that have as many cells, begin with a number, and leave two columns
// without a word, though some other has one.
func (h *head) wordyRun(from int) int {
	word := make([]bool, len(h.lines[from].class))
	some, i := false, from
	for ; i < len(h.lines) && len(h.lines[i].class) == len(word) && len(word) > 2; i++ {
		class, free := h.lines[i].class, 0
		if (class[0] == scan.Text || class[0] == scan.Empty || class[0] == scan.State) && !slices.Contains(class, scan.Calendar) {
			break
		}
		for k, c := range class {
			if c != scan.Text && !word[k] {
				free++
			}
		}
		if free < 2 {
			break
		}
		for k, c := range class {
			word[k] = word[k] || c == scan.Text
			some = some || word[k]
		}
	}
	if !some {
		return from
	}
	return i
}

// headed reports whether a few rows at least stand under a line of names, one of them that of a time, a duration or a count.
func (h *head) headed(from, to int) bool {
	i := h.above(from)
	if i > 0 && h.allUnits(i) && h.lines[i].class[0] == scan.Empty { // a row of units that leaves out a count's
		i = h.above(i)
	}
	if i < 0 || to-from < 3 {
		return false
	}
	l := &h.lines[i]
	n, width := l.filled(), h.lines[from].filled()
	if width < 2 || n < width-1 || n > width+1 || isNamed(l) != n {
		return false
	}
	return slices.ContainsFunc(l.cells, func(cell []byte) bool {
		name, _ := splitUnit(string(cell))
		return headsTimes(cell) || deltaNames[plainName(name)]
	})
}
