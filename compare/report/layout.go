package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"
)

// Style says what the output can show. The zero value is plain text of 100 columns.
type Style struct {
	Width   int  // columns; 0: 100
	Color   bool // terminal colours, never the only sign of anything
	Explain bool // also show what was recognised, the prior odds and the uncertainty budget
}

// printer lays text out on a page. Its writer keeps the first error.
type printer struct {
	w     *bufio.Writer
	style Style
}

func newPrinter(w io.Writer, s Style) *printer {
	if s.Width <= 0 {
		s.Width = 100
	}
	s.Width = max(s.Width, 40)
	return &printer{bufio.NewWriter(w), s}
}

func (p *printer) line(format string, args ...any) {
	fmt.Fprintf(p.w, format+"\n", args...)
}

// outOfTolerance is how likely a part is out of tolerance, painted where that is likelier than not.
func outOfTolerance(p float64) cell {
	c := cell{text: Percent(p)}
	if p > 0.5 {
		c.attribute = red
	}
	return c
}

// heading starts a section.
func (p *printer) heading(text string) { p.line("\n%s", p.paint(bold, text)) }

// opening writes the answer, and whose it is; an empty title is left out.
func (p *printer) opening(answer, title string) {
	for _, l := range Wrap(answer, p.style.Width) {
		p.line("%s", p.paint(bold, l))
	}
	if title != "" {
		p.line("%s", title)
	}
}

// close writes what to know before believing the numbers, and a last caution.
func (p *printer) close(warnings []string, last string) error {
	p.notes(warnings)
	p.line("")
	p.prose("", "", last)
	return p.w.Flush()
}

// ANSI attributes.
const (
	bold   = "1"
	red    = "31"
	green  = "32"
	yellow = "33"
)

// paint wraps text in an attribute where the output shows it.
func (p *printer) paint(attribute, text string) string {
	if !p.style.Color || text == "" || attribute == "" {
		return text
	}
	return "\x1b[" + attribute + "m" + text + "\x1b[0m"
}

// prose writes text wrapped to the width; indent stands before each line, first before the first.
func (p *printer) prose(first, indent, text string) {
	room := func(lead string) int { return max(p.style.Width-visible(lead), 20) }
	for i, l := range wrapAfter(text, room(first), room(indent)) {
		lead := indent
		if i == 0 {
			lead = first
		}
		p.line("%s%s", lead, l)
	}
}

// Wrap breaks text at blanks so that no line is longer than room, where words allow.
func Wrap(text string, room int) []string { return wrapAfter(text, room, room) }

// wrapAfter does the same where the first line has a room of its own.
func wrapAfter(text string, first, room int) []string {
	var lines []string
	line := ""
	for _, w := range strings.Fields(text) {
		limit := room
		if len(lines) == 0 {
			limit = first
		}
		switch {
		case line == "":
			line = w
		case visible(line)+1+visible(w) <= limit:
			line += " " + w
		default:
			lines = append(lines, line)
			line = w
		}
	}
	return append(lines, line)
}

// column is one column of a table.
type column struct {
	head  string
	right bool // align to the right
	drop  int  // columns of the largest number go first where the table is too wide; 0 stays
}

// cell is one cell: its text, and how to paint it.
type cell struct{ text, attribute string }

func plain(texts ...string) []cell {
	row := make([]cell, len(texts))
	for i, t := range texts {
		row[i].text = t
	}
	return row
}

// table writes aligned columns, two blanks apart, indented by two. Where they are wider than the page, columns that may be
// dropped go first; then heads are broken at their blanks; then the cells of the widest column of words.
func (p *printer) table(columns []column, rows [][]cell) {
	heads := make([]cell, len(columns))
	widths := make([]int, len(columns))
	least := make([]int, len(columns)) // with the head broken at every blank
	empty := make([]bool, len(columns))
	for k, c := range columns {
		heads[k].text = c.head
		empty[k] = true
		for _, r := range rows {
			least[k] = max(least[k], visible(r[k].text))
			empty[k] = empty[k] && r[k].text == ""
		}
		widths[k] = max(least[k], visible(c.head))
		for _, w := range strings.Fields(c.head) {
			least[k] = max(least[k], visible(w))
		}
	}
	shown := p.fit(columns, least, empty)
	p.squeeze(columns, shown, widths, least)
	if strings.TrimSpace(strings.Join(texts(heads), "")) != "" {
		p.row(columns, widths, shown, heads)
	}
	for _, r := range rows {
		p.row(columns, widths, shown, r)
	}
}

// visible is how many columns a text takes on the page: its characters without the attributes they are painted in.
func visible(text string) int {
	n, escaped := 0, false
	for _, r := range text {
		switch {
		case r == '\x1b':
			escaped = true
		case escaped:
			escaped = r != 'm'
		default:
			n++
		}
	}
	return n
}

func texts(row []cell) []string {
	t := make([]string, len(row))
	for i, c := range row {
		t[i] = c.text
	}
	return t
}

// fit chooses the columns that the width has room for; an empty one needs none.
func (p *printer) fit(columns []column, widths []int, empty []bool) []bool {
	shown := make([]bool, len(columns))
	for k := range columns {
		shown[k] = !empty[k] || columns[k].head != "" && columns[k].drop == 0
	}
	for {
		last := -1
		for k, c := range columns {
			if shown[k] && c.drop > 0 && (last < 0 || c.drop > columns[last].drop) {
				last = k
			}
		}
		if total(widths, shown) <= p.style.Width || last < 0 {
			return shown
		}
		shown[last] = false
	}
}

// total is the width of a table's line.
func total(widths []int, shown []bool) int {
	n := 0
	for k, w := range widths {
		if shown[k] {
			n += w + 2
		}
	}
	return n
}

// narrowest is what is left to a column whose cells are broken.
const narrowest = 16

// squeeze narrows columns until the table fits: those first whose head is widest over its cells, then the widest one of
// words.
func (p *printer) squeeze(columns []column, shown []bool, widths, least []int) {
	for over := total(widths, shown) - p.style.Width; over > 0; over-- {
		widest := -1
		for k := range columns {
			if shown[k] && widths[k] > least[k] && (widest < 0 || widths[k]-least[k] > widths[widest]-least[widest]) {
				widest = k
			}
		}
		if widest < 0 {
			break
		}
		widths[widest]--
	}
	words := -1
	for k, c := range columns {
		if shown[k] && !c.right && (words < 0 || widths[k] > widths[words]) {
			words = k
		}
	}
	if over := total(widths, shown) - p.style.Width; over > 0 && words >= 0 {
		widths[words] = max(widths[words]-over, min(narrowest, widths[words]))
	}
}

// row writes one row; a cell wider than its column is broken at its blanks.
func (p *printer) row(columns []column, widths []int, shown []bool, row []cell) {
	lines, height := make([][]string, len(row)), 1
	for k, c := range row {
		lines[k] = []string{c.text}
		if visible(c.text) > widths[k] {
			lines[k] = Wrap(c.text, widths[k])
		}
		if shown[k] {
			height = max(height, len(lines[k]))
		}
	}
	for n := range height {
		var b strings.Builder
		for k, c := range columns {
			if !shown[k] {
				continue
			}
			text := ""
			if n < len(lines[k]) {
				text = lines[k][n]
			}
			pad := strings.Repeat(" ", max(widths[k]-visible(text), 0))
			text = p.paint(row[k].attribute, text)
			if c.right {
				b.WriteString("  " + pad + text)
			} else {
				b.WriteString("  " + text + pad)
			}
		}
		p.line("%s", strings.TrimRight(b.String(), " "))
	}
}
