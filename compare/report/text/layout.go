package text

import (
	"fmt"
	"regexp"
	"strings"

	"github.com/mattn/go-runewidth"
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

// columns are those of a terminal whose ambiguous characters (±, Ω, µ) take one, whatever the locale.
var columns = &runewidth.Condition{}

// painted is an attribute as paint writes it.
var painted = regexp.MustCompile("\x1b\\[[0-9;]*m")

// visible is how many columns a text takes on the page: without the attributes it is painted in, two for a wide character.
func visible(text string) int { return columns.StringWidth(painted.ReplaceAllString(text, "")) }
