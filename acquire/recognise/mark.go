package recognise

import (
	"bytes"
	"fmt"
	"math"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// recut cuts the lines anew where the table has one column, so that its rows don't tell what parts the cells above it.
func (h *head) recut() {
	if h.width() != 1 || h.first == 0 {
		return
	}
	for _, d := range delimiters[:3] {
		c := &head{delim: d, first: h.first, last: h.last}
		cells := 0
		for i, l := range h.lines[:h.last] {
			c.lines = append(c.lines, newHeadLine(l.text, d))
			if i < h.first {
				cells = max(cells, len(c.lines[i].cells))
			}
		}
		if cells > 1 && c.width() == 1 {
			h.lines, h.delim = append(c.lines, h.lines[h.last:]...), d
			return
		}
	}
}

// findPoint settles the decimal mark: a comma where some column has commas that don't part thousands, or dots that do.
func (h *head) findPoint() {
	for k := range h.width() {
		comma := slices.ContainsFunc(h.lines[h.first:h.last], func(l headLine) bool { return k < len(l.class) && l.class[k] == scan.Comma })
		if comma && !h.grouped(k, ',') || !comma && h.grouped(k, '.') {
			h.point = ','
			return
		}
	}
}

// grouped reports whether a mark parts the thousands of a column's numbers: it stands before three digits, and in no number
// below a thousand. A dot that does so in numbers that rise would let them fall if it were the decimal mark.
func (h *head) grouped(k int, mark byte) bool {
	point := byte('.' + ',' - mark)
	small, some, falls := false, false, false
	last, plain := math.Inf(-1), math.Inf(-1)
	for i := h.first; i < h.last; i++ {
		cell := h.cell(i, k)
		v, ok := scan.Float(cell, point, 0)
		if !ok {
			if len(cell) > 0 {
				return false
			}
			continue
		}
		if bytes.IndexByte(cell, mark) >= 0 {
			if some = true; !scan.Grouped(cell, point) {
				return false
			}
		} else if small = true; math.Abs(v) > 999.999 || mark == '.' && bytes.IndexByte(cell, point) >= 0 {
			return false
		}
		p, _ := scan.Float(cell, mark, 0)
		if falls = falls || p < plain; mark == '.' && v < last {
			return false
		}
		last, plain = v, p
	}
	return small && some && (falls || mark == ',')
}

// groupedTimes reports whether commas part the thousands of times that have their unit in each cell: with them for decimal marks the
// times would fall, and so they do not.
func (h *head) groupedTimes(k int) bool {
	falls, asDecimals, asGroups := false, math.Inf(-1), math.Inf(-1)
	for _, cell := range h.cells(k) {
		a, _ := scan.Seconds(cell)
		b, ok := scan.GroupedSeconds(cell)
		if !ok || b < asGroups {
			return false
		}
		falls, asDecimals, asGroups = falls || a < asDecimals, a, b
	}
	return falls
}

// rejoin finds a decimal comma that the delimiter has cut: each row has one cell more than the header, and just
// one pair of neighbours can be joined so that the first column rises.
func (h *head) rejoin() error {
	if h.delim != ',' || h.names < 0 {
		return nil
	}
	want := h.lines[h.names].filled() - h.before
	for i := h.first; i < h.last; i++ {
		if l := &h.lines[i]; l.filled() != want+1 || bytes.IndexByte(l.text, '.') >= 0 {
			return nil
		}
	}
	at, fits := -1, 0
	rises := h.joinedRises(-1)
	for k := 0; k < want && fits < 2; k++ {
		if h.joinable(k, rises) {
			at = k
			fits++
		}
	}
	if fits != 1 {
		l := &h.lines[h.first]
		return &acquire.Error{File: h.name, Line: h.first + 1, Column: scan.Column(l.text, h.delim, want), What: fmt.Sprintf("each row has %d cells under %d column names", want+1, want),
			Expect: "as many cells as names", Do: "if decimals are written with a comma, export with another delimiter (semicolon or tab)", Err: acquire.ErrShape}
	}
	h.join, h.point = at, ','
	clear(h.parsed)
	for i := h.first; i < h.last; i++ {
		l := &h.lines[i]
		l.cells = scan.Join(l.cells, at)
		l.class = l.class[:0]
		for _, c := range l.cells {
			l.class = append(l.class, scan.Classify(c))
		}
	}
	h.say("each row has one cell more than the header: cells %d and %d are one number with a decimal comma", at+1, at+2)
	return nil
}

// joinable: cells k and k+1 make a decimal in every row, and the first column then rises throughout; rises says whether
// it does so as it is.
func (h *head) joinable(k int, rises bool) bool {
	if k > 0 && !rises {
		return false
	}
	for i := h.first; i < h.last; i++ {
		if c := h.lines[i].cells; k+1 >= len(c) || len(c[k+1]) == 0 || !decimal(c[k], c[k+1]) {
			return false
		}
	}
	return k > 0 || h.joinedRises(0)
}

// decimal reports whether two cells are one number that its comma has cut.
func decimal(whole, fraction []byte) bool {
	_, ok := scan.ParseDecimal(joined(whole, fraction), ',')
	return ok
}

func joined(whole, fraction []byte) []byte {
	return append(append(bytes.Clone(whole), ','), fraction...)
}

// joinedRises reports whether the first column rises throughout, joined with the second if k is 0.
func (h *head) joinedRises(k int) bool {
	last := 0.0
	for i := h.first; i < h.last; i++ {
		c := h.lines[i].cells
		first := c[0]
		if k == 0 {
			first = joined(c[0], c[1])
		}
		v, ok := scan.Float(first, ',', 0)
		if !ok || i > h.first && v <= last {
			return false
		}
		last = v
	}
	return true
}
