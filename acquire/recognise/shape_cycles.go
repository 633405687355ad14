package recognise

import (
	"slices"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/timeunit"
)

// cyclesShape: a row for each cycle, with how long it was high and how long low, and no times of its own.
var cyclesShape = shape{name: "high and low time of each cycle", fits: fitCycles}

func fitCycles(h *head, opt acquire.Options) (*proposal, error) {
	high, low := h.stateColumn("high", "hi", "on", "mark"), h.stateColumn("low", "lo", "off", "space")
	if k := h.timeColumn(); high < 0 || low < 0 || high == low || k >= 0 && k != high && k != low && !h.columns[k].counting || h.meta.interval > 0 || opt.Interval > 0 {
		return nil, nil
	}
	only, err := h.onlyChannel(opt)
	if err != nil {
		return nil, err
	}
	q, longer := h.begin(-1).propose(acquire.Transitions), []float64{}
	q.Channels = only
	l := &q.Layout
	for _, k := range []int{high, low} {
		unit := opt.TimeUnit
		if c := &h.columns[k]; unit == "" && isTimeUnit(c.unit) {
			unit = c.unit
		} else if unit == "" {
			g := timeunit.Of(timeunit.Written{Whole: c.integers, Power: c.power}, nan, timeunit.Usual(h.numbers(k)))
			unit, q.guess, q.numbers = g.Unit, &g, "the high and low times"
		}
		u, _ := timeunit.Named(unit)
		l.TimeShift, l.Longer = u.Power, u.Times
		l.Value, l.Shift = append(l.Value, k), append(l.Shift, u.Power)
		longer = append(longer, float64(u.Times))
		q.Res = grid.ResolutionOf(h.cells(k), l)
		if tick := grid.TickOf(q.Res, 1); q.Tick == 0 || tick < q.Tick {
			q.Tick = tick
		}
	}
	q.say("columns %d and %d say how long each cycle is high and low", high+1, low+1)
	q.Lines = Cycles{Longer: [2]float64(longer), LowFirst: low < high}
	return q, nil
}

// stateColumn finds the column of numbers that is named for how long a state lasts, such as "high" or "t_on (us)"; -1: none.
func (h *head) stateColumn(states ...string) int {
	for k := range h.columns {
		c := &h.columns[k]
		f := slices.DeleteFunc(strings.Fields(plainName(c.name)), func(w string) bool { return durationWords[w] })
		if len(f) == 1 && slices.Contains(states, f[0]) && c.numbers > 1 && !c.inVolts() {
			return k
		}
	}
	return -1
}
