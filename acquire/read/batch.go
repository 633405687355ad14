package read

import (
	"math"

	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// event is something between two rows that is no line of its own.
type event struct {
	row     int     // it stands before this row of its batch
	note    string  // for the user
	skipped bool    // the note is about a skipped line
	lost    string  // the reason why a line is skipped without a note of its own; empty: none was
	cut     bool    // a new record begins here
	step    float64 // s, of the new record; 0: as the plan has it
}

// batch is a run of rows in columns, and the odd lines among them. Its slices are reused.
type batch struct {
	n      int
	time   []float64 // s; empty where the rows have none; see fill
	value  [][]float64
	odd    []scan.Odd // lines that are no rows, views of text
	text   []byte
	line   int64 // number of the first line, from 1
	cut    bool  // the last line has no line end
	marked bool  // some level may be a mark: scan.NoLevel, or ±Inf

	events  []event // instead of odd lines, in a source that counts its lines itself
	counted bool
	survey  survey
	rows    *scan.Rows // that time is of, if parts of it may still have to be filled in
}

// fill puts in the times that parsing has left out because they only count up.
func (b *batch) fill() {
	if b.rows != nil {
		b.rows.Fill()
	}
}

// rest copies what stands behind row, odd line number odd and event number ev; the caller gives it its line.
func (b *batch) rest(row, odd, ev int) *batch {
	b.fill()
	c := &batch{cut: b.cut, marked: b.marked, counted: b.counted, value: make([][]float64, len(b.value))}
	tail := *b
	tail.n -= row
	if len(b.time) > 0 {
		tail.time = b.time[row:]
	}
	tail.value = make([][]float64, len(b.value))
	for i := range b.value {
		tail.value[i] = b.value[i][row:]
	}
	tail.odd, tail.events = b.odd[odd:], b.events[ev:]
	c.join(&tail)
	for i := range c.odd {
		c.odd[i].Row -= row
	}
	for i := range c.events {
		c.events[i].row -= row
	}
	return c
}

// join copies another batch behind this one.
func (b *batch) join(c *batch) {
	c.fill()
	b.time = append(b.time, c.time...)
	for i := range b.value {
		b.value[i] = append(b.value[i][:b.n], c.value[i][:c.n]...)
	}
	for _, o := range c.odd {
		o.Row += b.n
		o.Start += len(b.text)
		o.End += len(b.text)
		b.odd = append(b.odd, o)
	}
	for _, e := range c.events {
		e.row += b.n
		b.events = append(b.events, e)
	}
	b.text = append(b.text, c.text...)
	b.n += c.n
	b.cut = c.cut
	b.marked = b.marked || c.marked
}

// settle lets the odd lines that stood among rows that are taken out stand before row n.
func (b *batch) settle(n int) {
	for k := len(b.odd) - 1; k >= 0 && (b.odd[k].Row > n || b.odd[k].Fault == scan.FalseTime && b.odd[k].Row == 0); k-- {
		b.odd[k].Row = n
	}
}

// move copies row i to place k.
func (b *batch) move(i, k int) {
	if i == k {
		return
	}
	b.time[k] = b.time[i]
	for _, v := range b.value {
		v[k] = v[i]
	}
}

// batchSource hands out batches in order, io.EOF at the end. A batch holds until the next call.
type batchSource interface {
	next() (*batch, error)
	stop()
}

// linesOf is how many lines the odd ones are.
func linesOf(odd []scan.Odd) int {
	n := len(odd)
	for _, o := range odd {
		n += o.More
	}
	return n
}

// sifted reports whether an odd line is a row that was taken out.
func sifted(o scan.Odd) bool { return o.Fault == scan.Again || o.Fault == scan.FalseTime }

// survey is what a look over a batch's times has shown.
type survey struct {
	even   bool // on the expected grid from first to last
	rising bool // never falling
	strict bool // always rising
	common int64
}

// surveyor looks over times while they are in the cache: on a worker, so that the caller need not.
type surveyor struct {
	grid   grid.Grid
	tick   float64 // s, unit of the greatest common step; 0: not wanted
	states int     // so many channels hold 0 or 1, and whatever else is none
}

// lookOf is what a plan wants to know of its rows.
func lookOf(p *recognise.Plan) surveyor { return surveyor{p.Grid, p.Tick, p.States} }

// clean puts NoLevel for each level that is no state.
func (s surveyor) clean(b *batch) {
	for _, v := range b.value[:min(s.states, len(b.value))] {
		for i, x := range v[:b.n] {
			if x != 0 && x != 1 && x == x {
				v[i], b.marked = scan.NoLevel, true
			}
		}
	}
}

func (s surveyor) survey(b *batch) survey {
	n := len(b.time)
	if n == 0 {
		return survey{}
	}
	if s.grid.Step > 0 && evenBatch(s.grid, b) {
		return survey{even: true, rising: true, strict: true}
	}
	b.fill()
	v := survey{strict: grid.Ascends(b.time)}
	v.rising = v.strict || grid.Rising(b.time) == n
	if s.tick > 0 {
		v.common = grid.CommonStep(b.time, 0, s.tick)
	}
	return v
}

// evenBatch reports whether a batch's times are even throughout. Within a run one step tells for all.
func evenBatch(g grid.Grid, b *batch) bool {
	t, from := b.time, 0
	even := func(to int) bool { return g.Even(t[from], t[from+1:to+1]) == to-from }
	if b.rows != nil {
		for _, r := range b.rows.Runs {
			last := r.To - 1
			if !even(r.From) || math.Abs(r.Step()-g.Step) > g.SlackAt(t[r.From], t[last]) || t[last] < t[r.From] {
				return false
			}
			from = last
		}
	}
	return even(len(t) - 1)
}
