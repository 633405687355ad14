package recognise

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
)

// head is the recogniser's view of the first lines: cells, their classes, the first table and what stands above it.
type head struct {
	name  string
	lines []headLine
	size  int  // bytes
	whole bool // these are all the lines there are

	delim byte
	point byte // decimal mark
	join  int  // see scan.Layout

	first, last int // the table's rows are lines[first:last]
	names       int // line of the column names, -1: none
	before      int // cells of that line before the first column's name, as a banner has them
	units       int // line of the units, -1: none
	columns     []column
	named       map[string]int // the first column of each plain name
	meta        meta
	repeats     Repeats // how often a row is printed

	notes    []string
	evidence []string
}

type headLine struct {
	text  []byte
	cells [][]byte
	class []scan.Class
}

func newHeadLine(text []byte, delim byte) headLine {
	room := make([][]byte, 0, bytes.Count(text, []byte{delim})+1)
	l := headLine{text: text, cells: scan.Split(room, text, delim)}
	if delim == scan.Blanks {
		l.cells = withUnits(l.cells)
	}
	l.class = make([]scan.Class, len(l.cells))
	for i, c := range l.cells {
		l.class[i] = scan.Classify(c)
	}
	return l
}

// withUnits joins each name with the unit in brackets that a blank parts from it.
func withUnits(cells [][]byte) [][]byte {
	kept := cells[:0]
	for _, c := range cells {
		if n := len(kept) - 1; c[0] == '(' || c[0] == '[' {
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

func (h *head) say(format string, a ...any) {
	h.evidence = append(h.evidence, fmt.Sprintf(format, a...))
}

// headLines is how many lines the recogniser looks at.
const headLines = 1000

// splitLines cuts text into its first lines, without their ends; an unterminated last line is kept only if it is
// all there is.
func splitLines(b []byte, whole bool) [][]byte {
	var lines [][]byte
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

// newHead finds the delimiter and the first table; first and last are equal if there is none.
func newHead(t Text, opt acquire.Options) (*head, error) {
	name := t.Name
	h := &head{name: name, size: len(t.Head), whole: t.Whole, names: -1, units: -1, join: -1, point: '.'}
	try := delimiters
	if opt.Delimiter != "" {
		d, ok := delimiterNames[opt.Delimiter]
		if !ok {
			return nil, &acquire.Error{File: name, What: fmt.Sprintf("unknown delimiter %q", opt.Delimiter), Expect: `",", ";", "|", ":", "tab" or "space"`, Err: acquire.ErrShape}
		}
		try = []byte{d}
	}
	lines := splitLines(t.Head, t.Whole)
	h.whole = t.Whole && len(lines) < headLines
	best := 0
	for i, d := range try {
		if i > 0 && !occurs(d, lines) {
			continue
		}
		c := &head{}
		for _, l := range lines {
			c.lines = append(c.lines, newHeadLine(l, d))
		}
		c.findTable()
		// More rows are better evidence than more columns; a table of one column is the last resort.
		width := c.width()
		score := (c.last-c.first)*100 + min(width, 50)
		switch {
		case width == 1:
			score /= 100
		case c.headed(c.first, c.last):
			score *= 1000
		}
		if score > best {
			best = score
			h.lines, h.first, h.last, h.delim = c.lines, c.first, c.last, d
		}
	}
	if (h.last-h.first)*4 < len(lines) {
		if words := wordyHead(lines, try); words != nil && words.last-words.first > 4*(h.last-h.first) {
			best = 1
			h.lines, h.first, h.last, h.delim = words.lines, words.first, words.last, words.delim
		}
	}
	if best == 0 {
		for _, l := range lines {
			h.lines = append(h.lines, newHeadLine(l, ','))
		}
		return h, nil
	}
	h.recut()
	h.findPoint()
	h.findHeader()
	if err := h.rejoin(); err != nil {
		return nil, err
	}
	h.say("delimiter %s, decimal mark %q, from %d consistent rows", delimiterWord(h.delim), string(h.point), h.last-h.first)
	h.readMeta()
	h.readColumns()
	if h.foldHead(); h.repeats != Once {
		h.readColumns()
	}
	return h, nil
}

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
	for i := from + 1; i < to; i++ {
		if len(h.lines[i].cells) != len(h.lines[from].cells) {
			return false
		}
	}
	return true
}

// statesTimes reports whether a row holds values under names of which one is that of an interval or a rate, as above a table
// of levels alone.
func (h *head) statesTimes(i int) bool {
	j := h.above(i)
	if j < 0 || isNamed(&h.lines[j]) != h.lines[j].filled() || h.lines[j].filled() != h.lines[i].filled() || h.lines[i].filled() < 2 {
		return false
	}
	probe := head{delim: h.delim, lines: h.lines}
	probe.readUnder(j, i)
	return probe.meta.interval > 0
}

// wordyHead looks for a table some of whose columns hold words, such as a bus in hexadecimal: rows that begin with a number,
// with words in the same places.
func wordyHead(lines [][]byte, delimiters []byte) (best *head) {
	for _, d := range delimiters {
		if d == scan.Blanks || d == ':' {
			continue
		}
		c := &head{delim: d}
		for _, l := range lines {
			c.lines = append(c.lines, newHeadLine(l, d))
		}
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
	if i < 0 || to-from < 3 {
		return false
	}
	l := &h.lines[i]
	n, width := l.filled(), h.lines[from].filled()
	if width < 2 || n < width-1 || n > width+1 || isNamed(l) != n {
		return false
	}
	for _, cell := range l.cells {
		name, unit := splitUnit(string(cell))
		if isTimeUnit(unit) || isTimeName(name) || isIndexName(name) || deltaNames[plainName(name)] {
			return true
		}
	}
	return false
}

// sameForm: as many cells, and numbers in the same places.
func sameForm(a, b []scan.Class) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if (a[i] == scan.Number) != (b[i] == scan.Number) {
			return false
		}
	}
	return true
}

// width is how many cells the table's widest row fills.
func (h *head) width() int {
	n := 0
	for i := range h.lines[h.first:h.last] {
		n = max(n, h.lines[h.first+i].filled())
	}
	return n
}

// findHeader looks for names and units in the lines just above the table.
func (h *head) findHeader() {
	i := h.above(h.first)
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
		case isUnit(string(h.lines[j].cells[k])):
			return false
		case isUnit(string(cell)) && k < width:
			units++
		case class == scan.Empty:
		case class == scan.Number && k >= width:
		case class == scan.Text && k < width && len(cell) <= 16:
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

// isNamed counts the cells of a line that are words or numbered names.
func isNamed(l *headLine) int {
	n := 0
	for k := range l.class {
		if l.class[k] == scan.Text || l.class[k] == scan.Unknown || l.class[k] == scan.State {
			n++
		}
	}
	return n
}

// commentHead takes a comment just above the table for its header, if it names the column that the time is in.
func (h *head) commentHead(i int) bool {
	text := bytes.TrimSpace(h.lines[i].text)
	if !IsComment(text, h.delim) || bytes.ContainsAny(text, "=:") {
		return false
	}
	l := newHeadLine(bytes.TrimLeft(text, "#%;/ \t"), h.delim)
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

// above gives the nearest line before i that is not blank.
func (h *head) above(i int) int {
	for i--; i >= 0 && h.lines[i].blank(); i-- {
	}
	return i
}

// maxChannelNumber bounds a number that may be a channel's name in a header.
const maxChannelNumber = 64

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
	name, unit := splitUnit(string(l.cells[0]))
	return numbers == 0 || isTimeName(name) || isIndexName(name) || isTimeUnit(unit)
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

// cells are those of column k, row by row.
func (h *head) cells(k int) (cells [][]byte) {
	for i := h.first; i < h.last; i++ {
		cells = append(cells, h.cell(i, k))
	}
	return cells
}

// numbers are the numbers of column k, in the order of the rows.
func (h *head) numbers(k int) []float64 {
	var v []float64
	for i := h.first; i < h.last; i++ {
		if x, ok := scan.Float(h.cell(i, k), h.point, 0); ok {
			v = append(v, x)
		}
	}
	return v
}
