package recognise

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// draft is a plan while it is drawn up: what a shape has settled so far, and the head that it looks at.
type draft struct {
	Plan
	meta     meta
	guess    *timeunit.Guess // of the time's unit; nil: something says it
	numbers  string          // what the guess is about
	evidence []string

	columns []int             // cells of the channels, before the choice
	bits    []int             // lines within these, counted from the right; -1: the cell is one level
	all     []acquire.Channel // the channels before the choice
	head    *head
	times   []float64   // of the head's rows
	levels  [][]float64 // of the chosen channels, in the head's rows
}

// plan is the draft made final.
func (p *draft) plan() *Plan {
	f := p.Plan
	f.Length = p.meta.length
	f.Evidence = p.evidence
	f.Notes = append(slices.Clone(p.head.notes), f.Notes...)
	for i := range min(f.First, len(p.head.lines)) {
		f.Offset += len(p.head.lines[i].text) + 1
	}
	f.Offset = min(f.Offset, p.head.size)
	f.States = f.Kind != acquire.Samples
	if p.guess != nil {
		f.Guess = p.guess.Short()
		f.Notes = append([]string{p.guess.Note(p.numbers)}, f.Notes...)
	}
	return &f
}

func (p *draft) say(format string, a ...any) {
	p.evidence = append(p.evidence, fmt.Sprintf(format, a...))
}
func (p *draft) note(format string, a ...any) { p.Notes = append(p.Notes, fmt.Sprintf(format, a...)) }

// table draws up what every table shares: the lines above it, the time column and its unit, the channels.
func (h *head) table(opt acquire.Options) (*draft, error) { return h.tableAt(opt, h.timeColumn()) }

// begin draws up what every shape with lines above its rows shares.
func (h *head) begin(time int) *draft {
	p := &draft{Plan: Plan{Name: h.name, First: h.first, Repeats: h.repeats, IntervalLine: h.meta.line, IntervalColumn: h.meta.column}, head: h, meta: h.meta, numbers: "the time column"}
	p.Layout = scan.Layout{Delim: h.delim, Point: h.point, Join: h.join, Cells: len(h.columns), Time: time}
	for i := range h.first {
		switch {
		case h.lines[i].blank():
			p.Classes = append(p.Classes, acquire.BlankLine)
		case i == h.names || i == h.units:
			p.Classes = append(p.Classes, acquire.HeaderLine)
			p.Header = append(p.Header, bytes.Clone(bytes.TrimSpace(h.lines[i].text)))
		default:
			p.Classes = append(p.Classes, acquire.PreambleLine)
			if c := h.lines[i].cells; len(c) > 0 && len(c[0]) > 0 && !slices.ContainsFunc(p.Preamble, func(k []byte) bool { return bytes.Equal(k, c[0]) }) {
				p.Preamble = append(p.Preamble, bytes.Clone(c[0]))
			}
		}
	}
	return p
}

// tableAt is table with the time in a given column.
func (h *head) tableAt(opt acquire.Options, time int) (*draft, error) {
	p := h.begin(time)
	if opt.Interval < 0 || math.IsNaN(opt.Interval) || math.IsInf(opt.Interval, 0) {
		return nil, &acquire.Error{File: h.name, What: fmt.Sprintf("the interval asked for is %g s", opt.Interval), Expect: "a time above zero", Err: acquire.ErrTime}
	}
	if err := p.settleUnit(opt); err != nil {
		return nil, err
	}
	if err := p.choose(opt); err != nil {
		return nil, err
	}
	own, err := p.ownTime()
	if err != nil {
		return nil, err
	}
	if own != time {
		return h.tableAt(opt, own)
	}
	p.readTimes()
	if falls(p.times) {
		return nil, &acquire.Error{File: h.name, Line: h.first + 2, What: "the times fall from row to row", Expect: "times that rise", Do: "sort the rows by time", Err: acquire.ErrTime}
	}
	p.settleTail()
	if err := p.settleStep(opt); err != nil {
		return nil, err
	}
	return p, nil
}

// settleUnit finds the form and the unit of the time column.
func (p *draft) settleUnit(opt acquire.Options) error {
	if !p.HasTime() {
		return nil
	}
	h, k := p.head, p.Layout.Time
	c := &h.columns[k]
	switch {
	case c.quantity:
		p.Layout.TimeForm = scan.QuantityTime
		p.say("time is column %d: each cell has its own unit", k+1)
		return nil
	case c.calendar:
		p.Layout.TimeForm = scan.CalendarTime
		for i := h.first; i < h.last; i++ {
			if t, ok := scan.ParseCalendar(h.cell(i, k)); ok {
				p.Layout.Reference = t.Second
				break
			}
		}
		p.say("time is column %d: calendar time or time of day, counted from the first row's whole second", k+1)
		return nil
	case c.counting && !c.isTime() && opt.TimeUnit == "":
		p.Counting = true
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
		return &acquire.Error{File: p.Name, Line: h.names + 1, Column: scan.Column(h.lines[h.names].text, h.delim, h.before+k), What: fmt.Sprintf("the time column is in %q, which is no unit known here", strangeUnit(c.name)),
			Expect: timeunit.Known, Do: "give --time-unit", Err: acquire.ErrTime}
	case isTimeUnit(p.meta.timeUnit):
		unit, from = p.meta.timeUnit, "by the preamble"
		p.WeakUnit = true
	case tickNames[plainName(c.name)]:
		return &acquire.Error{File: p.Name, Line: h.names + 1, Column: h.lines[h.names].column(h.before + k), What: fmt.Sprintf("the times of column %q are a timer's ticks, and nothing says how long a tick is", c.name),
			Expect: "times in " + timeunit.Known, Do: "give --time-unit if a tick is one of these, or else divide the column by the timer's rate", Err: acquire.ErrTime}
	default:
		p.WeakUnit = true
		p.guess = h.guessUnit(k)
		unit = p.guess.Unit
	}
	p.setUnit(unit)
	p.say("time is column %d, in %s: %s", k+1, unit, from)
	if v := h.numbers(k); len(v) > 0 && v[0]*scan.Pow10(p.Layout.TimeShift) >= epochSeconds && v[0] < math.MaxInt64 {
		v := v[0] * scan.Pow10(p.Layout.TimeShift)
		p.Layout.TimeForm, p.Layout.Reference = scan.EpochTime, int64(v)
		p.say("the times are seconds of an epoch: counted from %d", int64(v))
	}
	return nil
}

// setUnit takes a unit for that of the time column.
func (p *draft) setUnit(name string) {
	u, _ := timeunit.Named(name)
	p.Layout.TimeShift, p.Layout.Longer = u.Power, u.Times
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

// epochSeconds: a capture does not last three years, so a time above this counts from an epoch.
const epochSeconds = 1e8

// choose lists the channels and picks those asked for.
func (p *draft) choose(opt acquire.Options) error {
	h := p.head
	for k := range h.columns {
		c := &h.columns[k]
		if k == p.Layout.Time || c.filled == 0 || c.words*wordsFew > c.filled || p.HasTime() && h.idle(k, p.Layout.Time) {
			continue
		}
		for bit := range c.bits {
			name := fmt.Sprintf("%s[%d]", c.name, bit)
			if c.name == "" {
				name = fmt.Sprintf("D%d", bit)
			}
			p.all = append(p.all, acquire.Channel{Name: name, Number: len(p.all) + 1})
			p.columns, p.bits = append(p.columns, k), append(p.bits, bit)
		}
		if c.bits > 0 {
			continue
		}
		ch := acquire.Channel{Name: c.name, Number: len(p.all) + 1, Unit: c.unit}
		if ch.Name == "" {
			ch.Name = fmt.Sprint(ch.Number)
		}
		if _, ok := levelUnits[ch.Unit]; !ok && ch.Unit == "" && !c.logic() {
			ch.Unit = p.meta.levelUnit
		}
		p.all = append(p.all, ch)
		p.columns, p.bits = append(p.columns, k), append(p.bits, -1)
	}
	switch {
	case len(p.all) > 1 && h.mixed() != "":
		return &acquire.Error{File: p.Name, Line: h.names + 1, What: fmt.Sprintf("column %q says that the rows of several channels are mixed", h.mixed()), Expect: "a column of levels for each channel, or one channel",
			Do: "export each channel by itself, or keep the rows of one", Err: acquire.ErrShape}
	case h.perCycle(p.Layout.Time, p.columns):
		return &acquire.Error{File: p.Name, Line: h.first + 1, What: "the table has a row for each cycle, and no levels", Expect: "a row for each pulse or edge", Do: "list the pulses one a line, such as H 3.2 ms and L 1.9 ms", Err: acquire.ErrShape}
	case h.last == h.first+1 && !p.HasTime() && (len(p.all) > maxChannelNumber || len(h.cell(h.first, 0)) > longestCell):
		return &acquire.Error{File: p.Name, Line: h.first + 1, What: "the samples stand side by side in one row", Expect: "a row for each sample", Do: "write each on a line of its own", Err: acquire.ErrShape}
	case len(p.all) == 0:
		return &acquire.Error{File: p.Name, Line: h.first + 1, What: "no column of levels was found", Expect: "a table of time and level", Err: acquire.ErrShape}
	}
	chosen, err := p.wanted(opt, "the file holds %d channels")
	if err != nil {
		return err
	}
	for _, want := range chosen {
		i := findChannel(p.all, want)
		if i < 0 {
			return p.noChannel("there is no channel %q", want)
		}
		p.pick(i)
	}
	return nil
}

// mixed is the name of a column that says which channel each row is of, where that differs; empty: there is none.
func (h *head) mixed() string {
	for k := range h.columns {
		if c := &h.columns[k]; channelNames[plainName(c.name)] && c.integers && c.numbers > 3 && !h.repeated(k) {
			return c.name
		}
	}
	return ""
}

// repeated reports whether a column holds the same in every row.
func (h *head) repeated(k int) bool {
	for i := h.first; i < h.last; i++ {
		if !bytes.Equal(h.cell(i, k), h.cell(h.first, k)) {
			return false
		}
	}
	return true
}

// wanted names the channels to read: those asked for, or the only one.
func (p *draft) wanted(opt acquire.Options, many string) ([]string, error) {
	switch {
	case len(opt.Channels) > 0:
		return opt.Channels, nil
	case len(p.all) == 1:
		return []string{p.all[0].Name}, nil
	}
	return nil, &acquire.Error{File: p.Name, What: fmt.Sprintf(many, len(p.all)), Expect: "a choice", Do: "choose with --channel: " + channelList(p.all), Err: acquire.ErrChoice}
}

// noChannel is the error for a channel that is asked for and not there.
func (p *draft) noChannel(none, want string) error {
	return &acquire.Error{File: p.Name, What: fmt.Sprintf(none, want), Expect: "one of: " + channelList(p.all), Err: acquire.ErrChoice}
}

// longestCell: no number of a table has more characters.
const longestCell = 40

// wordsFew: a column is no channel if more than one cell in so many is a word.
const wordsFew = 20

// ownTime is the time column of the chosen channels: where there are several, the nearest one on their left.
func (p *draft) ownTime() (int, error) {
	own := -1
	for i, k := range p.Layout.Value {
		time := p.Layout.Time
		for j := range k {
			if c := &p.head.columns[j]; time >= 0 && !endNames[plainName(c.name)] && j != time && c.isTime() && c.rises && p.head.columns[time].isTime() && p.head.columns[time].rises {
				time = max(time, j)
			}
		}
		if i > 0 && time != own && !p.head.alike(time, own) {
			return 0, &acquire.Error{File: p.Name, What: "the chosen channels have time columns of their own", Expect: "channels that share one", Do: "choose one channel", Err: acquire.ErrChoice}
		}
		if i == 0 {
			own = time
		}
	}
	return own, nil
}

// alike reports whether two columns hold the same in every row.
func (h *head) alike(a, b int) bool {
	for i := h.first; i < h.last; i++ {
		if !bytes.Equal(h.cell(i, a), h.cell(i, b)) {
			return false
		}
	}
	return true
}

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

func (p *draft) pick(i int) {
	ch, shift := p.all[i], 0
	if u, ok := levelUnits[ch.Unit]; ok {
		ch.Unit, shift = u.base, u.shift
	} else if countUnits[strings.ToLower(ch.Unit)] {
		ch.Unit = acquire.CountUnit
	}
	p.Channels = append(p.Channels, ch)
	p.Layout.Value = append(p.Layout.Value, p.columns[i])
	p.Layout.Shift = append(p.Layout.Shift, shift)
	if p.bits[i] >= 0 || p.Layout.Bit != nil {
		for len(p.Layout.Bit) < len(p.Layout.Value)-1 {
			p.Layout.Bit = append(p.Layout.Bit, -1)
		}
		p.Layout.Bit = append(p.Layout.Bit, p.bits[i])
	}
}

// findChannel matches a name exactly, then a number, then a name regardless of case.
func findChannel(all []acquire.Channel, want string) int {
	tests := []func(c acquire.Channel) bool{
		func(c acquire.Channel) bool { return c.Name == want },
		func(c acquire.Channel) bool { return fmt.Sprint(c.Number) == want },
		func(c acquire.Channel) bool { return strings.EqualFold(c.Name, want) },
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
func channelList(all []acquire.Channel) string {
	const first, longest = 24, 40 // channels, and characters of a name
	one := func(c acquire.Channel) string {
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
func (p *draft) readTimes() {
	h := p.head
	var text []byte
	for i := h.first; i < h.last; i++ {
		text = append(append(text, h.lines[i].text...), '\n')
	}
	end := len(text)
	var r scan.Rows
	p.Layout.Parse(append(text, make([]byte, scan.Pad)...), end, &r)
	r.Fill()
	p.levels = nil
	for _, v := range r.Value {
		p.levels = append(p.levels, v[:r.N])
	}
	if p.HasTime() {
		p.times = r.Time[:r.N]
		p.Res = grid.ResolutionOf(h.cells(p.Layout.Time), &p.Layout)
	}
}

// falls reports whether times fall throughout, as in a list with the latest row first.
func falls(t []float64) bool {
	down := 0
	for i := 1; i < len(t); i++ {
		if t[i] < t[i-1] {
			down++
		}
	}
	return len(t) > 3 && down*10 > 9*(len(t)-1)
}

// settleTail notes the form of the last cell where all rows of the head agree on it.
func (p *draft) settleTail() {
	h := p.head
	for i := h.first; i < h.last; i++ {
		form, _ := tailForm(h.lines[i].cells)
		if h.join >= 0 {
			form, _ = TailForm(h.lines[i].text, p.Layout.Delim)
		}
		if i == h.first {
			p.Tail = form
		} else if i < h.last-1 && form != p.Tail { // the last may be the one that was cut
			p.Tail = NumberForm{}
			return
		}
	}
	if h.last-h.first < 4 {
		p.Tail = NumberForm{}
	}
}

// settleStep weighs the stated interval against the time column, and finds the grid.
func (p *draft) settleStep(opt acquire.Options) error {
	p.Step, p.Rounding = p.meta.interval, p.meta.rounding
	if opt.Interval > 0 {
		p.Step, p.Rounding = opt.Interval, 0
		p.say("interval of %.9g s, as asked", p.Step)
		if p.HasTime() && !p.Counting { // it stands in place of the time column
			if err := p.displaced(opt.Interval); err != nil {
				return err
			}
			p.Layout.Time, p.times, p.Res = -1, nil, grid.Resolution{}
		}
	}
	p.Start = p.meta.start
	switch {
	case !p.HasTime():
		return nil
	case p.Counting:
		p.Grid = grid.Grid{Step: 1, Slack: 0.25}
		return nil
	}
	g, ok := grid.Find(p.times, p.Res, p.Step)
	if !ok {
		return nil
	}
	p.Grid = g
	n := len(p.times)
	if p.Step > 0 && p.WeakUnit {
		if t := p.times[:grid.Rising(p.times)]; len(t) > 2 {
			last := t[len(t)-1]
			if scale := p.Agreeing(p.Step, last-t[0], float64(len(t)-1), p.Res.At(last)); scale != 0 && scale != 1 {
				return p.rescale(scale)
			}
		}
	}
	if p.Step == 0 || n < 10 || g.Coarse(p.times[0]) || g.Coarse(p.times[n-1]) {
		return nil // too little to tell; finishGrid looks again
	}
	ratio := g.Step / p.Step
	switch {
	case math.Abs(ratio-1) < 0.01:
		p.guess = nil
		p.say("the stated interval agrees with the time column's steps")
	case opt.Interval == 0 && math.Abs(ratio-math.Round(ratio)) < 0.01*ratio && ratio > 1.5 && !powerOfThousand(ratio):
		p.note("the rows keep one sample in %.0f of the stated interval", ratio)
		p.Step = 0
	default:
		return p.Contradiction(p.Step, g.Step)
	}
	return nil
}

// displaced says what an interval that was asked for takes the place of: a note where the time column has another
// step, an error where it is no grid at all and so says what the interval can't.
func (p *draft) displaced(interval float64) error {
	t := p.times[:grid.Rising(p.times)]
	if len(t) < 4 || t[len(t)-1] <= t[0] {
		return nil // nothing that could be kept
	}
	g, even := grid.Find(p.times, p.Res, 0)
	switch {
	case !even:
		return &acquire.Error{File: p.Name, Line: p.First + 1, What: fmt.Sprintf("an interval of %.9g s is asked for, but the rows have uneven times of their own", interval),
			Expect: "times or an interval, not both", Do: "leave out --interval", Err: acquire.ErrTime}
	case math.Abs(g.Step/interval-1) > 0.01:
		p.note("the interval of %.9g s that was asked for stands in place of the time column, whose mean step is %.9g s", interval, g.Step)
	}
	return nil
}

// rescale mends a time unit, by a factor, and settles everything that hangs on it anew.
func (p *draft) rescale(factor float64) error {
	p.Layout.TimeShift += int(math.Round(math.Log10(factor)))
	p.WeakUnit, p.guess = false, nil
	p.readTimes()
	p.Grid, _ = grid.Find(p.times, p.Res, p.Step)
	p.note("the time column is read in units of 10^%d s: only so does it agree with the interval that line %d states", p.Layout.TimeShift, p.IntervalLine)
	return nil
}

// powerOfThousand: 1e3, 1e-6 and so on, to one percent.
func powerOfThousand(ratio float64) bool {
	k := math.Log10(ratio) / 3
	return math.Abs(k) > 0.5 && math.Abs(k-math.Round(k)) < 0.0015
}

// repeating counts the head's rows whose levels, in all columns, equal those of the row before.
func (h *head) repeating(time int) int {
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
func (p *draft) logic() bool {
	for _, k := range p.Layout.Value {
		if !p.head.columns[k].logic() {
			return false
		}
	}
	return true
}
