package recognise

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// begin draws up what every shape with lines above its rows shares.
func (h *head) begin(time int) *draft {
	p := &draft{choice: choice{file: h.name}, head: h}
	p.Plan = Plan{Name: h.name, First: h.first, Repeats: h.repeats, Length: h.meta.length, IntervalLine: h.meta.line, IntervalColumn: h.meta.column}
	p.numbers = "the time column"
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

// table draws up what every table shares: the lines above it, the time column and its unit, the channels.
func (h *head) table(opt acquire.Options) (*draft, error) { return h.tableAt(opt, h.timeColumn()) }

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
		p.Layout.TimeForm, p.Layout.Grouped = scan.QuantityTime, h.groupedTimes(k)
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
		line, column := h.nameAt(k)
		return &acquire.Error{File: p.Name, Line: line, Column: column, What: fmt.Sprintf("the time column is in %q, which is no unit known here", strangeUnit(c.name)),
			Expect: timeunit.Known, Do: "give --time-unit", Err: acquire.ErrTime}
	case isTimeUnit(p.head.meta.timeUnit):
		unit, from = p.head.meta.timeUnit, "by the preamble"
		p.WeakUnit = true
	case tickNames[plainName(c.name)] && max(h.meta.tick, h.meta.interval) > 0:
		tick := cmp.Or(h.meta.tick, h.meta.interval)
		p.Layout.TimeShift, p.Layout.Longer = tickOf(tick)
		p.say("time is column %d, in ticks of %.9g s", k+1, tick)
		return nil
	case tickNames[plainName(c.name)]:
		line, column := h.nameAt(k)
		return &acquire.Error{File: p.Name, Line: line, Column: column, What: fmt.Sprintf("the times of column %q are a timer's ticks, and nothing says how long a tick is", c.name),
			Expect: "times in " + timeunit.Known, Do: "give --time-unit if a tick is one of these, or else divide the column by the timer's rate", Err: acquire.ErrTime}
	case h.perhapsDays(k):
		line, column := h.nameAt(k)
		return &acquire.Error{File: p.Name, Line: line, Column: column, What: fmt.Sprintf("times from %.9g on may be seconds of a day or a spreadsheet's days", h.numbers(k)[0]),
			Expect: "a unit in the header", Do: "give --time-unit s or --time-unit day", Err: acquire.ErrTime}
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

// tickOf writes the length of a tick, in s, as a whole number of a power of ten of them.
func tickOf(s float64) (power int, times int64) {
	for n := s; power > -18 && math.Abs(n-math.Round(n)) > 1e-9*n || n < 1; n = s * scan.Pow10(-power) {
		power--
	}
	return power, int64(math.Round(s * scan.Pow10(-power)))
}

// epochSeconds: a capture does not last three years, so a time above this counts from an epoch.
const epochSeconds = 1e8

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

// settleTail notes which cell is the last that is filled, and its form, where all rows of the head agree on them.
func (p *draft) settleTail() {
	h := p.head
	forms, fills := h.last-h.first >= 4, h.last-h.first >= 3
	for i := h.first; i < max(h.last-1, h.first+1); i++ { // the last may be the one that was cut
		form, cell := tailForm(h.lines[i].cells)
		if h.join >= 0 {
			form, cell = TailForm(h.lines[i].text, p.Layout.Delim)
		}
		if i == h.first {
			p.Tail, p.Filled = form, cell+1
		}
		forms, fills = forms && form == p.Tail, fills && cell+1 == p.Filled
	}
	if !forms {
		p.Tail = NumberForm{}
	}
	if !fills {
		p.Filled = 0
	}
}

// assemble makes the plan of what a shape proposes. It is the only place that does.
func (h *head) assemble(shape string, how []string, q *proposal) *Plan {
	f, notes := q.Plan, h.notes
	f.Name, f.Shape = h.name, shape
	if f.States == 0 && q.Kind != acquire.Samples && q.Half == nil {
		f.States = len(q.Channels)
	}
	if len(f.Preamble) > 0 {
		f.Shape += " with preamble"
	}
	if q.guess != nil {
		f.Guess = q.guess.Short()
		notes = append([]string{q.guess.Note(q.numbers)}, notes...)
	}
	f.Notes, f.Evidence = slices.Concat(notes, q.Notes), slices.Concat(how, h.evidence, q.Evidence, []string{"shape: " + f.Shape})
	for i := range min(f.First, len(h.lines)) {
		f.Offset += len(h.lines[i].text) + 1
	}
	f.Offset = min(f.Offset, h.size)
	return &f
}

// settleStep weighs the stated interval against the time column, and finds the grid.
func (p *draft) settleStep(opt acquire.Options) error {
	p.Step, p.Rounding = p.head.meta.interval, p.head.meta.rounding
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
	p.Start = p.head.meta.start
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
	p.WeakUnit, p.guess, p.TimeUnit = false, nil, ""
	p.readTimes()
	p.Grid, _ = grid.Find(p.times, p.Res, p.Step)
	p.note("the time column is read in units of 10^%d s: only so does it agree with the interval that line %d states", p.Layout.TimeShift, p.IntervalLine)
	return nil
}

// readTimes parses the head's rows.
func (p *draft) readTimes() {
	h := p.head
	size := scan.Pad
	for i := h.first; i < h.last; i++ {
		size += len(h.lines[i].text) + 1
	}
	text := make([]byte, 0, size)
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
