package follow

import (
	"cmp"
	"math"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/level"
	"offbeat/fit/train"
	"offbeat/fit/transition"
)

// Options change how a capture is followed. The zero value is the default.
type Options struct {
	Channel int     // index of the channel in Block.Value; default the first
	Span    float64 // s, least length of a point; default 1
	Cycles  int     // least whole cycles of a point; default 8, and four are enough after ten spans
	Single  bool    // a monostable: the low time is set by the trigger, any will do
}

// Follower takes the rows of one capture. One goroutine uses it.
type Follower struct {
	opt    Options
	find   transition.Finder
	held   bool      // the levels are known
	v, t   []float64 // samples kept until they are
	edges  []transition.Edge
	last   transition.Edge // of the unbroken run
	inRun  int             // edges of the unbroken run
	quanta float64         // s, step of the times

	cycle   cycles
	begin   float64 // s, of the point that is growing; NaN: nothing yet
	now     float64 // s, of the last row
	run     Run
	started bool

	whole []train.Cycle // that nobody has taken yet
	met   int           // whole cycles so far
	apart bool          // the next one does not follow the last
}

// New makes a follower.
func New(opt Options) *Follower {
	opt.Span = cmp.Or(opt.Span, 1)
	opt.Cycles = cmp.Or(opt.Cycles, 8)
	return &Follower{opt: opt, begin: math.NaN(), cycle: cycles{single: opt.Single}, apart: true}
}

// Add takes the next rows of c and returns how many points they completed.
func (f *Follower) Add(c *acquire.Capture, b *acquire.Block) int {
	if b.N == 0 || f.opt.Channel >= len(b.Value) {
		return 0
	}
	if !f.started {
		f.started = true
		f.find.Hold = c.Kind == acquire.Transitions
		if c.Kind != acquire.Samples {
			f.use(level.Fixed())
		}
	}
	f.quanta = c.TimeResolution
	if c.Kind == acquire.Transitions {
		f.quanta = max(c.Step, c.TimeResolution)
	}
	t, v := b.Time, b.Value[f.opt.Channel][:b.N]
	if t == nil {
		t = make([]float64, b.N)
		for i := range t {
			t[i] = c.Start + float64(b.First+int64(i))*c.Step
		}
	}
	f.now = t[b.N-1]
	if !f.held {
		f.t, f.v = append(f.t, t...), append(f.v, v...)
		return f.search()
	}
	return f.scan(t, v)
}

func (f *Follower) use(e level.Estimate) {
	f.find.Set(e.Reference, e.Hysteresis, e.Amplitude())
	f.held = true
}

// search looks for the levels in the samples held back.
func (f *Follower) search() int {
	if len(f.v) < levelWindow {
		return 0
	}
	t, v := f.t, f.v
	f.t, f.v = nil, nil
	e, ok := level.Find(v)
	if !ok {
		return 0 // flat so far: the next window may show more
	}
	f.use(e)
	return f.scan(t, v)
}

// scan takes rows whose levels are known.
func (f *Follower) scan(t, v []float64) int {
	f.edges = f.find.Scan(0, t, v, f.edges[:0])
	points := 0
	for _, e := range f.edges {
		if f.edge(e) {
			points++
		}
	}
	return points
}

// edge takes the next edge or break; it returns true when a point is complete.
func (f *Follower) edge(e transition.Edge) bool {
	switch {
	case e.Break:
		f.inRun, f.apart = 0, true
		f.cycle.split()
		return false
	case f.inRun > 0 && e.Rise != f.last.Rise:
		if math.IsNaN(f.begin) {
			f.begin = f.last.X
		}
		f.cycle.add(f.last.Rise, e.X-f.last.X)
		if f.last.Rise && len(f.whole) < keptCycles {
			f.whole = append(f.whole, train.Cycle{Rise: f.last.X, Fall: e.X, Index: float64(f.met), N: 1, Start: f.apart})
			f.met, f.apart = f.met+1, false
		}
	}
	f.last = e
	f.inRun++
	return f.due(e.X) && f.close(e.X)
}

// due reports whether the growing point is long enough at time t.
func (f *Follower) due(t float64) bool {
	n, d := f.cycle.whole(), t-f.begin
	return d >= f.opt.Span && n >= f.opt.Cycles || d >= patience*f.opt.Span && n >= fewCycles || n >= maxCycles
}

// close ends the growing point at time t.
func (f *Follower) close(t float64) bool {
	p, ok := f.cycle.point(f.quanta)
	p.Begin, p.End = f.begin, t
	f.begin = t
	f.cycle.reset()
	if ok {
		f.run.add(p)
	}
	return ok
}

// keptCycles are kept for Cycles; where nobody takes them, no more are.
const keptCycles = 1 << 14

// Cycles hands over the high pulses that have ended since it was last asked, the whole cycles that they begin numbered through.
func (f *Follower) Cycles() []train.Cycle {
	out := f.whole
	f.whole = nil
	return out
}

// Points are what was seen so far, in time order. The slice is the follower's own: copy what you keep.
func (f *Follower) Points() []Point { return f.run.points }

// Now is the time of the last row in s, and the last whole high and low time in s, 0 where there is none yet.
func (f *Follower) Now() (t, high, low float64) { return f.now, f.cycle.last[1], f.cycle.last[0] }

// Odd is how many pulses did not belong to the train and were left out of the points.
func (f *Follower) Odd() int { return f.run.odd }

// Latest joins the points of the last span seconds into one measurement without its clock's limit; nil where
// there is none.
func (f *Follower) Latest(span float64) *fit.Measurement {
	ps := f.run.points
	i := len(ps)
	for i > 0 && ps[len(ps)-1].End-ps[i-1].Begin <= span || i == len(ps) && i > 0 {
		i--
	}
	if i == len(ps) {
		return nil
	}
	return Join(ps[i:]).Measurement()
}
