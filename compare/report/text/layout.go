package text

import (
	"bufio"
	"fmt"
	"math"
	"regexp"
	"strings"

	"github.com/mattn/go-runewidth"

	"offbeat/compare"
	"offbeat/compare/report/document"
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

// bound is what is one thing to a reader: a number with its unit, sign or limits, and the odds; each match's last group
// begins the next.
var bound = regexp.MustCompile(`([…±×<>~]|\x{A0}:) (\S)|(\S) ([…±])|(\d\)?) ([%:]|[pnuµmkMG]?Ω|[pnuµmkMG]?(?:Hz|[sVAF]|min|bit|ppm|°C)\b)`)

// glue stands for a blank that is not broken at.
const glue = "\u00a0"

// glued keeps together what is one thing; twice, since a match may end where the next begins.
func glued(text string) string {
	for range 2 {
		text = bound.ReplaceAllString(text, "$1$3$5"+glue+"$2$4$6")
	}
	return text
}

// digest is a file's; where it has no room it is halved.
var digest = regexp.MustCompile(`\b([0-9a-f]{32})([0-9a-f]{32})\b`)

// unbroken are the words of a text that stay whole where there is that room.
func unbroken(text string, room int) []string {
	if room < 64 {
		text = digest.ReplaceAllString(text, "$1 $2")
	}
	return strings.FieldsFunc(glued(text), func(r rune) bool { return r == ' ' || r == '\t' || r == '\n' })
}

// Wrap breaks text at blanks so that no line is longer than room, where words allow: never within a number and its unit, or
// an interval that fits.
func Wrap(text string, room int) []string { return wrapAfter(text, room, room) }

// wrapAfter does the same where the first line has a room of its own.
func wrapAfter(text string, first, room int) []string {
	var lines []string
	line := ""
	for _, w := range unbroken(text, room) {
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
	lines = append(lines, line)
	for i := range lines {
		lines[i] = strings.ReplaceAll(lines[i], glue, " ")
	}
	return lines
}

// columns are those of a terminal whose ambiguous characters (±, Ω, µ) take one, whatever the locale.
var columns = &runewidth.Condition{}

// painted is an attribute as paint writes it.
var painted = regexp.MustCompile("\x1b\\[[0-9;]*m")

// visible is how many columns a text takes on the page: without the attributes it is painted in, two for a wide character.
func visible(text string) int { return columns.StringWidth(painted.ReplaceAllString(text, "")) }

// Style says what the output can show. The zero value is plain text of 100 columns.
type Style struct {
	Width   int  // columns; 0: 100
	Color   bool // terminal colours, never the only sign of anything
	Explain bool // also what only those want who ask: legends, bits, file details, the budget
}

// printer lays text out on a page. Its writer keeps the first error.
type printer struct {
	w     *bufio.Writer
	style Style
}

// ANSI attributes.
const (
	bold   = "1"
	red    = "31"
	green  = "32"
	yellow = "33"
)

// attributes of the tones.
var attributes = map[document.Tone]string{document.Good: green, document.Bad: red, document.Doubtful: yellow}

// reach is how many tolerances a part's bar shows to either side of the nominal.
const reach = 2.5

// toleranceBar draws a part across its tolerance, in signs that need no colour:
//
//	[-------|-------]  ===o==
//
// "[" and "]" are the limits, "|" the nominal, "=" the 95 % coverage interval, "o" the estimate; "<" and ">" stand at the
// ends for what lies beyond.
func toleranceBar(q *compare.Part, width int) string {
	middle := width / 2
	unit := float64(middle) / reach
	at := func(v float64) int {
		side := q.Limits[1] - q.Nominal
		if v < q.Nominal {
			side = q.Nominal - q.Limits[0]
		}
		x := math.Round((v - q.Nominal) / side * unit)
		return middle + int(max(-float64(width), min(x, float64(width)))) // far outside is outside
	}
	bar := []byte(strings.Repeat(" ", width))
	low, high := at(q.Limits[0]), at(q.Limits[1])
	for i := low; i <= high; i++ {
		bar[i] = '-'
	}
	for i := max(at(q.Interval95[0]), 0); i <= min(at(q.Interval95[1]), width-1); i++ {
		bar[i] = '='
	}
	bar[low], bar[middle], bar[high] = '[', '|', ']'
	if at(q.Interval95[0]) < 0 {
		bar[0] = '<'
	}
	if at(q.Interval95[1]) >= width {
		bar[width-1] = '>'
	}
	switch v := at(q.Value); {
	case v < 0:
		bar[0] = '<'
	case v >= width:
		bar[width-1] = '>'
	default:
		bar[v] = 'o'
	}
	return string(bar)
}

// shareBar draws a share of one as a run of "#"; what is not zero shows at least a dot.
func shareBar(p float64, width int) string {
	n := int(math.Round(p * float64(width)))
	switch {
	case n > 0:
		return strings.Repeat("#", n)
	case p > 0:
		return "."
	}
	return ""
}
