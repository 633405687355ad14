package recognise

import (
	"fmt"
	"math"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
)

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
	p.WeakUnit, p.guess = false, nil
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
