package read

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// record is the one being handed out.
type record struct {
	cap      *acquire.Capture
	grid     grid.Grid
	stated   float64 // s, the interval that the file or the user states; 0: none
	rounding float64 // its standard uncertainty, relative
	done     bool

	n           int64
	first, last float64   // s
	level       []float64 // of the last row handed out, before any is turned over
	sum, isum   float64   // of r(i) = t(i) - first - i step, and of i r(i)
	inexact     int64     // rows whose printed time is rounded
	common      int64     // ticks
	kinds       []int64   // ticks, of the first different steps
	lost        map[string]int64
	stepped     bool  // it ended where the time steps off
	clipped     int64 // levels marked as beyond the range
	unknown     int64 // cells that can be no level
	gaps        int64 // state changes, of rows at times of their own
	square      float64
	state       float64 // of the last row
}

func (rec *record) note(format string, a ...any) {
	rec.cap.Notes = append(rec.cap.Notes, fmt.Sprintf(format, a...))
}

// marks counts the levels from row to row that are marks and no levels.
func (rec *record) marks(b *batch, from, to int) {
	for _, v := range b.value {
		for _, x := range v[from:to] {
			switch {
			case math.IsInf(x, 0):
				rec.clipped++
			case scan.IsNoLevel(x):
				rec.unknown++
			}
		}
	}
}

// bracket sums up how far apart the rows about each change of the first channel's state lie.
func (rec *record) bracket(t, v []float64) {
	last := rec.last
	for i, x := range v {
		if rec.n+int64(i) > 0 && x != rec.state && x == x && rec.state == rec.state {
			rec.gaps++
			rec.square += (t[i] - last) * (t[i] - last)
		}
		last, rec.state = t[i], x
	}
}

// finish settles what is only known at the record's end; alone says that it is the file's only record.
func (rec *record) finish(p *recognise.Plan, alone bool) error {
	if rec.done {
		return nil
	}
	rec.done = true
	for _, reason := range slices.Sorted(maps.Keys(rec.lost)) {
		rec.note("lines skipped, %s: %d", reason, rec.lost[reason])
	}
	c := rec.cap
	if rec.clipped > 0 {
		rec.note("%d levels are marked as beyond the range: clipped at a rail", rec.clipped)
	}
	if rec.unknown > 0 {
		rec.note("%d cells hold what is no level: unknown", rec.unknown)
	}
	n := float64(rec.n)
	if l := p.Length; l > 0 && alone && (rec.n < l-2 || rec.n > l+2) {
		rec.note("the preamble states %d rows, the file holds %d", l, rec.n)
	}
	if p.HasTime() && rec.n > 1 && rec.grid.Step == 0 && rec.first == rec.last {
		return alike(c)
	}
	switch {
	case p.Counting || rec.grid.Step > 0 && !p.HasTime():
		c.StepRelative = rec.rounding
	case rec.grid.Step > 0 && rec.n > 1:
		return rec.finishGrid(p, n)
	case p.Kind == acquire.Transitions && p.Step > 0:
		c.Step = p.Step
	case p.Kind == acquire.Transitions:
		c.Step = float64(grid.Shown(rec.common, len(rec.kinds))) / math.Round(1/p.Tick)
		c.TimeResolution = max(p.Res.At(rec.first), p.Res.At(rec.last))
	case rec.n > 1:
		c.Step = (rec.last - rec.first) / (n - 1)
		if rec.gaps > 0 { // an edge is known to the gap that brackets it
			c.Step = math.Sqrt(rec.square / float64(rec.gaps))
		}
		c.TimeResolution = max(p.Res.At(rec.first), p.Res.At(rec.last))
	}
	return nil
}

// finishGrid finds the interval and the start of an even grid from the whole record.
func (rec *record) finishGrid(p *recognise.Plan, n float64) error {
	c := rec.cap
	span := rec.last - rec.first
	unit := max(rec.grid.Res.At(rec.first), rec.grid.Res.At(rec.last))
	// Each end is rounded to half a unit each way: two rectangular terms (JCGM 100 4.3.7).
	step, relative, mean := span/(n-1), unit/math.Sqrt(6)/span, math.NaN()
	if rec.n > 2 && rec.inexact*coarseShare > rec.n && (rec.grid.Coarse(rec.first) || rec.grid.Coarse(rec.last)) {
		mid, spread := (n-1)/2, n*(n*n-1)/12
		slope := (rec.isum - mid*rec.sum) / spread
		step = rec.grid.Step + slope
		mean = rec.first + rec.grid.Step*mid + rec.sum/n
		relative = regressionUncertainty(unit, step, n, rec.grid.Res.Fixed > 0)
		c.TimeResolution = unit
		c.Regressed = rec.stated == 0
		how := fmt.Sprintf("an interval of %.9g s was recovered by regression over %d rows, good to %.2g of itself", step, rec.n, relative)
		if rec.stated > 0 {
			how = fmt.Sprintf("the stated interval of %.9g s is used", rec.stated)
		}
		rec.note("the time column is rounded to %.3g s, coarse against its steps: %s", unit, how)
	}
	c.Step, c.StepRelative = step, relative
	if rec.stated > 0 {
		scale := p.Agreeing(rec.stated, span, n-1, unit)
		if scale == 0 {
			return p.Contradiction(rec.stated, step)
		}
		c.Guess = ""
		if scale != 1 {
			mean *= scale
			c.Start *= scale
			c.TimeResolution *= scale
			rec.note("the time column is in units of %.0e of those assumed: only so does it agree with the stated interval (line %d)", scale, p.IntervalLine)
		}
		c.Step, c.StepRelative = rec.stated, min(relative, rec.rounding)
	} else if exact, ok := rec.round(unit, span, n); ok {
		c.Step, c.StepRelative = exact, 0
	}
	if mean == mean {
		c.Start = mean - c.Step*(n-1)/2
	}
	if !(c.Step > 0) {
		return alike(c)
	}
	return nil
}

// coarseShare: a record is coarse if more than one row in so many is rounded; the odd row with a longer exponent does
// not make it so.
const coarseShare = 1000

// round gives the interval of a column whose steps all are the same round number of printed units, from the first
// to the last row: it is what the instrument was set to, and taken as exact.
func (rec *record) round(unit, span, n float64) (float64, bool) {
	if !rec.grid.ExactAt(rec.first) || !rec.grid.ExactAt(rec.last) || unit == 0 || rec.grid.Res.Single {
		return 0, false
	}
	units := math.Round(rec.grid.Step / unit)
	power := int(math.Round(math.Log10(unit)))
	d := scan.Decimal{Mantissa: uint64(units), Digits: len(fmt.Sprint(uint64(units))), Exp: power, Exact: true}
	if units < 1 || units > 1e15 || d.Significant() > recognise.RoundDigits || math.Abs(span-units*unit*(n-1)) > 0.01*unit {
		return 0, false
	}
	return d.Float(fmt.Appendf(nil, "%.0fe%d", units, power), '.', 0), true
}

// regressionUncertainty is the relative standard uncertainty of a step found by least squares from n times that are
// rounded to a unit. Three terms: the rounding taken as white and rectangular; the sawtooth that it really is, cut
// short at the record's ends; and, where the unit grows with the time, a mean error that differs from one stretch
// to the next by up to a step (rectangular; a jump at mid-record tilts the line by 1.5 of itself over n).
func regressionUncertainty(unit, step, n float64, fixed bool) float64 {
	white := unit / math.Sqrt(n*(n*n-1)) / step
	cut := math.Pow(unit/(step*n), 2)
	jump := 0.0
	if !fixed {
		jump = 1.5 / math.Sqrt(12) / n
	}
	return math.Sqrt(white*white + cut*cut + jump*jump)
}

// tableReader cuts rows into records and hands them out.
type tableReader struct {
	opt    acquire.Options
	counts *acquire.Counts
	look   surveyor
	p      *recognise.Plan
	rows   batchSource

	b        *batch
	pos      int      // next row of b
	odd      int      // next odd line of b
	passed   int      // odd lines of b before it
	event    int      // next event of b
	boundary bool     // an odd line has ended the record
	worded   bool     // words ended the last record, and no row has followed
	foreign  bool     // inside another table, which is none of ours
	pending  []string // notes for the next record
	step     float64  // s, the interval stated for the next records, where it differs from the plan's; 0: it does not
	rounding float64  // its standard uncertainty, relative
	bad      int64
	firstBad *acquire.Error

	records int
	cur     *record
	err     error
}

// line is the number of the line at row i of the batch, the odd lines up to now counted.
func (r *tableReader) line(i int) int64 { return r.b.line + int64(i+r.passed) }

// note tells the user something about the record being read, or else about the next.
func (r *tableReader) note(text string) {
	if r.cur == nil || r.cur.done {
		r.pending = append(r.pending, text)
		return
	}
	r.cur.note("%s", text)
}

// skip counts lines that are skipped.
func (r *tableReader) skip(n int64, reason string) {
	r.counts.Add(acquire.SkippedLine, n, reason)
	r.lose(n, reason)
}

// lose notes lines that are skipped within the record being read.
func (r *tableReader) lose(n int64, reason string) {
	if r.cur != nil && !r.cur.done {
		r.cur.cap.Skipped += n
		r.cur.lost[reason] += n
	}
}

// beginRows is how many rows at a record's start tell its grid.
const beginRows = 64
