package recognise

import (
	"math"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/timeunit"
)

// durationsShape: a row for each pulse, with its start, how long it lasts and, mostly, whether it is high or low.
var durationsShape = shape{name: "table of pulses with start and duration", fits: fitDurations}

func fitDurations(h *head, opt acquire.Options) (*proposal, error) {
	start, length := h.timeColumn(), h.deltaColumn()
	if length < 0 {
		length = h.lasting(start)
	}
	if start < 0 || length < 0 || start == length || h.sinceBefore(start, length) {
		return nil, nil
	}
	state := -1
	for k := range h.columns {
		if c := &h.columns[k]; k != start && k != length && c.states > 0 && !c.analog {
			state = k
		}
	}
	only := *h
	only.columns = append([]column{}, h.columns...)
	for k := range only.columns {
		if k != start && k != state {
			only.columns[k].filled = 0
		}
	}
	if state < 0 { // each row is a high pulse: let the choice of channels find its one column
		only.columns[length] = column{name: "pulse", filled: 1, numbers: 1, states: 1}
	}
	p, err := only.tableAt(opt, start)
	if err != nil {
		return nil, err
	}
	q := p.transitions(1)
	q.say("column %d says how long each pulse lasts", length+1)
	if state < 0 {
		q.note("no column says which pulses are high: all are taken as high")
	}
	l := p.Layout
	unit, ok := timeunit.Named(h.columns[length].unit)
	if !ok {
		unit = l.Unit()
	}
	longer := [2]float64{float64(l.Unit().Times), float64(unit.Times)}
	l.Time, l.Value, l.Shift = -1, []int{start, length}, []int{l.TimeShift, unit.Power}
	if l.Bit != nil {
		l.Bit = append([]int{-1, -1}, l.Bit...)
	}
	if state >= 0 {
		l.Value, l.Shift = append(l.Value, state), append(l.Shift, 0)
	}
	q.Lines = Durations{Layout: l, Longer: longer, Tolerance: p.Res.Finest * 1.01}
	return q, nil
}

// lasting finds a column of times, by its unit, each of which ends by the time that the next row begins; -1: none.
func (h *head) lasting(start int) int {
	if start < 0 || !h.columns[start].rises {
		return -1
	}
	begin := h.numbers(start)
	in, ok := timeunit.Named(h.columns[start].unit)
	for k, c := range h.columns {
		u, known := timeunit.Named(c.unit)
		last := h.numbers(k)
		fits := ok && known && k != start && !c.rises && len(begin) > 2 && len(last) == len(begin)
		for i := 1; i < len(begin) && fits; i++ {
			fits = last[i-1] > 0 && last[i-1]*u.Seconds() <= (begin[i]-begin[i-1])*in.Seconds()
		}
		if fits {
			return k
		}
	}
	return -1
}

// sinceBefore reports whether a column says how long ago the row before was, and not how long its own pulse lasts.
func (h *head) sinceBefore(time, delta int) bool {
	t, d := h.numbers(time), h.numbers(delta)
	if len(t) != h.last-h.first || len(d) < len(t)-1 || len(t) < 3 {
		return false
	}
	if len(h.cell(h.first, delta)) == 0 {
		d = append([]float64{0}, d...)
	}
	t = t[:len(d)] // the last row may be cut
	slack := (t[len(t)-1] - t[0]) / float64(len(t)) / 100
	before, after := 0, 0
	for i := 1; i < len(t); i++ {
		step := t[i] - t[i-1]
		if math.Abs(step-d[i]) <= slack {
			before++
		}
		if math.Abs(step-d[i-1]) <= slack {
			after++
		}
	}
	sampled := before == after && slices.ContainsFunc(h.columns, func(c column) bool { return c.analog && c.inVolts() })
	return (before > after || sampled) && before*10 >= 9*(len(t)-1)
}
