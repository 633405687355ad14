package picture

import (
	"math"

	"offbeat/acquire"
)

// traceBins is how many bins each level of a trace keeps.
const traceBins = 4096

// Trace is the beginning of a capture at every zoom: level k keeps the least, the largest and the mean of the
// first traceBins runs of 2^k rows. Its size does not grow with the capture but for one more level each time
// the rows double.
type Trace struct {
	*acquire.Capture
	rows   int64
	levels []level
	timed  bool // rows carry their own times
	fine   int  // the finest level that is not full
}

// level is one zoom: a full bin of it goes on to the next.
type level struct {
	kept [][]bin   // one slice a channel
	time []float64 // s, of each bin's first row, where rows carry their own times
	open []bin     // the bin being filled, one a channel
	at   float64   // its time
	rows int64     // rows in it
}

// bin sums up a run of rows of one channel; rows of unknown level leave no trace.
type bin struct {
	min, max, sum float64
	n             int64
}

var empty = bin{min: math.Inf(1), max: math.Inf(-1)}

func (b *bin) merge(c bin) {
	b.min, b.max = min(b.min, c.min), max(b.max, c.max)
	b.sum += c.sum
	b.n += c.n
}

// Tap returns a capture that reads c and leaves a trace of whatever is read.
func Tap(c *acquire.Capture) (*acquire.Capture, *Trace) {
	t := &Trace{Capture: c}
	return c.Watched(t.Add), t
}

// Add takes the next rows of the capture.
func (t *Trace) Add(b *acquire.Block) {
	t.timed = t.timed || b.Time != nil
	for i := 0; i < b.N; {
		for t.fine < len(t.levels) && t.full(t.fine) {
			t.fine++
		}
		if t.Kind == acquire.Transitions && t.fine > 0 {
			break // between transitions there is nothing to thin: the first ones are kept as they are
		}
		l := t.level(t.fine, len(b.Value))
		n := int(min(int64(1)<<t.fine-l.rows, int64(b.N-i)))
		if l.rows == 0 {
			l.begin(t.timeOf(b, i))
		}
		for c := range l.open {
			l.open[c].merge(binOf(b.Value[c][i : i+n]))
		}
		l.rows += int64(n)
		i += n
		t.close(t.fine)
	}
	t.rows += int64(b.N)
}

func (t *Trace) timeOf(b *acquire.Block, i int) float64 {
	if b.Time == nil {
		return 0
	}
	return b.Time[i]
}

// binOf sums up some rows.
func binOf(v []float64) bin {
	b := empty
	for _, x := range v {
		if x == x {
			b.min, b.max = min(b.min, x), max(b.max, x)
			b.sum += x
			b.n++
		}
	}
	return b
}

// level returns level k, made when first needed.
func (t *Trace) level(k, channels int) *level {
	for len(t.levels) <= k {
		t.levels = append(t.levels, level{kept: make([][]bin, channels), open: make([]bin, channels)})
	}
	return &t.levels[k]
}

func (t *Trace) full(k int) bool { return len(t.levels[k].kept[0]) == traceBins }

func (l *level) begin(at float64) {
	for c := range l.open {
		l.open[c] = empty
	}
	l.at = at
}

// close stores the open bin of level k if it is complete, and hands it on to the next level.
func (t *Trace) close(k int) {
	for ; t.levels[k].rows == int64(1)<<k; k++ {
		next := t.level(k+1, len(t.levels[k].open))
		l := &t.levels[k]
		if !t.full(k) {
			for c, b := range l.open {
				l.kept[c] = append(l.kept[c], b)
			}
			if t.timed {
				l.time = append(l.time, l.at)
			}
		}
		if next.rows == 0 {
			next.begin(l.at)
		}
		for c, b := range l.open {
			next.open[c].merge(b)
		}
		next.rows += l.rows
		l.rows = 0
	}
}

// column is a run of rows of one channel for drawing.
type column struct{ t, min, max, mean float64 }

// window gives one channel between two times, from the finest level that reaches that far.
func (t *Trace) window(channel int, from, to float64) []column {
	for k := range t.levels {
		if k == len(t.levels)-1 || !t.full(k) || t.binTime(k, traceBins-1) >= to {
			return t.cut(k, channel, from, to)
		}
	}
	return nil
}

// cut gives the bins of level k between two times, and one on either side.
func (t *Trace) cut(k, channel int, from, to float64) []column {
	var out []column
	kept := t.levels[k].kept[channel]
	for i, b := range kept {
		if i+1 < len(kept) && t.binTime(k, i+1) <= from {
			continue
		}
		at := t.binTime(k, i)
		if b.n == 0 {
			out = append(out, column{at, math.NaN(), math.NaN(), math.NaN()})
		} else {
			out = append(out, column{at, b.min, b.max, b.sum / float64(b.n)})
		}
		if at > to {
			break
		}
	}
	return out
}

// binTime is the time in s of the middle of bin i of level k.
func (t *Trace) binTime(k, i int) float64 {
	if t.timed {
		return t.levels[k].time[i]
	}
	width := float64(int64(1) << k)
	return t.Start + t.Step*(float64(i)*width+(width-1)/2)
}

// end is the time in s of the last row, as far as a trace knows it.
func (t *Trace) end() float64 {
	if !t.timed {
		return t.Start + t.Step*float64(max(t.rows-1, 0))
	}
	last := t.Start
	for k := range t.levels {
		if n := len(t.levels[k].time); n > 0 {
			last = max(last, t.levels[k].time[n-1])
		}
	}
	return last
}
