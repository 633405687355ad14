package acquire

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// plan says how a source is read. A shape draws it up from the head.
type plan struct {
	shape    string
	kind     Kind
	layout   scan.Layout
	first    int         // line of the first row, from 0
	classes  []lineClass // of the lines before it
	header   [][]byte    // names and units as they stand, to know them again
	preamble [][]byte    // first cells of the lines above the table, to know them again
	channels []Channel

	step     float64         // s, the interval that the file or the user states; 0: none
	rounding float64         // its standard uncertainty, relative
	start    float64         // s, where the rows have no time
	counting bool            // the time column counts samples
	segments bool            // records that begin with a time that falls back are what the file is made of
	uneven   bool            // rows keep their own times
	again    again           // how often a row is printed
	guess    *timeunit.Guess // of the time's unit; nil: something says it
	weakUnit bool            // the time column's unit is a guess, or said by the preamble alone
	res      resolution
	surveyor surveyor
	name     string
	numbers  string // what the guess is about
	meta     meta
	tail     numberForm // of the last cell of every row; zero where they differ

	notes    []string
	evidence []string
	open     func(*Source) recordReader

	columns []int     // cells of the channels, before the choice
	all     []Channel // the channels before the choice
	head    *head
	times   []float64   // of the head's rows
	levels  [][]float64 // of the chosen channels, in the head's rows
}

func (p *plan) say(format string, a ...any) {
	p.evidence = append(p.evidence, fmt.Sprintf(format, a...))
}
func (p *plan) note(format string, a ...any) { p.notes = append(p.notes, fmt.Sprintf(format, a...)) }

func (p *plan) hasTime() bool { return p.layout.Time >= 0 }

// above classes a line that stands above the table, or is blank, or a comment, or repeats the head.
func (p *plan) above(line []byte, num int64) (lineClass, bool) {
	trimmed := bytesTrim(line)
	switch {
	case num <= int64(len(p.classes)):
		return p.classes[num-1], true
	case len(trimmed) == 0:
		return blankLine, true
	case p.isHeader(trimmed):
		return headerLine, true
	case isComment(trimmed, p.layout.Delim):
		return preambleLine, true
	}
	return 0, false
}

// isHeader reports whether a line repeats the names or the units.
func (p *plan) isHeader(line []byte) bool {
	for _, l := range p.header {
		if bytes.Equal(l, line) {
			return true
		}
	}
	return false
}

// isPreamble reports whether a line begins as one of the preamble does.
func (p *plan) isPreamble(line []byte) bool {
	line = bytes.TrimLeft(line, " \"")
	return slices.ContainsFunc(p.preamble, func(k []byte) bool { return bytes.HasPrefix(line, k) })
}

// table draws up what every table shares: the lines above it, the time column and its unit, the channels.
func (h *head) table(opt Options) (*plan, error) { return h.tableAt(opt, h.timeColumn()) }

// tableAt is table with the time in a given column.
func (h *head) tableAt(opt Options, time int) (*plan, error) {
	p := &plan{name: h.name, head: h, meta: h.meta, numbers: "the time column", first: h.first, again: h.again, open: openTable}
	p.layout = scan.Layout{Delim: h.delim, Point: h.point, Join: h.join, Cells: len(h.columns), Time: time}
	for i := range h.first {
		switch {
		case h.lines[i].blank():
			p.classes = append(p.classes, blankLine)
		case i == h.names || i == h.units:
			p.classes = append(p.classes, headerLine)
			p.header = append(p.header, bytes.Clone(bytesTrim(h.lines[i].text)))
		default:
			p.classes = append(p.classes, preambleLine)
			if c := h.lines[i].cells; len(c) > 0 && len(c[0]) > 0 && !slices.ContainsFunc(p.preamble, func(k []byte) bool { return bytes.Equal(k, c[0]) }) {
				p.preamble = append(p.preamble, bytes.Clone(c[0]))
			}
		}
	}
	if opt.Interval < 0 || math.IsNaN(opt.Interval) || math.IsInf(opt.Interval, 0) {
		return nil, &Error{File: h.name, What: fmt.Sprintf("the interval asked for is %g s", opt.Interval), Expect: "a time above zero", Err: ErrTime}
	}
	if err := p.settleUnit(opt); err != nil {
		return nil, err
	}
	if err := p.choose(opt); err != nil {
		return nil, err
	}
	p.readTimes()
	p.settleTail()
	if err := p.settleStep(opt); err != nil {
		return nil, err
	}
	return p, nil
}

// settleUnit finds the form and the unit of the time column.
func (p *plan) settleUnit(opt Options) error {
	if _, ok := scan.TimeUnits[opt.TimeUnit]; !ok && opt.TimeUnit != "" {
		return &Error{File: p.name, What: fmt.Sprintf("unknown time unit %q", opt.TimeUnit), Expect: "s, ms, us or ns", Err: ErrTime}
	}
	if !p.hasTime() {
		return nil
	}
	h, k := p.head, p.layout.Time
	c := &h.columns[k]
	switch {
	case c.quantity:
		p.layout.TimeForm = scan.QuantityTime
		p.say("time is column %d: each cell has its own unit", k+1)
		return nil
	case c.calendar:
		p.layout.TimeForm = scan.CalendarTime
		for i := h.first; i < h.last; i++ {
			if t, ok := scan.ParseCalendar(h.cell(i, k)); ok {
				p.layout.Reference = t.Second
				break
			}
		}
		p.say("time is column %d: calendar time, counted from the first row's whole second", k+1)
		return nil
	case c.counting && !c.isTime() && opt.TimeUnit == "":
		p.counting = true
		p.say("column %d counts the rows", k+1)
		return nil
	}
	unit, from := "s", "a guess, as nothing says so"
	switch {
	case opt.TimeUnit != "":
		unit, from = opt.TimeUnit, "as asked"
	case isTimeUnit(c.unit):
		unit, from = c.unit, "by its header"
	case isTimeUnit(c.name):
		unit, from = c.name, "by its header"
	case strangeUnit(c.name) != "":
		return &Error{File: p.name, Line: h.names + 1, Column: scan.Column(h.lines[h.names].text, h.delim, h.before+k), What: fmt.Sprintf("the time column is in %q, which is no unit known here", strangeUnit(c.name)),
			Expect: "s, ms, us or ns", Do: "give --time-unit", Err: ErrTime}
	case isTimeUnit(p.meta.timeUnit):
		unit, from = p.meta.timeUnit, "by the preamble"
		p.weakUnit = true
	default:
		p.weakUnit = true
		p.guess = h.guessUnit(k)
		unit = p.guess.Unit
	}
	p.layout.TimeShift = scan.TimeUnits[unit]
	p.say("time is column %d, in %s: %s", k+1, unit, from)
	if v := h.numbers(k); len(v) > 0 && v[0]*scan.Pow10(p.layout.TimeShift) >= epochSeconds && v[0] < math.MaxInt64 {
		v := v[0] * scan.Pow10(p.layout.TimeShift)
		p.layout.TimeForm, p.layout.Reference = scan.EpochTime, int64(v)
		p.say("the times are seconds of an epoch: counted from %d", int64(v))
	}
	return nil
}

// guessed is the guess for an output of a single line.
func (p *plan) guessed() string {
	if p.guess == nil {
		return ""
	}
	return p.guess.Short()
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
	g := timeunit.Of(h.columns[k].integers, first, timeunit.Usual(steps))
	return &g
}

// epochSeconds: a capture does not last three years, so a time above this counts from an epoch.
const epochSeconds = 1e8

// choose lists the channels and picks those asked for.
func (p *plan) choose(opt Options) error {
	h := p.head
	for k := range h.columns {
		c := &h.columns[k]
		if k == p.layout.Time || c.filled == 0 || p.hasTime() && h.idle(k, p.layout.Time) {
			continue
		}
		ch := Channel{Name: c.name, Number: len(p.all) + 1, Unit: c.unit}
		if ch.Name == "" {
			ch.Name = fmt.Sprint(ch.Number)
		}
		if _, ok := levelUnits[ch.Unit]; !ok && ch.Unit == "" && !c.logic() {
			ch.Unit = p.meta.levelUnit
		}
		p.all = append(p.all, ch)
		p.columns = append(p.columns, k)
	}
	list := channelList(p.all)
	switch {
	case len(p.all) == 0:
		return &Error{File: p.name, Line: h.first + 1, What: "no column of levels was found", Expect: "a table of time and level", Err: ErrShape}
	case len(p.all) > 1 && len(opt.Channels) == 0:
		return &Error{File: p.name, What: fmt.Sprintf("the file holds %d channels", len(p.all)), Expect: "a choice", Do: "choose with --channel: " + list, Err: ErrChoice}
	case len(opt.Channels) == 0:
		p.pick(0)
	}
	for _, want := range opt.Channels {
		i := findChannel(p.all, want)
		if i < 0 {
			return &Error{File: p.name, What: fmt.Sprintf("there is no channel %q", want), Expect: "one of: " + list, Err: ErrChoice}
		}
		p.pick(i)
	}
	return nil
}

// idle: a column beside the time that is no signal: a row counter, or the twin of a column before it.
func (h *head) idle(k, time int) bool {
	c := &h.columns[k]
	return c.counting && (c.name == "" || isIndexName(c.name)) || c.isTime() && k != time && c.rises || h.twin(k) >= 0
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

func (p *plan) pick(i int) {
	ch, shift := p.all[i], 0
	if u, ok := levelUnits[ch.Unit]; ok {
		ch.Unit, shift = u.base, u.shift
	}
	p.channels = append(p.channels, ch)
	p.layout.Value = append(p.layout.Value, p.columns[i])
	p.layout.Shift = append(p.layout.Shift, shift)
}

// findChannel matches a name exactly, then a number, then a name regardless of case.
func findChannel(all []Channel, want string) int {
	tests := []func(c Channel) bool{
		func(c Channel) bool { return c.Name == want },
		func(c Channel) bool { return fmt.Sprint(c.Number) == want },
		func(c Channel) bool { return strings.EqualFold(c.Name, want) },
	}
	for _, ok := range tests {
		for i, c := range all {
			if ok(c) {
				return i
			}
		}
	}
	return -1
}

// channelList lists channels in a few lines; of very many, the last says how far the numbers go.
func channelList(all []Channel) string {
	const first, longest = 24, 40 // channels, and characters of a name
	one := func(c Channel) string {
		number, name := fmt.Sprint(c.Number), []rune(c.Name)
		switch {
		case c.Name == number:
			return number
		case len(name) > longest:
			name = append(name[:longest-1], '…')
		}
		return number + " (" + string(name) + ")"
	}
	var s []string
	for _, c := range all[:min(first, len(all))] {
		s = append(s, one(c))
	}
	if more := len(all) - first; more > 0 {
		s = append(s, fmt.Sprintf("… %d more, the last %s", more, one(all[len(all)-1])))
	}
	return strings.Join(s, ", ")
}

// readTimes parses the head's rows.
func (p *plan) readTimes() {
	h := p.head
	var cells [][]byte
	var text []byte
	for i := h.first; i < h.last; i++ {
		text = append(append(text, h.lines[i].text...), '\n')
		if p.hasTime() {
			cells = append(cells, h.cell(i, p.layout.Time))
		}
	}
	end := len(text)
	var r scan.Rows
	p.layout.Parse(append(text, make([]byte, scan.Pad)...), end, &r)
	r.Fill()
	p.levels = nil
	for _, v := range r.Value {
		p.levels = append(p.levels, v[:r.N])
	}
	if p.hasTime() {
		p.times = r.Time[:r.N]
		p.res = resolutionOf(cells, &p.layout)
	}
}

// numberForm is how a number is printed: decimals, and the length of the exponent with its letter.
type numberForm struct{ decimals, exponent int }

// tailForm looks at the last filled cell of a line.
func tailForm(line []byte, delim byte) (form numberForm, cell int) {
	cells := scan.Split(nil, line, delim)
	for cell = len(cells) - 1; cell > 0 && len(cells[cell]) == 0; cell-- {
	}
	if len(cells) == 0 {
		return form, 0
	}
	c := cells[cell]
	if i := bytes.IndexAny(c, "eE"); i >= 0 {
		form.exponent = len(c) - i
		c = c[:i]
	}
	if i := bytes.IndexAny(c, ".,"); i >= 0 {
		form.decimals = len(c) - i
	}
	return form, cell
}

// settleTail notes the form of the last cell where all rows of the head agree on it.
func (p *plan) settleTail() {
	h := p.head
	for i := h.first; i < h.last; i++ {
		form, _ := tailForm(h.lines[i].text, p.layout.Delim)
		if i == h.first {
			p.tail = form
		} else if i < h.last-1 && form != p.tail { // the last may be the one that was cut
			p.tail = numberForm{}
			return
		}
	}
	if h.last-h.first < 4 {
		p.tail = numberForm{}
	}
}

// settleStep weighs the stated interval against the time column, and finds the grid.
func (p *plan) settleStep(opt Options) error {
	p.step, p.rounding = p.meta.interval, p.meta.rounding
	if opt.Interval > 0 {
		p.step, p.rounding = opt.Interval, 0
		p.say("interval of %.9g s, as asked", p.step)
		if p.hasTime() && !p.counting { // it stands in place of the time column
			if err := p.displaced(opt.Interval); err != nil {
				return err
			}
			p.layout.Time, p.times, p.res = -1, nil, resolution{}
		}
	}
	p.start = p.meta.start
	switch {
	case !p.hasTime():
		return nil
	case p.counting:
		p.surveyor.grid = grid{step: 1, slack: 0.25}
		return nil
	}
	g, ok := evenGrid(p.times, p.res, p.step)
	if !ok {
		return nil
	}
	p.surveyor.grid = g
	n := len(p.times)
	if p.step > 0 && p.weakUnit {
		if t := p.times[:rising(p.times)]; len(t) > 2 {
			last := t[len(t)-1]
			if scale := p.agreeing(p.step, last-t[0], float64(len(t)-1), p.res.at(last)); scale != 0 && scale != 1 {
				return p.rescale(scale)
			}
		}
	}
	if p.step == 0 || n < 10 || g.coarse(p.times[0]) || g.coarse(p.times[n-1]) {
		return nil // too little to tell; finishGrid looks again
	}
	ratio := g.step / p.step
	switch {
	case math.Abs(ratio-1) < 0.01:
		p.guess = nil
		p.say("the stated interval agrees with the time column's steps")
	case opt.Interval == 0 && math.Abs(ratio-math.Round(ratio)) < 0.01*ratio && ratio > 1.5 && !powerOfThousand(ratio):
		p.note("the rows keep one sample in %.0f of the stated interval", ratio)
		p.step = 0
	default:
		return p.contradiction(p.step, g.step)
	}
	return nil
}

// displaced says what an interval that was asked for takes the place of: a note where the time column has another
// step, an error where it is no grid at all and so says what the interval can't.
func (p *plan) displaced(interval float64) error {
	t := p.times[:rising(p.times)]
	if len(t) < 4 || t[len(t)-1] <= t[0] {
		return nil // nothing that could be kept
	}
	g, even := evenGrid(p.times, p.res, 0)
	switch {
	case !even:
		return &Error{File: p.name, Line: p.first + 1, What: fmt.Sprintf("an interval of %.9g s is asked for, but the rows have uneven times of their own", interval),
			Expect: "times or an interval, not both", Do: "leave out --interval", Err: ErrTime}
	case math.Abs(g.step/interval-1) > 0.01:
		p.note("the interval of %.9g s that was asked for stands in place of the time column, whose mean step is %.9g s", interval, g.step)
	}
	return nil
}

// rescale mends a time unit, by a factor, and settles everything that hangs on it anew.
func (p *plan) rescale(factor float64) error {
	p.layout.TimeShift += int(math.Round(math.Log10(factor)))
	p.weakUnit, p.guess = false, nil
	p.readTimes()
	p.surveyor.grid, _ = evenGrid(p.times, p.res, p.step)
	p.note("the time column is read in units of 10^%d s: only so does it agree with the interval that line %d states", p.layout.TimeShift, p.meta.line)
	return nil
}

// powerOfThousand: 1e3, 1e-6 and so on, to one percent.
func powerOfThousand(ratio float64) bool {
	k := math.Log10(ratio) / 3
	return math.Abs(k) > 0.5 && math.Abs(k-math.Round(k)) < 0.0015
}

// contradiction is the error for an interval that the time column denies.
func (p *plan) contradiction(stated, step float64) error {
	return &Error{File: p.name, Line: p.meta.line, Column: p.meta.column,
		What:   fmt.Sprintf("the stated interval of %.9g s contradicts the time column, whose mean step is %.9g s", stated, step),
		Expect: "both to agree", Do: "say which holds with --interval or --time-unit", Err: ErrTime}
}

// repeats counts the head's rows whose levels, in all columns, equal those of the row before.
func (h *head) repeats(time int) int {
	n := 0
	for i := h.first + 1; i < h.last; i++ {
		same := true
		for k := range h.columns {
			if k != time && !h.columns[k].counting && !bytes.Equal(h.cell(i, k), h.cell(i-1, k)) {
				same = false
			}
		}
		if same {
			n++
		}
	}
	return n
}

// logic reports whether all chosen channels hold states.
func (p *plan) logic() bool {
	for _, k := range p.layout.Value {
		if !p.head.columns[k].logic() {
			return false
		}
	}
	return true
}
