package acquire

import (
	"bytes"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"

	"offbeat/acquire/internal/scan"
)

// tableReader cuts rows into records and hands them out.
type tableReader struct {
	s    *Source
	p    *plan
	rows batchSource

	b        *batch
	pos      int      // next row of b
	odd      int      // next odd line of b
	event    int      // next event of b
	boundary bool     // an odd line has ended the record
	foreign  bool     // inside another table, which is none of ours
	pending  []string // notes for the next record
	step     float64  // s, of the next record, where each has its own
	bad      int64
	firstBad *Error

	records int
	cur     *record
	err     error
}

// record is the one being handed out.
type record struct {
	cap  *Capture
	grid grid
	done bool

	n           int64
	first, last float64 // s
	sum, isum   float64 // of r(i) = t(i) - first - i step, and of i r(i)
	common      int64   // ticks
	lost        map[string]int64
}

// openTable is how most shapes are read.
func openTable(s *Source) recordReader {
	p := s.plan
	lines := splitLines(s.text.head, s.text.whole)
	from := 0
	for i := range p.first {
		from += len(lines[i]) + 1
		s.counts.add(p.classes[i], 1, "")
	}
	from = min(from, len(s.text.head))
	r := &tableReader{s: s, p: p}
	r.rows = newRowStream(s, from, int64(p.first)+1)
	return r
}

func (r *tableReader) stop() { r.rows.stop() }

// line is the number of the line at row i of the batch, the odd lines up to now counted.
func (r *tableReader) line(i int) int64 { return r.b.line + int64(i+r.odd) }

// fill makes sure that a row stands at pos; the odd lines before it are dealt with. io.EOF at the end.
func (r *tableReader) fill() error {
	for r.err == nil {
		if r.b != nil {
			for r.odd < len(r.b.odd) && r.b.odd[r.odd].Row == r.pos {
				if r.err = r.oddLine(&r.b.odd[r.odd]); r.err != nil {
					return r.err
				}
				r.odd++
			}
			r.takeEvents()
			if r.pos < r.b.n && r.foreign {
				end := r.stretch()
				r.s.counts.add(skippedLine, int64(end-r.pos), anotherTable)
				r.pos = end
				continue
			}
			if r.pos < r.b.n {
				return nil
			}
		}
		if r.b, r.err = r.rows.next(); r.err == nil && r.b.cut {
			r.checkCut()
		}
		r.pos, r.odd, r.event = 0, 0, 0
	}
	return r.err
}

// checkCut looks at a last line that has no line end but reads as a row: if its last number has not the form that
// all others have, it was cut, and is no row.
func (r *tableReader) checkCut() {
	b := r.b
	if b.n == 0 || len(b.odd) > 0 && b.odd[len(b.odd)-1].Row == b.n || r.p.tail == (numberForm{}) {
		return
	}
	end := len(b.text) - 1
	start := bytes.LastIndexByte(b.text[:end], '\n') + 1
	if form, cell := tailForm(b.text[start:end], r.p.layout.Delim); form != r.p.tail {
		b.n--
		b.odd = append(b.odd, scan.Odd{Row: b.n, Start: start, End: end, Fault: scan.BadLevel, Cell: cell})
	}
}

// takeEvents deals with what happened before row pos.
func (r *tableReader) takeEvents() {
	for ; r.event < len(r.b.events) && r.b.events[r.event].row == r.pos; r.event++ {
		e := r.b.events[r.event]
		r.boundary = r.boundary || e.cut
		if e.step > 0 {
			r.step = e.step
		}
		if e.skipped && r.cur != nil && !r.cur.done {
			r.cur.cap.Skipped++
		}
		switch {
		case e.note == "":
		case r.cur == nil || r.cur.done:
			r.pending = append(r.pending, e.note)
		default:
			r.cur.note("%s", e.note)
		}
	}
}

// stretch is the place of the next odd line or event, or the batch's end.
func (r *tableReader) stretch() int {
	end := r.b.n
	if r.odd < len(r.b.odd) {
		end = r.b.odd[r.odd].Row
	}
	if r.event < len(r.b.events) {
		end = min(end, r.b.events[r.event].row)
	}
	return end
}

// next reads over what is left of the record before, and begins the next one.
func (r *tableReader) next() (*Capture, error) {
	for r.cur != nil && !r.cur.done {
		var b Block
		if err := r.read(r.cur, &b); err != nil && err != io.EOF {
			return nil, err
		}
	}
	if err := r.fill(); err != nil {
		if err == io.EOF && r.records == 0 {
			if r.firstBad != nil {
				return nil, r.firstBad
			}
			return nil, &Error{File: r.s.name, What: "no rows were found", Expect: "rows of time and level", Err: ErrEmpty}
		}
		return nil, err
	}
	r.boundary = false
	if err := r.lookAhead(); err != nil {
		return nil, err
	}
	r.records++
	rec := r.begin()
	r.cur = rec
	rec.cap.read = func(b *Block) error { return r.read(rec, b) }
	return rec.cap, nil
}

// begin settles, from the first rows of a record, how its times are to be read.
func (r *tableReader) begin() *record {
	p := r.p
	rec := &record{lost: map[string]int64{}}
	c := &Capture{Source: r.s.name, Record: r.records, Shape: p.shape, Kind: p.kind, Channels: p.channels,
		Start: p.start, Notes: append(slices.Clone(p.notes), r.pending...), Evidence: slices.Clone(p.evidence)}
	r.pending = nil
	rec.cap = c
	switch {
	case len(r.b.time) == 0:
		rec.grid = grid{step: p.step}
		if r.step > 0 {
			rec.grid.step = r.step
		}
	case p.counting:
		rec.grid = p.surveyor.grid
		rec.first = r.b.time[r.pos]
		c.Start += rec.first * p.step
	case p.kind != Transitions:
		rec.first = r.b.time[r.pos]
		c.Start = rec.first
		rec.grid = r.gridHere()
	default:
		rec.first = r.b.time[r.pos]
		c.Start = rec.first
	}
	c.Step = rec.grid.step
	if p.counting {
		c.Step = p.step
	}
	return rec
}

// beginRows is how many rows at a record's start tell its grid.
const beginRows = 64

// gridHere finds the grid of a record that begins at pos: the head's, if the rows lie on it, or one of their own.
func (r *tableReader) gridHere() grid {
	g := r.p.surveyor.grid
	if r.records == 1 && g.step > 0 {
		return g
	}
	t := r.b.time[r.pos:r.stretch()]
	t = t[:min(len(t), beginRows)]
	if g.step > 0 && g.even(t[0], t[1:]) == len(t)-1 {
		return g
	}
	own, _ := evenGrid(t, r.p.res, r.p.step)
	return own
}

// lookAhead makes sure that the batch shows beginRows rows from pos on, if there are as many before the next odd
// line: what is recognised must not hang on where the stream was cut into batches.
func (r *tableReader) lookAhead() error {
	for r.b.n-r.pos < beginRows && r.stretch() == r.b.n && !r.b.cut {
		b := r.b.rest(r.pos, r.odd, r.event)
		b.line = r.line(r.pos)
		next, err := r.rows.next()
		if err != nil {
			r.err = err
			if err == io.EOF {
				r.err = nil
			}
			r.b, r.pos, r.odd, r.event = b, 0, 0, 0
			return r.err
		}
		b.join(next)
		b.survey = r.p.surveyor.survey(b.time)
		r.b, r.pos, r.odd, r.event = b, 0, 0, 0
		if b.cut {
			r.checkCut()
		}
	}
	return nil
}

// read hands out the rows up to the batch's end, an odd line or the record's end.
func (r *tableReader) read(rec *record, out *Block) error {
	out.N, out.Time, out.Value = 0, nil, out.Value[:0]
	if rec.done || rec != r.cur {
		return io.EOF
	}
	if err := r.fill(); err != nil {
		if e := rec.finish(r.p); e != nil && err == io.EOF {
			err, r.err = e, e
		}
		return err
	}
	n := 0
	if !r.boundary {
		n = r.extent(rec)
	}
	if n == 0 {
		if !r.boundary {
			rec.note("the record ends before line %d, where the time steps from %.9g s to %.9g s", r.line(r.pos), rec.last, r.b.time[r.pos])
		}
		if err := rec.finish(r.p); err != nil {
			r.err = err
			return err
		}
		return io.EOF
	}
	b, from, to := r.b, r.pos, r.pos+n
	out.First, out.N = rec.n, n
	if len(b.time) > 0 {
		rec.last = b.time[to-1]
		if rec.grid.step == 0 {
			out.Time = b.time[from:to]
		}
	}
	for _, v := range b.value {
		v = v[from:to]
		if r.s.opt.Invert {
			invert(v, r.p.kind)
		}
		out.Value = append(out.Value, v)
	}
	if !b.counted {
		r.s.counts.add(rowLine, int64(n), "")
	}
	rec.n += int64(n)
	rec.cap.Rows = rec.n
	r.pos = to
	return nil
}

// extent counts the rows from pos on that go on with the record, and sums up their times.
func (r *tableReader) extent(rec *record) int {
	b, p := r.b, r.p
	from, to := r.pos, r.stretch()
	if len(b.time) == 0 {
		return to - from
	}
	t := b.time[from:to]
	last := rec.last
	if rec.n == 0 {
		last = math.Inf(-1)
	}
	if rec.grid.step == 0 {
		n := len(t)
		if t[0] < last {
			return 0
		}
		if !b.survey.rising {
			n = rising(t)
		}
		if p.surveyor.tick > 0 {
			if rec.n > 0 {
				rec.common = commonStep([]float64{last, t[0]}, rec.common, p.surveyor.tick)
			}
			if b.survey.rising && from == 0 && to == b.n {
				rec.common = gcd(rec.common, b.survey.common)
			} else {
				rec.common = commonStep(t[:n], rec.common, p.surveyor.tick)
			}
		}
		return n
	}
	n := len(t)
	if rec.n > 0 && rec.grid.even(last, t[:1]) == 0 {
		return 0
	}
	if !(b.survey.even && rec.grid == p.surveyor.grid) {
		n = 1 + rec.grid.even(t[0], t[1:])
	}
	if g := rec.grid; !g.exactAt(t[0]) || !g.exactAt(t[n-1]) {
		for i, x := range t[:n] {
			if !g.exactAt(x) { // an exact time is its own grid point
				k := float64(rec.n + int64(i))
				r := x - rec.first - k*g.step
				rec.sum += r
				rec.isum += k * r
			}
		}
	}
	return n
}

// rising counts the times before the first fall.
func rising(t []float64) int {
	for i := 1; i < len(t); i++ {
		if t[i] < t[i-1] {
			return i
		}
	}
	return len(t)
}

func (rec *record) note(format string, a ...any) {
	rec.cap.Notes = append(rec.cap.Notes, fmt.Sprintf(format, a...))
}

// finish settles what is only known at the record's end.
func (rec *record) finish(p *plan) error {
	if rec.done {
		return nil
	}
	rec.done = true
	for _, reason := range slices.Sorted(maps.Keys(rec.lost)) {
		rec.note("%d lines skipped: %s", rec.lost[reason], reason)
	}
	c := rec.cap
	n := float64(rec.n)
	if p.hasTime() && rec.n > 1 && rec.grid.step == 0 && rec.first == rec.last {
		return alike(c)
	}
	switch {
	case p.counting:
		c.Step, c.StepRelative = p.step, p.stepRelative
	case rec.grid.step > 0 && !p.hasTime():
		c.StepRelative = p.stepRelative
	case rec.grid.step > 0 && rec.n > 1:
		return rec.finishGrid(p, n)
	case p.kind == Transitions && p.step > 0:
		c.Step = p.step
	case p.kind == Transitions:
		c.Step = float64(rec.common) * p.surveyor.tick
		c.TimeResolution = max(p.res.at(rec.first), p.res.at(rec.last))
	case rec.n > 1:
		c.Step = (rec.last - rec.first) / (n - 1)
		c.TimeResolution = max(p.res.at(rec.first), p.res.at(rec.last))
	}
	return nil
}

// finishGrid finds the interval and the start of an even grid from the whole record.
func (rec *record) finishGrid(p *plan, n float64) error {
	c := rec.cap
	span := rec.last - rec.first
	unit := max(rec.grid.res.at(rec.first), rec.grid.res.at(rec.last))
	// Each end is rounded to half a unit each way: two rectangular terms (JCGM 100 4.3.7).
	step, relative, mean := span/(n-1), unit/math.Sqrt(6)/span, nan
	if rec.n > 2 && (rec.grid.coarse(rec.first) || rec.grid.coarse(rec.last)) {
		mid, spread := (n-1)/2, n*(n*n-1)/12
		slope := (rec.isum - mid*rec.sum) / spread
		step = rec.grid.step + slope
		mean = rec.first + rec.grid.step*mid + rec.sum/n
		relative = regressionUncertainty(unit, step, n, rec.grid.res.fixed > 0)
		c.TimeResolution = unit
		how := fmt.Sprintf("an interval of %.9g s was recovered by regression over %d rows, good to %.2g of itself", step, rec.n, relative)
		if p.step > 0 {
			how = fmt.Sprintf("the stated interval of %.9g s is used", p.step)
		}
		rec.note("the time column is rounded to %.3g s, coarse against its steps: %s", unit, how)
	}
	c.Step, c.StepRelative = step, relative
	if p.step > 0 {
		scale := p.agreeing(span, n-1, unit)
		if scale == 0 {
			return p.contradiction(step)
		}
		if scale != 1 {
			mean *= scale
			c.Start *= scale
			c.TimeResolution *= scale
			rec.note("the time column is in units of %.0e of those assumed: only so does it agree with the stated interval (line %d)", scale, p.meta.line)
		}
		c.Step = p.step
		if math.IsInf(relative, 0) || span == 0 {
			c.StepRelative = 0 // the column can't tell; the stated interval is taken as exact
		}
	}
	if mean == mean {
		c.Start = mean - c.Step*(n-1)/2
	}
	if !(c.Step > 0) {
		return alike(c)
	}
	return nil
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

// alike is the error for a record whose times all print alike.
func alike(c *Capture) error {
	return &Error{File: c.Source, What: fmt.Sprintf("all %d times of the record are printed alike", c.Rows), Expect: "times that rise", Do: "export with more digits, or give --interval", Err: ErrTime}
}

// invert swaps high and low: states become their opposite, levels change sign.
func invert(v []float64, kind Kind) {
	for i := range v {
		if kind == Samples {
			v[i] = -v[i]
		} else {
			v[i] = 1 - v[i]
		}
	}
}

// Reasons why a line is skipped.
const (
	anotherTable = "part of another table"
	looseText    = "text among the rows"
	badRow       = "malformed row"
	cutRow       = "cut in mid-row"
)

// oddLine deals with a line that is no row: it is counted once, and may end the record.
func (r *tableReader) oddLine(o *scan.Odd) error {
	line := r.b.text[o.Start:o.End]
	trimmed := bytes.TrimSpace(line)
	num := r.line(o.Row)
	last := r.b.cut && o.End >= len(r.b.text)-1
	count := func(class lineClass, reason string) {
		r.s.counts.add(class, 1, reason)
		if class == skippedLine && r.cur != nil && !r.cur.done {
			r.cur.lost[reason]++
			r.cur.cap.Skipped++
		}
	}
	switch {
	case len(trimmed) == 0 || len(bytes.Trim(trimmed, ",; \t")) == 0:
		count(blankLine, "")
	case r.p.isHeader(trimmed):
		count(headerLine, "")
		r.boundary, r.foreign = true, false
	case isComment(trimmed, r.p.layout.Delim):
		count(preambleLine, "")
	case r.p.isPreamble(trimmed):
		count(preambleLine, "")
		r.boundary, r.foreign = true, false
	case r.foreign:
		count(skippedLine, anotherTable)
	case last:
		count(skippedLine, cutRow)
		return cutError(r.s.name, num, scan.Column(line, r.p.layout.Delim, o.Cell))
	case r.isText(line):
		r.boundary = true
		cells := scan.Split(nil, line, r.p.layout.Delim)
		r.foreign = len(cells) > 1 && len(cells[1]) > 0
		count(skippedLine, map[bool]string{true: anotherTable, false: looseText}[r.foreign])
	default:
		r.boundary = true
		count(skippedLine, badRow)
		return r.malformed(o, line, num)
	}
	return nil
}

// cutError is the error for a last line that is no whole row and has no line end.
func cutError(name string, num int64, column int) *Error {
	return &Error{File: name, Line: int(num), Column: column, What: "the last line is cut in mid-row", Expect: "whole rows",
		Do: "copy or export the file again; without its last line it can be read", Err: ErrTruncated}
}

// maxBad is how many bad rows may be slips however short the file is; of a longer one, one row in a hundred.
const maxBad = 3

// malformed lets a few bad rows pass, and fails when they are too many to be slips.
func (r *tableReader) malformed(o *scan.Odd, line []byte, num int64) error {
	cells := scan.Split(nil, line, r.p.layout.Delim)
	e := &Error{File: r.s.name, Line: int(num), Column: scan.Column(line, r.p.layout.Delim, o.Cell), Err: ErrSyntax}
	switch o.Fault {
	case scan.Few:
		e.What, e.Expect, e.Column = fmt.Sprintf("the row has %d cells", len(cells)), fmt.Sprintf("%d", r.p.layout.Cells), 0
	case scan.Many:
		e.What, e.Expect = fmt.Sprintf("the row has %d cells", len(cells)), fmt.Sprintf("%d", r.p.layout.Cells)
	case scan.BadTime:
		e.What, e.Expect = fmt.Sprintf("%q is no time", clip(cells[o.Cell])), "a number"
	default:
		e.What, e.Expect = fmt.Sprintf("%q is no level", clip(cells[o.Cell])), "a number, 0 or 1, or a mark such as X or NaN"
	}
	if r.firstBad == nil {
		r.firstBad = e
	}
	if r.cur != nil && !r.cur.done {
		r.cur.note("line %d is skipped: %s", num, e.What)
	}
	if r.bad++; r.bad > maxBad && r.bad*100 > r.s.counts.Rows {
		e = r.firstBad
		e.Do = fmt.Sprintf("mend or delete the line; it is the first of %d such lines", r.bad)
		return e
	}
	return nil
}

// clip shortens a cell for a message.
func clip(b []byte) string {
	if len(b) > 40 {
		return string(b[:40]) + "…"
	}
	return string(b)
}

// isText: no cell but text and empty ones.
func (r *tableReader) isText(line []byte) bool {
	for _, c := range scan.Split(nil, line, r.p.layout.Delim) {
		if k := scan.Classify(c); k != scan.Text && k != scan.Empty {
			return false
		}
	}
	return true
}

func isComment(line []byte, delim byte) bool {
	return len(line) > 0 && (line[0] == '#' || line[0] == '%' || line[0] == ';' && delim != ';' || bytes.HasPrefix(line, []byte("//")))
}

// agreeing finds the factor, 1 if it can, by which a span of n steps, known to bound, agrees with the stated
// interval; 0: none. Only a unit that was a guess, or the preamble's word, may give way.
func (p *plan) agreeing(span, n, bound float64) float64 {
	scales := []float64{1}
	if p.weakUnit {
		scales = append(scales, scan.Pow10(-p.layout.TimeShift), 1e-3, 1e3, 1e-6, 1e6, 1e-9, 1e9)
	}
	for _, k := range scales {
		if math.Abs(p.step*n-span*k) <= 1.01*bound*k+0.01*p.step {
			return k
		}
	}
	return 0
}
