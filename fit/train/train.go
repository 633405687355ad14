package train

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"offbeat/fit"
	"offbeat/fit/steady"
	"offbeat/fit/transition"
)

const (
	shortest   = 0.30 // an interval below this share of the usual one is a glitch
	longest    = 1.60 // above this share some edges are missing
	firstChunk = 4096 // edges that settle what is usual
	maxCluster = 64   // edges in one burst of glitches
	noGlitch   = 0.1  // nor above this share, and so many rows: it is a pulse of another train (common practice)
	noGlitches = 8.
	longRow    = 12 // edges in a row that no ringing makes: there a tenth of that share and half the rows will do
	atStart    = 8  // edges within this many rows of the record's start, if several, are settling
	follow     = 1.0 / 64
)

// Train collects the edges of one capture. Its memory is bounded.
type Train struct {
	Faults  fit.Faults
	Short   int // of the glitches, those that are long enough to be pulses
	OddGaps int // intervals too long to belong to the train that are no whole number of missing pulses
	Long    int // single pulses far too long
	Chatter int // transitions with more than one edge

	paces
	hold    bool
	single  bool
	begin   float64 // where the record begins
	pending []transition.Edge
	keep    bool            // chattering transitions are the rule: use them at their middle
	bursts  bool            // the pulses come in bursts of several: what begins and ends one may cut its first and last pulse
	held    transition.Edge // in bursts, the last edge so far, which is stored only if another follows
	holding bool            // there is one
	fresh   bool            // the next edge to be stored begins a run
	last    transition.Edge
	open    bool // last belongs to the current run
	unknown bool // what follows last is not known
	begun   bool
	store   store
	slopes  [2]slopeSum // by polarity: [0] fall, [1] rise
}

// slopeSum gathers what the samples about the crossings of one polarity show of the edge's shape.
type slopeSum struct {
	n            int
	sum          float64
	mid          float64
	hard, mids   int
	cosine, sine [3]float64 // harmonics of the crossings' place between two samples
}

// New starts a train. hold says that its edges come from a transition list; single that the low times are
// set by a trigger, so that any length of them is sound.
func New(hold, single bool) *Train { return &Train{hold: hold, single: single, fresh: true} }

// Add takes the next edges in order.
func (t *Train) Add(edges []transition.Edge) {
	t.pending = append(t.pending, edges...)
	if settled := t.usual[0] > 0 && t.usual[1] > 0; settled || len(t.pending) >= firstChunk {
		t.work(false)
	}
}

// Begin says where the record begins, in the unit of the edges; otherwise it begins at 0.
func (t *Train) Begin(x float64) { t.begin = x }

// Forget drops everything that was collected, as when the levels turn out to have been wrong.
func (t *Train) Forget() {
	n := New(t.hold, t.single)
	n.begin = t.begin
	*t = *n
}

// End takes the last edges.
func (t *Train) End() {
	t.work(true)
	t.endRun()
	if t.single { // gaps of any length are the trigger's
		t.Faults.Dropped, t.OddGaps = 0, 0
	}
}

// work cleans the pending edges; unless final, the last few wait for what follows them.
func (t *Train) work(final bool) {
	e := t.pending
	if t.usual[0] == 0 || t.usual[1] == 0 {
		t.usual, t.bursts = usual(e)
		t.bursts = t.bursts && !t.single
		t.keep = chatters(e, t.usual)
	}
	if !t.begun {
		e = t.settle(e)
	}
	i := 0
	for i < len(e) {
		i = t.steady(e, i)
		if usual, turns, wait := t.turns(e, i, !t.hold, final); wait && !t.single {
			break
		} else if turns && !t.single {
			t.endRun()
			t.bursts = false
			t.OddGaps += t.turn(usual) / 2
		}
		if e[i].Break {
			t.Faults.Unknown++
			t.endRun()
			t.unknown = true
			i++
			continue
		}
		j := t.cluster(e, i)
		if !final && j >= len(e)-2 {
			break
		}
		m := j - i + 1
		for k := i; k+1 < j; k++ { // of disturbances one of two neighbours is short
			if t.pulse(e[k:], m) && t.pulse(e[k+1:], m) {
				t.Short++
			}
		}
		switch {
		case m == 1:
			t.accept(e[i])
		case m%2 == 0: // the state is what it was: a glitch
			t.Faults.Glitches += m / 2
		default:
			t.Faults.Glitches += m / 2
			t.Chatter++
			t.chattered(e[i : j+1])
		}
		i = j + 1
	}
	t.pending = append(t.pending[:0], e[min(i, len(e)):]...)
}

// steady takes the pulses of a transition list from e[i] on, as work would, while each is as long as is usual; it
// leaves the last edges of e. A list holds nothing but edges, so this is its inner loop.
func (t *Train) steady(e []transition.Edge, i int) int {
	if !t.hold || t.single || t.bursts || !t.open || t.last.Rise {
		return i
	}
	last, low, high, from := t.last.X, t.usual[0], t.usual[1], i
	for ; i < len(e)-4; i += 2 {
		rise, fall, next := &e[i], &e[i+1], &e[i+2]
		l, h, after := rise.X-last, fall.X-rise.X, next.X-fall.X
		if rise.Break || !rise.Rise || fall.Break || fall.Rise || next.Break || !(l <= elsewhere*low) || !(h*elsewhere >= high) {
			break
		}
		low += follow * (l - low)
		if !(h <= elsewhere*high) || !(after*elsewhere >= low) {
			break
		}
		high += follow * (h - high)
		t.usual = [2]float64{low, high}
		t.store.pushPair(rise.X, fall.X)
		last = fall.X
	}
	if i > from {
		t.now.add(e[from:i], false)
		for j := max(from+1, i-window); j < i; j++ {
			t.blend(e[j].X-e[j-1].X, transition.Polarity(e[j-1].Rise))
		}
		t.last, t.unknown = e[i-1], false
		for k := range t.slopes { // the edges of a list have no slope: each is one step
			s, n := &t.slopes[k], (i-from)/2
			s.n, s.mids, s.hard = s.n+n, s.mids+n, s.hard+n
			s.sum += float64(n)
		}
	}
	return i
}

// settle drops the edges at the very start of the record if there are several: the instrument is settling.
func (t *Train) settle(e []transition.Edge) []transition.Edge {
	t.begun = true
	n := 0
	for n < len(e) && !e[n].Break && e[n].X < t.begin+atStart*e[n].Cell {
		n++
	}
	if t.hold || n < 2 {
		return e
	}
	t.Faults.Glitches += n / 2
	return e[n:]
}

// pulse tells that what begins with the first edge is too long for a glitch, among so many in a row.
func (t *Train) pulse(e []transition.Edge, inARow int) bool {
	share, rows := noGlitch, noGlitches*e[0].Cell
	if inARow >= longRow {
		share, rows = share/10, rows/2
	}
	if t.hold {
		rows = 0
	}
	return e[1].X-e[0].X > max(share*t.usual[transition.Polarity(e[0].Rise)], rows)
}

// cluster returns the last edge of the burst that starts at i: edges closer than a glitch.
func (t *Train) cluster(e []transition.Edge, i int) int {
	j := i
	for j+1 < len(e) && j-i < maxCluster && !e[j+1].Break && e[j+1].X-e[j].X < t.glitch(e[j].Rise) {
		if _, turns, _ := t.turns(e, j+1, !t.hold, true); turns && !t.single {
			break
		}
		j++
	}
	return j
}

// glitch is the length below which an interval of that state does not belong to the train.
func (t *Train) glitch(high bool) float64 {
	if t.single && !high {
		return shortest * shortest * t.usual[1]
	}
	return shortest * t.usual[transition.Polarity(high)]
}

// chattered handles a transition of several edges. Its time is not known better than the burst's length, so
// the run ends there, unless the whole train is like that.
func (t *Train) chattered(e []transition.Edge) {
	if !t.keep {
		t.endRun()
		return
	}
	mid := e[0]
	for k := 1; k < len(e); k++ {
		mid.X = e[k].X - mid.X
	}
	t.accept(mid)
}

// accept takes one sound edge; an interval that is too long ends the run before it.
func (t *Train) accept(e transition.Edge) {
	if t.open {
		d := e.X - t.last.X
		k := transition.Polarity(t.last.Rise)
		switch {
		case e.Rise == t.last.Rise:
			t.endRun()
		case d > longest*t.usual[k] && !(t.single && k == 0):
			if t.single {
				t.Long++
				t.endRun()
				break
			}
			missing := (d - t.usual[k]) / (t.usual[0] + t.usual[1])
			if whole := math.Round(missing); whole >= 1 && math.Abs(missing-whole) < 0.25 {
				t.Faults.Dropped += int(whole)
			} else {
				t.OddGaps++
			}
			t.endRun()
		default:
			t.usual[k] += follow * (d - t.usual[k])
			t.blend(d, k)
		}
	}
	first := t.bursts && !t.open
	t.last, t.unknown = e, false
	t.open = true
	s := &t.slopes[transition.Polarity(e.Rise)]
	s.n++
	s.sum += e.Slope
	if !math.IsNaN(e.Mid) {
		s.mids++
		s.mid += e.Mid
	}
	if e.Slope < 0.999 && e.Cell > 0 { // else the place is not known
		phase := 2 * math.Pi * (e.X/e.Cell - math.Floor(e.X/e.Cell))
		for m := range s.cosine {
			sin, cos := math.Sincos(float64(m+1) * phase)
			s.cosine[m] += cos
			s.sine[m] += sin
		}
	} else {
		s.hard++
	}
	if !first {
		t.push(e)
	}
}

// push stores an edge; in bursts each waits for the next, since the last one of a burst is left out.
func (t *Train) push(e transition.Edge) {
	if t.bursts {
		e, t.held = t.held, e
		if !t.holding {
			t.holding = true
			return
		}
	}
	t.now.add([]transition.Edge{e}, t.fresh)
	t.fresh = false
	t.store.push(e.X, e.Rise)
}

// Silent is how long no edge comes before the record's end, in the unit of the edges; 0 where that is not known, or the pulses come
// in bursts anyway.
func (t *Train) Silent(end float64) float64 {
	if t.unknown || t.bursts && t.OddGaps > 0 {
		return 0
	}
	return end - t.last.X
}

// Last is the latest edge.
func (t *Train) Last() transition.Edge { return t.last }

// Trimmed says that the pulses come in bursts of which the first and the last pulse were left out.
func (t *Train) Trimmed() bool { return t.bursts }

func (t *Train) endRun() {
	t.open, t.holding, t.fresh = false, false, true
	t.store.endRun()
}

// Sharpness is the mean rise over the sampling cell that holds the crossing, as a share of the amplitude, of
// falling and of rising edges: 1 means that no sample lies on the slope.
func (t *Train) Sharpness() (fall, rise float64) {
	mean := func(s slopeSum) float64 {
		if s.n == 0 {
			return 1
		}
		return s.sum / float64(s.n)
	}
	return mean(t.slopes[0]), mean(t.slopes[1])
}

// Shape describes the edges of one polarity by the two samples about each crossing.
type Shape struct {
	Edges     int        // that crossed the reference once
	Sharpness float64    // mean rise from one to the other as a share of the amplitude
	Mid       float64    // their mean less the reference, along the edge, as a share of the amplitude; mean over the edges
	Crowding  [3]float64 // harmonics 1 to 3 of where the crossings lie between two samples: 0 everywhere, 1 always at one place
}

// Shape of the rising or the falling edges.
func (t *Train) Shape(rise bool) Shape {
	s := t.slopes[transition.Polarity(rise)]
	if s.n == 0 {
		return Shape{Sharpness: 1}
	}
	r := Shape{Edges: s.mids, Sharpness: s.sum / float64(s.n), Mid: s.mid / max(float64(s.mids), 1)}
	for m := range r.Crowding {
		r.Crowding[m] = math.Hypot(s.cosine[m], s.sine[m]) / max(float64(s.n-s.hard), 1)
	}
	return r
}

// usual estimates the usual low and high time. Half of all high time is spent in highs longer than the
// time-weighted median, which many short glitches leave alone; where few intervals are near it (a long idle
// time), the plain median counts. Bursts says that the pulses come in such, of several each.
func usual(e []transition.Edge) (u [2]float64, bursts bool) {
	var d [2][]float64
	for i := 1; i < len(e); i++ {
		if !e[i].Break && !e[i-1].Break {
			d[transition.Polarity(e[i-1].Rise)] = append(d[transition.Polarity(e[i-1].Rise)], e[i].X-e[i-1].X)
		}
	}
	for k := range d {
		u[k] = typical(d[k])
	}
	whole := u
	for k := range d {
		if short, gaps := inBursts(d[k], d[1-k], whole[1-k]); short > 0 {
			u[k], bursts = short, len(d[k])-gaps >= severalPulses*gaps
		}
	}
	return u, bursts
}

const (
	burstGap      = 2.5  // times the usual, that the idle time between bursts is longer at least
	burstShare    = 0.8  // of the pulses, that are alike in a burst
	burstReach    = 0.2  // and by how much at most
	cutShare      = 0.5  // of the pulses of the other state: a gate cuts the first and the last of each burst
	severalPulses = 3    // whole times of that state in a burst at least, for its first and last pulse to be left out
	burstLeast    = 0.15 // of the other state's time: what is shorter is no pulse of a train, but a glitch
)

// inBursts is the usual length of one state in a train that comes in bursts: most of its pulses are short and alike, a few
// are the idle times between bursts, gaps many, and all pulses of the other state are alike. 0: it is no such train. d and
// other are sorted; usual is how long the other is, chatter left out.
func inBursts(d, other []float64, usual float64) (short float64, gaps int) {
	if len(d) < 3 || len(other) < 3 {
		return 0, 0
	}
	border, ratio := 0, burstGap
	for i := 1; i < len(d); i++ {
		if d[i] > ratio*d[i-1] {
			border, ratio = i, d[i]/d[i-1]
		}
	}
	within, rest := d[:border], len(d)-border
	if border < rest || border < 2 || !alike(within, burstShare) || !alike(other, cutShare) || within[border/2] < burstLeast*usual {
		return 0, 0
	}
	return within[border/2], rest
}

// alike tells that such a share of the values is near their median.
func alike(d []float64, share float64) bool {
	mid, near := d[len(d)/2], 0
	for _, x := range d {
		if math.Abs(x-mid) <= burstReach*mid {
			near++
		}
	}
	return float64(near) >= share*float64(len(d))
}

func typical(d []float64) float64 {
	if len(d) == 0 {
		return 0
	}
	slices.Sort(d)
	weighted := stat.Quantile(0.5, stat.Empirical, d, d)
	near := 0
	for _, x := range d {
		if x > 0.7*weighted && x < 1.3*weighted {
			near++
		}
	}
	if near*5 >= len(d) {
		return weighted
	}
	return d[len(d)/2]
}

// chatters tells whether more than a fifth of the transitions come as bursts.
func chatters(e []transition.Edge, usual [2]float64) bool {
	t := Train{paces: paces{usual: usual}}
	bursts, all := 0, 0
	for i := 0; i < len(e); {
		j := t.cluster(e, i)
		if (j-i)%2 == 0 {
			all++
			if j > i {
				bursts++
			}
		}
		i = j + 1
	}
	return bursts*5 > all
}

// Edges is how many sound edges were taken.
func (t *Train) Edges() int { return t.store.edges }

// Record is what a train has collected, in the unit of the edges.
type Record struct {
	Cycles []Cycle // the whole train; in a long one neighbours are averaged
	Sample []Cycle // what its noise is sought in: every cycle singly, or the first ones and behind them averages of the rest
	Digest []Cycle // the whole train in few averages; nil where it is short, or breaks too often
	Highs  int     // whole high pulses
	Lows   int
	Whole  int // whole cycles, counted from the first edge of each run
	Series fit.Series
}

// Record of the train, after End. It shares the train's memory.
func (t *Train) Record() *Record {
	s := &t.store
	return &Record{Cycles: s.cycles, Sample: s.sample(), Digest: s.digest(), Highs: s.whole[1], Lows: s.whole[0], Whole: s.cycle2,
		Series: fit.Series{Start: s.series.start, High: s.series.high, Low: s.series.low, Every: max(s.series.every, 1)}}
}

// Part is what the record holds of the cycles that begin and end between two times.
func (r *Record) Part(from, to float64) *Record {
	cut := func(all []Cycle) (out []Cycle) {
		for _, c := range all {
			if c.Rise >= from && c.Fall <= to {
				c.Start = c.Start || len(out) == 0
				out = append(out, c)
			}
		}
		return out
	}
	p := &Record{Cycles: cut(r.Cycles), Sample: cut(r.Sample), Digest: cut(r.Digest)}
	if len(p.Digest) < digestLeast {
		p.Digest = nil
	}
	for _, c := range p.Cycles {
		p.Highs += c.N
		if c.Start {
			p.Lows += c.N - 1
		} else {
			p.Lows += c.N
		}
	}
	p.Whole = p.Lows
	p.Series.Every = r.Series.Every
	for i, t := range r.Series.Start {
		if t >= from && t <= to {
			p.Series.Start = append(p.Series.Start, t)
			p.Series.High, p.Series.Low = append(p.Series.High, r.Series.High[i]), append(p.Series.Low, r.Series.Low[i])
		}
	}
	return p
}

// Without is the record of single pulses without some of them.
func (r *Record) Without(pulses []int) *Record {
	if len(pulses) == 0 {
		return r
	}
	out := *r
	out.Cycles, out.Sample, out.Digest, out.Series = nil, nil, nil, fit.Series{Every: r.Series.Every}
	out.Highs -= len(pulses)
	lost, gone := true, map[float64]bool{}
	for i, c := range r.Cycles {
		if slices.Contains(pulses, i) {
			lost, gone[c.Rise] = true, true
			continue
		}
		c.Start, lost = c.Start || lost, false
		out.Cycles, out.Sample = append(out.Cycles, c), append(out.Sample, c)
	}
	for i, at := range r.Series.Start {
		if !gone[at] {
			out.Series.Start = append(out.Series.Start, at)
			out.Series.High, out.Series.Low = append(out.Series.High, r.Series.High[i]), append(out.Series.Low, r.Series.Low[i])
		}
	}
	return &out
}

// digestLeast is how many averages tell of a part of a train.
const digestLeast = 16

// Shortest is the shorter of the usual high and low time, at the fastest pace, in the unit of the edges.
func (t *Train) Shortest() float64 {
	shortest := math.Inf(1)
	for _, p := range t.Paces() {
		if shortest = min(shortest, p.usual[1]); !t.single && p.usual[0] > 0 {
			shortest = min(shortest, p.usual[0])
		}
	}
	return shortest
}

// Judge says whether the sound edges are those of one steady train in each of some stretches. The caller knows the cell, what else was
// excluded, and how few codes there are.
func (t *Train) Judge(x steady.Context, stretches []Pace) (j steady.Judgement) {
	longest := 0.0
	for _, p := range stretches {
		x.Usual, x.Pulses = p.usual, t.single
		own := p.census.Judge(x)
		if own.Kind != steady.Steady && own.Kind != steady.Bursts || own.Unlike {
			return own
		}
		if p.To-p.From >= longest {
			longest, j = p.To-p.From, own
		}
	}
	return j
}

// Chatters tells that several edges a transition are the rule.
func (t *Train) Chatters() bool { return t.keep }

// Truncated tells that later runs were left out because the train breaks too often.
func (t *Train) Truncated() bool { return t.store.full }
