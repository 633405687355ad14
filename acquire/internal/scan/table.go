package scan

import "math"

// Rows are the rows of a text, in columns, and what stood between them.
type Rows struct {
	N     int
	Time  []float64 // s; empty if the layout has no time; see Runs
	Value [][]float64
	Odd   []Odd
	Marks bool  // some level may be a mark: NoLevel, or ±Inf
	Runs  []Run // in rising order: stretches whose times are not all filled in, see Fill

	template template
	steps    []step
	index    index
	plain    bool // see plain
	cells    [][]byte
}

// Odd is a line that is no row. It stands before row number Row.
type Odd struct {
	Row        int
	Start, End int // the line is text[Start:End], without its line end
	Fault      Fault
	Cell       int // the faulty cell, from 0
	More       int // further lines like it that follow at once; with Again only
}

// reset makes r ready for up to rows rows.
func (r *Rows) reset(l *Layout, rows int) {
	r.N, r.Odd, r.Runs, r.Marks = 0, r.Odd[:0], r.Runs[:0], false
	if len(r.steps) == 0 {
		r.steps = l.steps()
	}
	if l.Time >= 0 {
		r.Time = room(r.Time, rows)
	} else {
		r.Time = r.Time[:0]
	}
	if len(r.Value) != len(l.Value) {
		r.Value = make([][]float64, len(l.Value))
	}
	for i := range r.Value {
		r.Value[i] = room(r.Value[i], rows)
	}
}

// room returns s with a length of at least n; what it held is kept.
func room(s []float64, n int) []float64 {
	if n <= cap(s) {
		return s[:cap(s)]
	}
	t := make([]float64, n)
	copy(t, s)
	return t
}

// grow makes sure that one more row fits.
func (r *Rows) grow() {
	n := r.N + 1
	if len(r.Time) > 0 && n > len(r.Time) {
		r.Time = room(r.Time, n+n/4+16)
	}
	for i := range r.Value {
		if n > len(r.Value[i]) {
			r.Value[i] = room(r.Value[i], n+n/4+16)
		}
	}
}

// Run is a stretch of rows at an even step. Of their times only the first and the last are in Rows.Time.
type Run struct {
	From, To int // rows

	mantissa, delta int64
	over            float64
}

// time is the time of a row of the run, rounded as if it had been read.
func (f *Run) time(row int) float64 { return float64(f.mantissa+int64(row-f.From)*f.delta) / f.over }

// Step is the time from one row of the run to the next, in s.
func (f *Run) Step() float64 { return math.Abs(float64(f.delta) / f.over) }

// Fill puts the times of all runs into Rows.Time.
func (r *Rows) Fill() {
	for i := range r.Runs {
		f := &r.Runs[i]
		for k := f.From; k < f.To; k++ {
			r.Time[k] = f.time(k)
		}
	}
	r.Runs = r.Runs[:0]
}

// capacity is how many rows the columns hold.
func (r *Rows) capacity() int {
	n := math.MaxInt
	if len(r.Time) > 0 {
		n = len(r.Time)
	}
	if len(r.Value) > 0 {
		n = min(n, len(r.Value[0]))
	}
	return n
}
