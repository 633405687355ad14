package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
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

// heading starts a section.
func (p *printer) heading(text string) { p.line("\n%s", p.paint(bold, text)) }

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
	room := func(lead string) int { return max(p.style.Width-utf8.RuneCountInString(lead), 20) }
	for i, l := range wrapAfter(text, room(first), room(indent)) {
		lead := indent
		if i == 0 {
			lead = first
		}
		p.line("%s%s", lead, l)
	}
}

// wrap breaks text at blanks so that no line is longer than room, where words allow.
func wrap(text string, room int) []string { return wrapAfter(text, room, room) }

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
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) <= limit:
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

// table writes aligned columns, two blanks apart, indented by two.
func (p *printer) table(columns []column, rows [][]cell) {
	widths := make([]int, len(columns))
	empty := make([]bool, len(columns))
	for k, c := range columns {
		empty[k] = true
		widths[k] = utf8.RuneCountInString(c.head)
		for _, r := range rows {
			widths[k] = max(widths[k], utf8.RuneCountInString(r[k].text))
			empty[k] = empty[k] && r[k].text == ""
		}
	}
	shown := p.fit(columns, widths, empty)
	heads := make([]cell, len(columns))
	for k, c := range columns {
		heads[k].text = c.head
	}
	if strings.TrimSpace(strings.Join(texts(heads), "")) != "" {
		p.row(columns, widths, shown, heads)
	}
	for _, r := range rows {
		p.row(columns, widths, shown, r)
	}
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
		total, last := 0, -1
		for k, c := range columns {
			if !shown[k] {
				continue
			}
			total += widths[k] + 2
			if c.drop > 0 && (last < 0 || c.drop > columns[last].drop) {
				last = k
			}
		}
		if total <= p.style.Width || last < 0 {
			return shown
		}
		shown[last] = false
	}
}

func (p *printer) row(columns []column, widths []int, shown []bool, row []cell) {
	var b strings.Builder
	for k, c := range columns {
		if !shown[k] {
			continue
		}
		pad := strings.Repeat(" ", widths[k]-utf8.RuneCountInString(row[k].text))
		text := p.paint(row[k].attribute, row[k].text)
		if c.right {
			b.WriteString("  " + pad + text)
		} else {
			b.WriteString("  " + text + pad)
		}
	}
	p.line("%s", strings.TrimRight(b.String(), " "))
}
