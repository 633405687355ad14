package recognise

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/timeunit"
)

// cyclesShape: a row for each cycle, with how long it was high and how long low, or when it rose and fell; or a row for each high and
// low time, in turn.
var cyclesShape = shape{name: "high and low time of each cycle", fits: fitCycles}

func fitCycles(h *head, opt acquire.Options) (*proposal, error) {
	if h.meta.interval > 0 || opt.Interval > 0 {
		return nil, nil
	}
	if k, ok := h.inTurn(); ok {
		q, err := h.cycles(opt, Cycles{}, k)
		if q != nil {
			q.say("column %d says how long each state lasts, in turn", k+1)
			q.note("the first duration is taken as high")
		}
		return q, err
	}
	if rise, fall := h.edgeColumn("rise", "rising", "rises"), h.edgeColumn("fall", "falling", "falls"); h.follow(rise, fall) || h.follow(fall, rise) {
		q, err := h.cycles(opt, Cycles{Instants: true}, rise, fall)
		if q != nil {
			q.say("columns %d and %d say when each pulse rises and falls", rise+1, fall+1)
		}
		return q, err
	}
	high, low := h.stateColumn(1), h.stateColumn(0)
	if (high < 0 || low < 0) && h.twoDurations() {
		return nil, &acquire.Error{File: h.name, Line: h.first + 1, What: "the rows hold two times that stay alike, and nothing says which is the high time", Expect: "a name over each column",
			Do: "if they are the high and the low time of each cycle, put a line such as high_us,low_us above them", Err: acquire.ErrShape}
	}
	if k := h.timeColumn(); high < 0 || low < 0 || high == low || k >= 0 && k != high && k != low && !h.columns[k].counting {
		return nil, nil
	}
	q, err := h.cycles(opt, Cycles{LowFirst: low < high}, high, low)
	if q != nil {
		q.say("columns %d and %d say how long each cycle is high and low", high+1, low+1)
	}
	return q, err
}

// cycles proposes rows of times in the columns ks; one that says no unit has that of the other.
func (h *head) cycles(opt acquire.Options, lines Cycles, ks ...int) (*proposal, error) {
	only, err := h.onlyChannel(opt)
	if err != nil {
		return nil, err
	}
	said := opt.TimeUnit
	for _, k := range ks {
		if u := h.columns[k].unit; said == "" && isTimeUnit(u) {
			said = u
		}
	}
	q := h.begin(-1).propose(acquire.Transitions)
	q.Channels = only
	l := &q.Layout
	for i, k := range ks {
		unit := said
		if c := &h.columns[k]; opt.TimeUnit == "" && isTimeUnit(c.unit) {
			unit = c.unit
		} else if unit == "" {
			g := timeunit.Of(timeunit.Written{Whole: c.integers, Power: c.power}, nan, timeunit.Usual(h.numbers(k)))
			unit, q.guess, q.numbers = g.Unit, &g, "the high and low times"
		}
		u, _ := timeunit.Named(unit)
		l.TimeShift, l.Longer = u.Power, u.Times
		q.TimeUnit = timeunit.Symbol(u.Seconds())
		l.Value, l.Shift = append(l.Value, k), append(l.Shift, u.Power)
		lines.Longer[i] = float64(u.Times)
		q.Res = grid.ResolutionOf(h.cells(k), l)
		if tick := grid.TickOf(q.Res, 1); q.Tick == 0 || tick < q.Tick {
			q.Tick = tick
		}
	}
	q.Lines = lines
	return q, nil
}

// edgeColumn finds the column of numbers that is named for when an edge comes; -1: none.
func (h *head) edgeColumn(words ...string) int {
	return h.columnNamed(func(word string) bool { return slices.Contains(words, word) })
}

// stateColumn finds the column of numbers that is named for how long a state lasts, such as "high" or "t_on (us)"; -1: none.
func (h *head) stateColumn(state float64) int {
	return h.columnNamed(func(word string) bool {
		v, ok := StateWord(word)
		return ok && v == state
	})
}

// columnNamed finds the column of numbers whose name is one word of a kind, but for words for a time; -1: none.
func (h *head) columnNamed(is func(word string) bool) int {
	return slices.IndexFunc(h.columns, func(c column) bool {
		f := slices.DeleteFunc(strings.Fields(plainName(c.name)), func(w string) bool { return durationWords[w] })
		return len(f) == 1 && (is(f[0]) || is(strings.TrimPrefix(f[0], "t"))) && c.numbers > 1 && !c.inVolts()
	})
}

// follow reports whether column b's times lie each behind that of column a in its row, and before the one of the next row.
func (h *head) follow(a, b int) bool {
	if a < 0 || b < 0 || a == b {
		return false
	}
	x, y := h.numbers(a), h.numbers(b)
	for i := range x {
		if len(x) != len(y) || y[i] <= x[i] || i > 0 && x[i] <= y[i-1] {
			return false
		}
	}
	return len(x) > 1
}

// inTurn finds the only column, whose numbers are durations by their name and differ in turn by far more than they scatter.
func (h *head) inTurn() (k int, ok bool) {
	if k = h.deltaColumn(); k < 0 || len(h.columns) != 1 {
		return 0, false
	}
	var each [2][]float64
	for i, x := range h.numbers(k) {
		each[i%2] = append(each[i%2], x)
	}
	if len(each[1]) < 3 || floats.Min(each[0]) <= 0 || floats.Min(each[1]) <= 0 {
		return 0, false
	}
	a, sa := stat.MeanStdDev(each[0], nil)
	b, sb := stat.MeanStdDev(each[1], nil)
	return k, math.Abs(a-b) > 5*(sa+sb)
}

// twoDurations reports whether rows hold two numbers above zero, a count of the rows apart, that neither rise nor scatter as levels
// do, and that have no name or a unit of time.
func (h *head) twoDurations() bool {
	n := 0
	for k := range h.columns {
		c := &h.columns[k]
		if c.counting {
			continue
		}
		v := h.numbers(k)
		if n++; c.name != "" && !isTimeUnit(c.unit) || c.rises || len(v) < 3 || len(v) != h.last-h.first || floats.Min(v) <= 0 || floats.Max(v) > 1.5*floats.Min(v) {
			return false
		}
	}
	return n == 2
}
