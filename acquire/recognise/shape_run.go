package recognise

import (
	"math"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// runShape: the samples of one line side by side, and on from row to row, as a spreadsheet or a print-out wraps them.
var runShape = shape{name: "samples that run on from row to row", fits: fitRun}

func fitRun(h *head, opt acquire.Options) (*proposal, error) {
	if h.names >= 0 || h.width() < leastRun || h.timeColumn() >= 0 || opt.Shape == "" && !runsOn(h.rowsOfNumbers()) {
		return nil, nil
	}
	only, err := h.onlyChannel(opt)
	if err != nil {
		return nil, err
	}
	q := h.begin(-1).propose(acquire.Samples)
	if q.Lines, q.Channels = (Records{RecordRow: RecordRow{Delim: h.delim, Point: h.point, Count: -1, Rate: -1, Step: -1, Channel: -1}, Header: -1, Continue: true}), only; !slices.ContainsFunc(h.columns, func(c column) bool { return !c.logic() }) {
		q.Kind = acquire.Logic
	}
	if err := h.stepOf(q, opt, "the rows hold samples side by side, which run on from row to row"); err != nil {
		return nil, err
	}
	q.say("from cell to cell and from row to row the levels change seldom, down the columns often: samples of one line, %.9g s apart", q.Step)
	return q, nil
}

// leastRun is how many samples side by side make a run: two or three columns are those of a table (common practice).
const leastRun = 4

// rowsOfNumbers are the head's whole rows; nil if one holds anything else.
func (h *head) rowsOfNumbers() [][]float64 {
	var rows [][]float64
	for i := h.first; i < h.last; i++ {
		l := &h.lines[i]
		if l.filled() < h.width() {
			continue
		}
		row := make([]float64, h.width())
		for k := range row {
			if v, ok := scan.Float(l.cells[k], h.point, 0); ok {
				row[k] = v
			} else if _, v, ok := scan.Mark(l.cells[k]); ok {
				row[k] = v
			} else {
				return nil
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// runsOn reports whether rows hold one signal that runs on from row to row, and not a signal in each column. Read along the rows it
// changes seldom, and mostly within one; down the columns it then changes far more often, or, where the rows are as long as its
// period, never.
func runsOn(rows [][]float64) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, row := range rows {
		for _, v := range row {
			if !math.IsInf(v, 0) && !math.IsNaN(v) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	within, between, down := 0, 0, 0
	differ := func(a, b float64) int {
		if middle := (low + high) / 2; (a > middle) != (b > middle) {
			return 1
		}
		return 0
	}
	for i, row := range rows {
		for k, v := range row {
			if k > 0 {
				within += differ(row[k-1], v)
			}
			if i > 0 {
				down += differ(rows[i-1][k], v)
			}
		}
		if i > 0 {
			between += differ(rows[i-1][len(row)-1], row[0])
		}
	}
	return within >= 2 && within >= between && (2*down > 3*(within+between) || down == 0 && len(rows) > 1 && len(rows[0]) >= 8)
}

// stepOf gives samples without times the interval that is stated; what: says what they are.
func (h *head) stepOf(q *proposal, opt acquire.Options, what string) error {
	q.Start, q.Step, q.Rounding = h.meta.start, h.meta.interval, h.meta.rounding
	if opt.Interval > 0 {
		q.Step, q.Rounding = opt.Interval, 0
	}
	if q.Step == 0 {
		return h.noInterval(what + ", and no sample interval is stated")
	}
	return nil
}
