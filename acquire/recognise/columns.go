package recognise

import (
	"bytes"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// readColumns fills the columns from the header and the table's rows.
func (h *head) readColumns() {
	h.columns, h.named = make([]column, h.width()), map[string]int{}
	for k := range h.columns {
		c := &h.columns[k]
		if cell := h.cell(h.names, h.before+k); cell != nil {
			c.name, c.unit = splitUnit(string(cell))
		} else if k < len(h.meta.names) {
			c.name = h.meta.names[k]
		}
		if cell := h.cell(h.units, k); cell != nil && isUnit(string(cell)) {
			c.unit = unitOf(string(cell))
		} else if k < len(h.meta.units) {
			c.unit = unitOf(h.meta.units[k])
		}
		if unit := levelUnits[c.unit]; unit.base != "" && unit.base == h.meta.cellUnit {
			c.unit = unit.base // its prefix went with the cells'
		}
		h.readColumn(c, k)
		c.index = c.counting && c.unit == "" && h.meta.interval > 0 && !isTimeUnit(c.name)
		if n := plainName(c.name); n != "" {
			if _, ok := h.named[n]; !ok {
				h.named[n] = k
			}
		}
	}
}

func (h *head) readColumn(c *column, k int) {
	c.integers, c.rises, c.counting = true, true, true
	last, rose, seen := 0.0, false, false
	var odd oddStates
	for i := h.first; i < h.last; i++ {
		if k >= len(h.lines[i].cells) {
			continue
		}
		cell, class := h.lines[i].cells[k], h.lines[i].class[k]
		if class != scan.Empty {
			c.filled++
		}
		switch class {
		case scan.Text:
			c.words++
		case scan.Quantity:
			c.quantity = true
		case scan.Calendar:
			c.calendar, c.daytime = true, cell[1] == ':' || cell[2] == ':'
		case scan.State:
			c.states++
			_, v, _ := scan.Mark(cell)
			odd.add(v)
		case scan.Clipped:
			odd.add(nan)
		}
		if class != scan.Number && class != scan.Comma {
			continue
		}
		v, _ := scan.Float(cell, h.point, 0)
		c.numbers++
		if v == 0 || v == 1 {
			c.states++
		}
		odd.add(v)
		c.power = c.power || power(cell) >= 0
		c.integers = c.integers && bytes.IndexByte(cell, '.') < 0 && bytes.IndexByte(cell, ',') < 0 && power(cell) < 0
		if seen {
			c.rises = c.rises && v >= last
			rose = rose || v > last
			c.counting = c.counting && v == last+1
		}
		last, seen = v, true
	}
	if c.bits = h.bitsOf(k); c.bits > 0 {
		c.states, c.numbers, c.integers, rose, odd = c.filled, 0, false, false, oddStates{}
	}
	c.analog = odd.many(c.states)
	c.rises = c.rises && rose
	c.counting = c.counting && c.integers && (c.numbers > 2 || c.numbers == 2 && isIndexName(c.name))
}

// mostLines is how many lines a cell may show the states of: more characters are samples of one line.
const mostLines = 32

// bitsOf counts the lines whose states each cell of a column holds; 0 if they hold none. As many zeros and ones in each cell, a
// zero first in some, are no numbers.
func (h *head) bitsOf(k int) int {
	lines, sure := 0, false
	for i := h.first; i < h.last; i++ {
		cell := h.cell(i, k)
		n, written := scan.BitsOf(cell)
		if len(cell) > 0 && (n < 2 || n > mostLines || lines > 0 && n != lines) {
			return 0
		}
		lines = max(lines, n)
		sure = sure || n > 0 && (written || cell[0] == '0')
	}
	if !sure || h.last-h.first < 3 {
		return 0
	}
	return lines
}

// timeColumn finds the column that holds the time, or the row number; -1: none. What a column says of itself
// counts more than how its numbers run.
func (h *head) timeColumn() int {
	tests := []func(c *column) bool{
		func(c *column) bool { return c.quantity || c.calendar && !c.daytime },
		func(c *column) bool { return c.numbers > 0 && isTimeUnit(c.unit) },
		func(c *column) bool { return c.isTime() },
		func(c *column) bool { return c.rises && c.analog && !c.counting && c.name == "" },
		func(c *column) bool { return c.counting && (c.name == "" || isIndexName(c.name) || c.index) },
		func(c *column) bool {
			return c.rises && c.analog && !c.counting && h.meta.interval == 0 && levelUnits[c.unit].base == ""
		},
	}
	if len(h.columns) < 2 {
		return -1
	}
	for _, ok := range tests {
		for k := range h.columns {
			if ok(&h.columns[k]) {
				return k
			}
		}
	}
	c := &h.columns[0]
	may := c.name == "" || h.meta.interval == 0 && levelUnits[c.unit].base == ""
	if may && c.analog && h.restarts(0) && (h.evenly(0) || c.name == "" && h.someLogic()) {
		return 0
	}
	return -1
}

// evenly reports whether nearly all steps up of a column are alike.
func (h *head) evenly(k int) bool {
	var steps []float64
	t := h.numbers(k)
	for i := 1; i < len(t); i++ {
		if t[i] > t[i-1] {
			steps = append(steps, t[i]-t[i-1])
		}
	}
	slices.Sort(steps)
	n := len(steps)
	return n > 1 && steps[n-1-n/10] < 1.5*steps[n/10]
}

// deltaColumn finds a column of differences by its name; -1: none.
func (h *head) deltaColumn() int {
	return slices.IndexFunc(h.columns, func(c column) bool { return deltaNames[plainName(c.name)] && c.numbers > 0 && !c.inVolts() })
}

// between reports whether a column of times says how far the rows of another lie apart: by its name, or by its numbers, since the
// row before or to the row after.
func (h *head) between(k, time int) bool {
	d, t := h.numbers(k), h.numbers(time)
	since, until := len(t) > 2 && len(d) == len(t), len(t) > 2 && len(d) == len(t)
	for i := 1; i < len(t) && (since || until); i++ {
		apart, slack := t[i]-t[i-1], 1e-6*math.Abs(t[i]-t[0])
		since = since && math.Abs(d[i]-apart) <= slack
		until = until && math.Abs(d[i-1]-apart) <= slack
	}
	return since || until || deltaNames[plainName(h.columns[k].name)]
}

// restarts: now and then the time falls back to where it began, and rises everywhere else.
func (h *head) restarts(k int) bool {
	t := h.numbers(k)
	back := 0
	for i := 1; i < len(t); i++ {
		if t[i] < t[i-1] {
			back++
			if t[i] > t[0]+(t[i-1]-t[0])/2 {
				return false
			}
		}
	}
	return back > 0 && back*4 < len(t)
}

// someLogic: a column of states, as any list of transitions and any sampled logic must have.
func (h *head) someLogic() bool {
	return slices.ContainsFunc(h.columns, func(c column) bool { return c.logic() })
}

// perCycle reports whether the rows tell of cycles: columns of a frequency, a duty factor or times that are none of the rows,
// and no levels.
func (h *head) perCycle(time int, channels []int) bool {
	cycles := time >= 0 && h.alikeTimes(time)
	for k := range h.columns {
		c := &h.columns[k]
		name := plainName(c.name)
		told := k == time && cycles || c.unit == "%" && cycles || strings.HasPrefix(name, "freq") || strings.HasPrefix(name, "duty") || strings.HasPrefix(name, "period") || k != time && isTimeUnit(c.unit) && !c.rises
		if cycles = cycles || told && c.numbers > 0; !told && slices.Contains(channels, k) {
			return false
		}
	}
	return cycles
}

// wordsFew: a column is no channel if more than one cell in so many is a word.
const wordsFew = 20

// alikeTimes reports whether what was taken for the time neither rises nor differs by much: it is how long something lasts.
func (h *head) alikeTimes(k int) bool {
	if c := &h.columns[k]; c.rises || c.calendar || c.counting {
		return false
	}
	var v []float64
	for _, cell := range h.cells(k) {
		if x, ok := scan.Seconds(cell); ok {
			v = append(v, x)
		}
	}
	if len(v) == 0 {
		v = h.numbers(k)
	}
	return len(v) > 2 && !grid.Ascends(v) && floats.Min(v) > 0 && floats.Max(v) < 1.5*floats.Min(v)
}

// mixed finds a column that says which channel each row is of, where that differs, and the first of them; -1: there is none. It does
// by its name, or where its words tell apart rows of one time, or states that change from row to row of each word alone.
func (h *head) mixed(time int) (column int, of []string) {
	for k := range h.columns {
		c := &h.columns[k]
		named := channelNames[plainName(c.name)]
		if k == time || c.filled == 0 || c.words*wordsFew < c.filled*(wordsFew-1) && !(named && c.integers && c.numbers > 3) || h.repeated(k) {
			continue
		}
		rows := map[string][]int{}
		for i := h.first; i < h.last; i++ {
			name := string(h.cell(i, k))
			if rows[name] = append(rows[name], i); len(rows[name]) == 1 && len(of) < maxChannelNumber {
				of = append(of, name)
			}
		}
		if named || len(rows)*3 <= h.last-h.first && (h.takeTurns(time, k) || h.changeApart(k, rows)) {
			return k, of
		}
		of = nil
	}
	return -1, nil
}

// takeTurns reports whether most rows share their time with one next to them in which column k holds another word.
func (h *head) takeTurns(time, k int) bool {
	n := 0
	for i := h.first + 1; i < h.last && time >= 0; i++ {
		if bytes.Equal(h.cell(i, time), h.cell(i-1, time)) && !bytes.Equal(h.cell(i, k), h.cell(i-1, k)) {
			n++
		}
	}
	return 3*n > h.last-h.first
}

// changeApart reports whether the states of some column change in each of the rows of one word, but not in each of all.
func (h *head) changeApart(k int, rows map[string][]int) bool {
	for j := range h.columns {
		if j == k || !h.columns[j].logic() {
			continue
		}
		apart, still := true, false
		for _, of := range rows {
			for n := 1; n < len(of); n++ {
				apart = apart && !bytes.Equal(h.cell(of[n], j), h.cell(of[n-1], j))
			}
		}
		for i := h.first + 1; i < h.last; i++ {
			still = still || bytes.Equal(h.cell(i, j), h.cell(i-1, j))
		}
		if apart && still {
			return true
		}
	}
	return false
}

// repeated reports whether a column holds the same in every row.
func (h *head) repeated(k int) bool {
	first := h.cell(h.first, k)
	return !slices.ContainsFunc(h.cells(k), func(c []byte) bool { return !bytes.Equal(c, first) })
}

// alike reports whether two columns hold the same in every row.
func (h *head) alike(a, b int) bool {
	return slices.EqualFunc(h.cells(a), h.cells(b), bytes.Equal)
}

// repeating counts the head's rows whose states, in all columns, equal those of the row before. A column of broken numbers, such as a
// temperature, is none of states.
func (h *head) repeating(time int) int {
	n := 0
	for i := h.first + 1; i < h.last; i++ {
		if h.holds(i, time, true) {
			n++
		}
	}
	return n
}

// holds reports whether the levels of row i, in all columns or only in those that can hold states, equal those of the row before. A
// column of broken numbers, such as a temperature, holds none.
func (h *head) holds(i, time int, states bool) bool {
	for k := range h.columns {
		c := &h.columns[k]
		if k == time || c.counting || states && c.numbers > 0 && !c.integers && !c.logic() {
			continue
		}
		if !bytes.Equal(h.cell(i, k), h.cell(i-1, k)) {
			return false
		}
	}
	return true
}

// twin finds the column whose name this one repeats with a word behind it, as "CH1 peak" does "CH1"; -1: none.
func (h *head) twin(k int) int {
	name := plainName(h.columns[k].name)
	i := strings.LastIndexByte(name, ' ')
	if i <= 0 || !twinWords[name[i+1:]] {
		return -1
	}
	if j, ok := h.named[name[:i]]; ok && j < k {
		return j
	}
	return -1
}

var twinWords = words("peak", "max", "maximum", "high", "upper")

// idle: a column beside the time that is no signal: a row counter, or the twin of a column before it.
func (h *head) idle(k, time int) bool {
	c := &h.columns[k]
	switch {
	case c.counting && (c.name == "" || isIndexName(c.name) || c.index || c.numbers >= 10 && !c.inVolts()), h.twin(k) >= 0:
		return true
	case c.isTime() && k != time && c.rises, c.numbers > 0 && (isTimeUnit(c.unit) || c.unit == "" && isFraction(c.name)), c.calendar, c.quantity:
		return true
	}
	return deltaNames[plainName(c.name)] && !c.inVolts() && (isTimeUnit(h.columns[time].unit) || h.columns[time].isTime())
}

// perhapsDays reports whether the times of a column without a unit may be days.
func (h *head) perhapsDays(k int) bool {
	v, places := h.numbers(k), 0
	if len(v) < 2 || h.columns[k].power {
		return false
	}
	if cell := h.cell(h.first, k); bytes.IndexByte(cell, h.point) >= 0 {
		places = len(cell) - 1 - bytes.IndexByte(cell, h.point)
	}
	return timeunit.PerhapsDays(places, v[0], (v[len(v)-1]-v[0])/float64(len(v)-1))
}

// guessUnit guesses the unit of a column of times, or of differences.
func (h *head) guessUnit(k int) *timeunit.Guess {
	v := h.numbers(k)
	first, steps := nan, v
	if k != h.deltaColumn() && len(v) > 0 {
		first, steps = v[0], make([]float64, 0, len(v))
		for i := 1; i < len(v); i++ {
			steps = append(steps, v[i]-v[i-1])
		}
	}
	g := timeunit.Of(timeunit.Written{Whole: h.columns[k].integers, Power: h.columns[k].power}, first, timeunit.Usual(steps))
	return &g
}
