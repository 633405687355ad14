package read

import (
	"fmt"
	"io"
	"math"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
)

// Stop lets what reads ahead end.
func (r *tableReader) Stop() { r.rows.stop() }

// fill makes sure that a row stands at pos; the odd lines before it are dealt with. io.EOF at the end.
func (r *tableReader) fill() error {
	for r.err == nil {
		if r.b != nil {
			for r.odd < len(r.b.odd) && r.b.odd[r.odd].Row == r.pos {
				if r.err = r.oddLine(&r.b.odd[r.odd]); r.err != nil {
					return r.err
				}
				r.passed += 1 + r.b.odd[r.odd].More
				r.odd++
			}
			r.takeEvents()
			if r.pos < r.b.n && r.foreign {
				end := r.stretch()
				r.counts.Add(acquire.SkippedLine, int64(end-r.pos), anotherTable)
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
		r.pos, r.odd, r.passed, r.event = 0, 0, 0, 0
	}
	return r.err
}

// takeEvents deals with what happened before row pos.
func (r *tableReader) takeEvents() {
	for ; r.event < len(r.b.events) && r.b.events[r.event].row == r.pos; r.event++ {
		e := r.b.events[r.event]
		r.boundary = r.boundary || e.cut
		if e.step > 0 {
			r.step = e.step
		}
		if e.lost != "" {
			r.lose(1, e.lost)
		}
		if e.skipped && r.cur != nil && !r.cur.done {
			r.cur.cap.Skipped++
		}
		if e.note != "" {
			r.note(e.note)
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

// Next reads over what is left of the record before, and begins the next one.
func (r *tableReader) Next() (*acquire.Capture, error) {
	for r.cur != nil && !r.cur.done {
		var b acquire.Block
		if err := r.read(r.cur, &b); err != nil && err != io.EOF {
			return nil, err
		}
	}
	if err := r.settleFirst(); err != nil {
		if err == io.EOF && r.records == 0 {
			if r.firstBad != nil {
				return nil, r.firstBad
			}
			return nil, &acquire.Error{File: r.p.Name, What: "no rows were found", Expect: "rows of time and level", Err: acquire.ErrEmpty}
		}
		return nil, err
	}
	r.boundary, r.worded = false, false
	r.records++
	rec := r.begin()
	r.cur = rec
	return rec.cap, nil
}

// settleFirst makes sure that the first rows of the next record are in view, none of them with a time that its
// neighbours deny.
func (r *tableReader) settleFirst() error {
	for {
		if err := r.fill(); err != nil {
			return err
		}
		r.lookAhead()
		switch {
		case r.pos >= r.stretch(): // the last line was no whole row
		case r.denied():
			r.counts.Add(acquire.SkippedLine, 1, falseTime)
			r.note(fmt.Sprintf("line %d is skipped: its time of %.9g s lies off those about it", r.line(r.pos), r.b.time[r.pos]))
			r.pos++
		default:
			return nil
		}
	}
}

// denied reports whether the row at pos, which ended the record before, has a time that can't be: the row behind it goes
// on as if it were not there.
func (r *tableReader) denied() bool {
	if r.cur == nil || !r.cur.stepped || r.stretch() < r.pos+2 {
		return false
	}
	r.b.fill()
	rec, x, y := r.cur, r.b.time[r.pos], r.b.time[r.pos+1]
	if !(y > rec.last) {
		return false
	}
	d := y - rec.last - 2*rec.grid.Step
	return x < rec.last || x > y || math.Abs(d) <= rec.grid.SlackAt(rec.last, y)
}

// begin settles, from the first rows of a record, how its times are to be read.
func (r *tableReader) begin() *record {
	p := r.p
	rec := &record{lost: map[string]int64{}, stated: p.Step, rounding: p.Rounding}
	if r.step > 0 {
		rec.stated, rec.rounding = r.step, r.rounding
	}
	c := acquire.NewCapture(acquire.Capture{Source: r.p.Name, Record: r.records, Shape: p.Shape, Kind: p.Kind, Channels: p.Channels, Rounded: roundingOf(p),
		Start: p.Start, TimeUnit: p.TimeUnit, Guess: p.Guess, Notes: append(slices.Clone(p.Notes), r.pending...), Evidence: slices.Clone(p.Evidence)}, func(b *acquire.Block) error {
		return r.read(rec, b)
	})
	r.pending = nil
	rec.cap = c
	r.b.fill()
	switch {
	case len(r.b.time) == 0:
		rec.grid = grid.Grid{Step: rec.stated}
	case p.Counting:
		rec.grid = p.Grid
		rec.first = r.b.time[r.pos]
		c.Start += rec.first * rec.stated
	case p.Kind != acquire.Transitions:
		rec.first = r.b.time[r.pos]
		c.Start = rec.first
		rec.grid = r.gridHere(rec.stated)
	default:
		rec.first = r.b.time[r.pos]
		c.Start = rec.first
	}
	c.Step = rec.grid.Step
	if p.Counting {
		c.Step = rec.stated
	}
	return rec
}

// gridHere finds the grid of a record that begins at pos: the head's, if the rows lie on it, or one of their own.
func (r *tableReader) gridHere(stated float64) grid.Grid {
	g := r.p.Grid
	if r.records == 1 && g.Step > 0 || r.p.Uneven {
		return g
	}
	t := r.b.time[r.pos:r.stretch()]
	t = t[:min(len(t), beginRows)]
	if g.Step > 0 && g.Even(t[0], t[1:]) == len(t)-1 {
		return g
	}
	own, _ := grid.Find(t, r.p.Res, stated)
	return own
}

// lookAhead makes sure that the batch shows beginRows rows from pos on, if there are as many before the next odd
// line: what is recognised must not hang on where the stream was cut into batches.
func (r *tableReader) lookAhead() {
	for r.b.n-r.pos < beginRows && r.stretch() == r.b.n && r.odd == len(r.b.odd) && !r.b.cut {
		b := r.b.rest(r.pos, r.odd, r.event)
		b.line = r.line(r.pos)
		next, err := r.rows.next()
		if err != nil { // fill meets it again behind these rows
			r.b, r.pos, r.odd, r.passed, r.event = b, 0, 0, 0, 0
			return
		}
		b.join(next)
		b.survey = r.look.survey(b)
		r.b, r.pos, r.odd, r.passed, r.event = b, 0, 0, 0, 0
		if b.cut {
			r.checkCut()
		}
	}
}

// read hands out the rows up to the batch's end, an odd line or the record's end.
func (r *tableReader) read(rec *record, out *acquire.Block) error {
	out.N, out.Time, out.Value = 0, nil, out.Value[:0]
	if rec.done || rec != r.cur {
		return io.EOF
	}
	n := 0
	for again := true; again; again = n == 0 && !r.boundary && r.skipCopy(rec) {
		if err := r.fill(); err != nil {
			if e := rec.finish(r.p, r.records == 1); e != nil && err == io.EOF {
				err, r.err = e, e
			}
			return err
		}
		if !r.boundary {
			n = r.extent(rec)
		}
	}
	if n == 0 {
		if !r.boundary {
			r.lookAhead()
			if r.err = r.thousands(rec.last); r.err != nil {
				return r.err
			}
			rec.stepped = true
			if t := r.b.time[r.pos]; !r.p.Segments || t > rec.last {
				rec.note("the record ends before line %d, where the time steps from %.9g s to %.9g s", r.line(r.pos), rec.last, t)
			}
		}
		if err := rec.finish(r.p, false); err != nil {
			r.err = err
			return err
		}
		return io.EOF
	}
	b, from, to := r.b, r.pos, r.pos+n
	out.First, out.N = rec.n, n
	if len(b.time) > 0 {
		if r.p.Kind == acquire.Logic && rec.grid.Step == 0 {
			rec.bracket(b.time[from:to], b.value[0][from:to])
		}
		rec.last = b.time[to-1]
		if rec.grid.Step == 0 {
			out.Time = b.time[from:to]
		}
	}
	if b.marked {
		rec.marks(b, from, to)
	}
	rec.level = rec.level[:0]
	for i, v := range b.value {
		v = v[from:to]
		rec.level = append(rec.level, v[n-1])
		if i == 0 {
			r.p.ToStates(v)
		}
		if r.opt.Invert {
			invert(v, r.p.OfStates(i))
		}
		out.Value = append(out.Value, v)
	}
	if !b.counted {
		r.counts.Add(acquire.RowLine, int64(n), "")
	}
	rec.n += int64(n)
	rec.cap.Rows = rec.n
	r.pos = to
	return nil
}

// skipCopy skips the row at pos where it is the one before it once more: its levels are the same and so is its time, which is printed
// finely enough to tell one row of the grid from the next.
func (r *tableReader) skipCopy(rec *record) bool {
	if r.b.fill(); len(r.b.time) == 0 || rec.grid.Step == 0 || r.b.time[r.pos] != rec.last || rec.grid.Res.At(rec.last) > rec.grid.Step/2 {
		return false
	}
	for i, v := range r.b.value {
		if i >= len(rec.level) || v[r.pos] != rec.level[i] {
			return false
		}
	}
	r.skip(1, repeatedRow)
	r.pos++
	return true
}

// thousands is the error for times whose dots part thousands, as the record shows that they do: the whole numbers before this
// row go on in its thousandths.
func (r *tableReader) thousands(last float64) error {
	unit, t := r.p.Layout.Unit().Seconds(), r.b.time[r.pos:r.stretch()]
	if r.p.Layout.TimeForm != scan.PlainTime || r.p.Res.Fixed < unit || len(t) < 3 {
		return nil
	}
	whole := true
	for i, x := range t[:3] {
		whole = whole && x == math.Round(x/unit)*unit
		if d := 1000*x - last; !(d > 0) || d > float64(i+1)*0.1*last {
			return nil
		}
		last = 1000 * x
	}
	if whole {
		return nil
	}
	return &acquire.Error{File: r.p.Name, Line: int(r.line(r.pos)), What: "the times go on in thousandths: dots group their digits", Expect: "plain digits", Do: "export without digit grouping", Err: acquire.ErrTime}
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
	if rec.grid.Step == 0 {
		b.fill()
		n := len(t)
		if t[0] < last {
			return 0
		}
		if !b.survey.rising {
			n = grid.Rising(t)
		}
		if p.Tick > 0 {
			rec.kinds = grid.Differences(rec.kinds, t[:n], p.Tick)
			if rec.n > 0 {
				rec.common = grid.CommonStep([]float64{last, t[0]}, rec.common, p.Tick)
			}
			if b.survey.rising && from == 0 && to == b.n {
				rec.common = grid.GCD(rec.common, b.survey.common)
			} else {
				rec.common = grid.CommonStep(t[:n], rec.common, p.Tick)
			}
		}
		return n
	}
	n := len(t)
	if rec.n > 0 && rec.grid.Even(last, t[:1]) == 0 {
		b.fill()
		closed, ok := rec.grid.Closed(append([]float64{last}, t[:min(len(t), beginRows)]...))
		if !ok {
			return 0
		}
		rec.grid = closed
	}
	if !(b.survey.even && rec.grid == p.Grid) {
		b.fill()
		n = 1 + rec.grid.Even(t[0], t[1:])
	}
	if g := rec.grid; !g.ExactAt(t[0]) || !g.ExactAt(t[n-1]) {
		b.fill()
		for i, x := range t[:n] {
			if !g.ExactAt(x) { // an exact time is its own grid point
				rec.inexact++
				k := float64(rec.n + int64(i))
				r := x - rec.first - k*g.Step
				rec.sum += r
				rec.isum += k * r
			}
		}
	}
	return n
}

// invert swaps high and low: states become their opposite, levels change sign.
func invert(v []float64, states bool) {
	for i := range v {
		if states {
			v[i] = 1 - v[i]
		} else {
			v[i] = -v[i]
		}
	}
}
