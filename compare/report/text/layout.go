package text

import (
	"fmt"
	"strings"
)

func (p *printer) line(format string, args ...any) {
	fmt.Fprintf(p.w, format+"\n", args...)
}

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
