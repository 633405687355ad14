package acquire

import (
	"bytes"
	"fmt"
	"io"
	"math"
)

// tableReader cuts the rows of a table into records and hands them out.
type tableReader struct {
	s      *Source
	p      *plan
	rows   *rowParser
	b      *batch
	pos    int // next row of b
	odd    int // next odd line of b
	record int
	cur    *record
	err    error
}

// record is the one being handed out.
type record struct {
	cap    *Capture
	grid   bool
	done   bool
	n      int64
	t0     float64
	last   float64
	step   float64 // as estimated at the record's start
	slack  float64 // s, how far a step may lie from step
	unit   float64 // s, coarsest unit of a printed time
	sum    float64 // of residuals r(i) = t(i) - t0 - i step
	isum   float64 // of i r(i)
	common int64   // greatest common step so far, in units of 1e-12 s
	block  []float64
}

func openTable(s *Source) recordReader {
	r := &tableReader{s: s, p: s.plan}
	lines := splitLines(s.text.head, s.text.whole)
	skip := 0
	for i := range s.plan.first {
		skip += len(lines[i]) + 1
		s.counts.add(s.plan.classes[i], 1, "")
	}
	r.rows = &rowParser{name: s.name, p: s.plan, in: s.text.r, buf: s.text.head[skip:], eof: s.text.whole, line: int64(s.plan.first)}
	return r
}

func (r *tableReader) stop() {}

// fill makes sure that a row stands at pos; odd lines before it are dealt with. io.EOF at the end.
func (r *tableReader) fill() error {
	for r.err == nil {
		if r.b != nil {
			for r.odd < len(r.b.odd) && r.b.odd[r.odd].row == r.pos {
				o := &r.b.odd[r.odd]
				r.odd++
				if err := r.oddLine(o); err != nil {
					r.err = err
					return err
				}
			}
			if r.pos < r.b.rows {
				return nil
			}
		}
		r.b, r.err = r.rows.next()
		r.pos, r.odd = 0, 0
	}
	return r.err
}

// oddLine counts a line that is no row.
func (r *tableReader) oddLine(o *oddLine) error {
	switch {
	case len(bytes.TrimSpace(o.text)) == 0:
		r.s.counts.add(blankLine, 1, "")
	case o.cut:
		r.skip("cut in mid-row at the end of the file")
	case bytes.HasPrefix(bytes.TrimSpace(o.text), []byte("#")):
		r.s.counts.add(preambleLine, 1, "")
	default:
		return o.err
	}
	return nil
}

func (r *tableReader) skip(reason string) {
	r.s.counts.add(skippedLine, 1, reason)
	if r.cur != nil {
		r.cur.cap.Skipped++
		r.cur.cap.Notes = append(r.cur.cap.Notes, "one line skipped: "+reason)
	}
}

func (r *tableReader) next() (*Capture, error) {
	for r.cur != nil && !r.cur.done {
		var b Block
		if err := r.read(&b); err != nil && err != io.EOF {
			return nil, err
		}
	}
	if err := r.fill(); err != nil {
		if err == io.EOF && r.record == 0 {
			return nil, &Error{File: r.s.name, What: "no rows were found", Err: ErrEmpty}
		}
		return nil, err
	}
	r.record++
	r.cur = r.begin()
	rec := r.cur
	rec.cap.read = func(b *Block) error {
		if rec.done || rec != r.cur {
			return io.EOF
		}
		return r.read(b)
	}
	return rec.cap, nil
}

// begin settles how the times of a new record are to be read, from its first rows.
func (r *tableReader) begin() *record {
	p, b := r.p, r.b
	end := b.rows
	if r.odd < len(b.odd) {
		end = b.odd[r.odd].row
	}
	t := b.time[r.pos:end]
	rec := &record{t0: t[0], last: t[0]}
	rec.cap = &Capture{Source: r.s.name, Record: r.record, Shape: p.shape, Kind: p.kind, Channels: p.channels,
		Notes: append([]string{}, p.notes...), Evidence: append([]string{}, p.evidence...)}
	if p.counting {
		rec.grid, rec.step, rec.slack = true, 1, 0
	} else if p.kind != Transitions {
		rec.grid, rec.step, rec.slack = evenGrid(t, b.unit[r.pos:end], p.step)
	}
	rec.cap.Start = t[0]
	if p.counting {
		rec.cap.Start = p.start + t[0]*p.step
		rec.cap.Step = p.step
	} else if rec.grid {
		rec.cap.Step = rec.step
	}
	return rec
}

// float32Noise is the relative rounding of a time that was kept in single precision.
const float32Noise = 1.0 / (1 << 24)

// evenGrid tells whether times lie on an even grid as closely as their printed digits allow.
func evenGrid(t, unit []float64, stated float64) (even bool, step, slack float64) {
	n := len(t)
	if n < 3 {
		if stated > 0 {
			return true, stated, stated / 4
		}
		return false, 0, 0
	}
	end := n
	for i := 1; i < n; i++ { // a record that is cut early shows its grid before the cut
		if t[i] < t[i-1] {
			end = i
			break
		}
	}
	t, unit = t[:end], unit[:end]
	n = end
	if n < 3 {
		return false, 0, 0
	}
	step = (t[n-1] - t[0]) / float64(n-1)
	// The median of long strides is deaf to a gap.
	worst, coarse := 0.0, 0.0
	for i := range t {
		coarse = max(coarse, unit[i], math.Abs(t[i])*float32Noise)
	}
	if med := medianStep(t); math.Abs(med-step) > coarse+0.01*step && med > 0 {
		step = med
	}
	slack = coarse*1.01 + 0.01*step
	for i := 1; i < n; i++ {
		worst = max(worst, math.Abs(t[i]-t[i-1]-step))
		if worst > slack {
			return i > 64 || i > n/2, step, slack
		}
	}
	return step > 0, step, slack
}

func medianStep(t []float64) float64 {
	d := make([]float64, 0, len(t)-1)
	for i := 1; i < len(t); i++ {
		d = append(d, t[i]-t[i-1])
	}
	// insertion into order is enough for a short head
	for i := 1; i < len(d); i++ {
		for k := i; k > 0 && d[k] < d[k-1]; k-- {
			d[k], d[k-1] = d[k-1], d[k]
		}
	}
	return d[len(d)/2]
}

// read hands out the rows up to the batch's end, an odd line or the record's end.
func (r *tableReader) read(out *Block) error {
	rec := r.cur
	out.N, out.Time = 0, nil
	if rec.done {
		return io.EOF
	}
	if err := r.fill(); err != nil {
		rec.finish(r.p)
		return err
	}
	b := r.b
	end := b.rows
	if r.odd < len(b.odd) {
		end = b.odd[r.odd].row
	}
	i := r.pos
	for ; i < end; i++ {
		t := b.time[i]
		if rec.n > 0 || i > r.pos {
			k := rec.n + int64(i-r.pos)
			d := t - rec.last
			if d < 0 {
				break
			}
			if rec.grid {
				if math.Abs(d-rec.step) > rec.slack {
					break
				}
				res := t - rec.t0 - float64(k)*rec.step
				rec.sum += res
				rec.isum += float64(k) * res
			} else if r.p.kind == Transitions {
				rec.common = gcd(rec.common, int64(math.Round(d*1e12)))
			}
		}
		rec.unit = max(rec.unit, b.unit[i])
		rec.last = t
	}
	if i == r.pos {
		rec.finish(r.p)
		line := b.line[i]
		rec.cap.Notes = append(rec.cap.Notes, fmt.Sprintf("the record ends before line %d, where the time does not go on evenly", line))
		return io.EOF
	}
	n := i - r.pos
	out.First, out.N = rec.n, n
	if !rec.grid {
		out.Time = b.time[r.pos:i]
	}
	out.Value = out.Value[:0]
	for _, v := range b.value {
		out.Value = append(out.Value, v[r.pos:i])
	}
	if r.s.opt.Invert {
		for _, v := range out.Value {
			invert(v, r.p.kind)
		}
	}
	r.s.counts.add(rowLine, int64(n), "")
	rec.n += int64(n)
	rec.cap.Rows = rec.n
	r.pos = i
	return nil
}

// finish settles what is only known at the record's end.
func (rec *record) finish(p *plan) {
	rec.done = true
	c := rec.cap
	switch {
	case p.counting:
	case rec.grid && rec.n > 1:
		n := float64(rec.n)
		span := rec.last - rec.t0
		c.Step = span / (n - 1)
		c.StepRelative = rec.unit / math.Sqrt(6) / span // two rectangular roundings of half a unit each way
		if rec.unit > c.Step/2 {
			mid := (n - 1) / 2
			slope := (rec.isum - mid*rec.sum) / (n * (n*n - 1) / 12)
			c.Step = rec.step + slope
			c.Start = rec.t0 + rec.sum/n - slope*mid
			c.StepRelative = rec.unit / math.Sqrt(12) / (math.Sqrt(n*(n*n-1)/12) * c.Step)
			c.TimeResolution = rec.unit
			c.Notes = append(c.Notes, fmt.Sprintf("the time column is rounded to %.3g s, coarser than its steps; the interval of %.9g s was recovered by regression", rec.unit, c.Step))
		}
	case p.kind == Transitions:
		c.Step = float64(rec.common) * 1e-12
	}
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	if a < 0 {
		a = -a
	}
	return a
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
