package recognise

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"

	"offbeat/acquire/internal/scan"
)

type headLine struct {
	text  []byte
	cells [][]byte
	class []scan.Class
}

func newHeadLine(text []byte, delim byte) headLine { return cutLine(text, delim, nil, nil) }

// mostCells is how many cells a line has at most, but for tabs among blanks.
func mostCells(text []byte, delim byte) int { return bytes.Count(text, []byte{delim}) + 1 }

// cutLine cuts a line into the room given.
func cutLine(text []byte, delim byte, cells [][]byte, class []scan.Class) headLine {
	cells = scan.Split(cells, text, delim)
	if delim == scan.Blanks {
		cells = withUnits(cells)
	}
	return lineOf(text, cells, class)
}

func lineOf(text []byte, cells [][]byte, class []scan.Class) headLine {
	for _, c := range cells {
		class = append(class, scan.Classify(c))
	}
	return headLine{text: text, cells: cells, class: class}
}

// withUnits joins each name with the unit in brackets that a blank parts from it.
func withUnits(cells [][]byte) [][]byte {
	kept := cells[:0]
	for _, c := range cells {
		if n := len(kept) - 1; len(c) > 0 && (c[0] == '(' || c[0] == '[') {
			if n >= 0 && isUnit(string(c)) && !isUnit(string(kept[n])) {
				kept[n] = kept[n][:cap(kept[n])-cap(c)+len(c)]
				continue
			}
		}
		kept = append(kept, c)
	}
	return kept
}

// column is where cell k begins: a 1-based byte column. A cell is a view of its line, and ends where the line's memory
// ends.
func (l *headLine) column(k int) int {
	if k >= len(l.cells) || cap(l.cells[k]) == 0 {
		return 0
	}
	return cap(l.text) - cap(l.cells[k]) + 1
}

// filled counts the cells up to the last one that holds something.
func (l *headLine) filled() int {
	n := len(l.class)
	for n > 0 && l.class[n-1] == scan.Empty {
		n--
	}
	return n
}

// dataish reports whether a line may be a row of data: something that is no text.
func (l *headLine) dataish() bool {
	some := false
	if l.blank() {
		return false
	}
	for _, c := range l.class {
		if c == scan.Text {
			return false
		}
		some = some || c != scan.Empty && c != scan.State
	}
	return some
}

// blank: nothing, or a line drawn under the names of a table in bars.
func (l *headLine) blank() bool {
	text := bytes.TrimSpace(l.text)
	return len(text) == 0 || bytes.IndexByte(text, '|') >= 0 && len(bytes.Trim(text, "|-=:+ \t")) == 0
}

// isNamed counts the cells of a line that are words or numbered names.
func isNamed(l *headLine) int {
	n := 0
	for _, c := range l.class {
		if c == scan.Text || c == scan.Unknown || c == scan.State {
			n++
		}
	}
	return n
}

// sameForm: as many cells, and numbers in the same places.
func sameForm(a, b []scan.Class) bool {
	return slices.EqualFunc(a, b, func(x, y scan.Class) bool { return (x == scan.Number) == (y == scan.Number) })
}

func allText(cells [][]byte) bool {
	return !slices.ContainsFunc(cells, func(c []byte) bool { return scan.Classify(c) != scan.Text })
}

// IsComment reports whether a line is a comment.
func IsComment(line []byte, delim byte) bool {
	return len(line) > 0 && (line[0] == '#' || line[0] == '%' || line[0] == ';' && delim != ';' || bytes.HasPrefix(line, []byte("//")))
}

// NumberForm is how a number is printed: decimals, and the length of the exponent with its letter.
type NumberForm struct{ Decimals, Exponent int }

// TailForm looks at the last filled cell of a line.
func TailForm(line []byte, delim byte) (form NumberForm, cell int) {
	return tailForm(scan.Split(nil, line, delim))
}

func tailForm(cells [][]byte) (form NumberForm, cell int) {
	for cell = len(cells) - 1; cell > 0 && len(cells[cell]) == 0; cell-- {
	}
	if len(cells) == 0 {
		return form, 0
	}
	c := cells[cell]
	if i := power(c); i >= 0 {
		form.Exponent = len(c) - i
		c = c[:i]
	}
	if i := max(bytes.LastIndexByte(c, '.'), bytes.LastIndexByte(c, ',')); i >= 0 {
		form.Decimals = len(c) - i
	}
	return form, cell
}

// power is where a number's power of ten begins; -1: it has none.
func power(cell []byte) int {
	return slices.IndexFunc(cell, func(c byte) bool { return c|0x20 == 'e' })
}

// headLines is how many lines the recogniser looks at.
const headLines = 1000

// splitLines cuts text into its first lines, without their ends; an unterminated last line is kept only if it is
// all there is.
func splitLines(b []byte, whole bool) [][]byte {
	lines := make([][]byte, 0, min(bytes.Count(b, []byte{'\n'})+1, headLines))
	for len(b) > 0 && len(lines) < headLines {
		i := bytes.IndexByte(b, '\n')
		if i < 0 {
			if whole {
				lines = append(lines, b)
			}
			break
		}
		lines = append(lines, b[:i])
		b = b[i+1:]
	}
	return lines
}

// singleSpaced leaves out the blank line behind each row of a text that has one between any two, from the first row on.
func singleSpaced(lines [][]byte) [][]byte {
	blank := func(i int) bool { return len(bytes.TrimSpace(lines[i])) == 0 }
	row := func(i int) bool {
		cell := bytes.TrimLeft(lines[i], " \t\"")
		_, state := StateWord(string(cell[:max(0, bytes.IndexAny(cell, " \t,;|:\""))]))
		return state || len(cell) > 0 && bytes.IndexByte([]byte("0123456789+-."), cell[0]) >= 0
	}
	first := 0
	for first < len(lines) && !(row(first) && first+2 < len(lines) && row(first+2)) {
		first++
	}
	var rows [][]byte
	for i := first; i < len(lines); i++ {
		if (i-first)&1 == 0 {
			rows = append(rows, lines[i])
		} else if !blank(i) {
			return lines
		}
	}
	return append(lines[:first:first], rows...)
}

var delimiters = []byte{',', ';', '\t', '|', ':', scan.Blanks}

// clockTime is what a line holds whose colons part no columns.
var clockTime = regexp.MustCompile(`\d:\d\d:\d\d`)

// delimiterNames are the words of Options.Delimiter.
var delimiterNames = map[string]byte{",": ',', "comma": ',', ";": ';', "semicolon": ';', "tab": '\t', "\t": '\t', "|": '|', "bar": '|', ":": ':', "colon": ':', "space": scan.Blanks, " ": scan.Blanks}

func delimiterWord(d byte) string {
	switch d {
	case '\t':
		return "tab"
	case scan.Blanks:
		return "blanks"
	}
	return fmt.Sprintf("%q", string(d))
}

// occurs reports whether a delimiter stands in one of the last lines, where the rows are.
func occurs(d byte, lines [][]byte) bool {
	for _, l := range lines[max(0, len(lines)-50):] {
		l = bytes.TrimSpace(l)
		if bytes.IndexByte(l, d) >= 0 && (d != ':' || !clockTime.Match(l)) || d == scan.Blanks && bytes.IndexByte(l, '\t') >= 0 {
			return true
		}
	}
	return false
}
