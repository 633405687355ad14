package session

import (
	"math"

	"offbeat/acquire"
	"offbeat/compare"
	"offbeat/compare/course"
	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/follow"
)

// Source is the stream that is heard: what was met in it and the marks the user set.
type Source interface {
	Counts() acquire.StreamCounts
	Marks() []acquire.StreamMark
}

// New makes a session; d is nil where no design is known.
func New(d *fit.Design) *Session {
	s := &Session{design: d}
	s.begin()
	return s
}

// begin starts over: a new capture has a time axis of its own.
func (s *Session) begin() {
	s.follower = follow.New(follow.Options{Single: s.onePulse()})
	s.grown, s.judged = 0, 0
	s.start, s.finding, s.failed, s.parts = nil, nil, nil, nil
	s.steps = map[int]stepped{}
	s.changes = changes{}
	s.version++
}

// Watch returns a capture with the rows of c that shows the session each block before its reader sees it. src
// is asked on the reader's goroutine. after is called when a block is taken in.
func (s *Session) Watch(c *acquire.Capture, src Source, after func()) *acquire.Capture {
	s.mu.Lock()
	s.begin()
	s.mu.Unlock()
	return c.Watched(func(b *acquire.Block) {
		s.mu.Lock()
		s.add(s.follower.Add(c, b))
		s.changes.take(s.follower.Cycles(), max(c.Step, c.TimeResolution))
		s.counts, s.marks = src.Counts(), src.Marks()
		s.version++
		s.mu.Unlock()
		after()
	})
}

// add takes note of new points.
func (s *Session) add(points int) {
	s.grown += points
	if ps := s.follower.Points(); s.start == nil && len(ps) > 0 && ps[len(ps)-1].End-ps[0].Begin >= Latest {
		s.start = follow.Join(ps).Measurement()
	}
}

// End takes what was met by the end of the stream.
func (s *Session) End(src Source) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.counts, s.marks = src.Counts(), src.Marks()
	s.version++
}

// Judge looks for changes among the last cycles, and back-solves the times as they are now where a design is known and new points
// have come; it returns false where there was nothing to do. It takes long: give it a goroutine of its own.
func (s *Session) Judge() bool {
	looked := !s.onePulse() && s.look()
	return s.solve() || looked
}

// look is the search of Judge for changes.
func (s *Session) look() bool {
	s.mu.Lock()
	c, follower := s.changes, s.follower
	s.changes.grown = false
	s.mu.Unlock()
	if !c.grown {
		return false
	}
	jumps := course.OfCycles(whole(c.cycles), c.cell)
	s.mu.Lock()
	defer s.mu.Unlock()
	if follower == s.follower { // else another capture has begun meanwhile
		s.changes.found(jumps)
		s.version++
	}
	return true
}

// solve is the back-solve of Judge.
func (s *Session) solve() bool {
	s.mu.Lock()
	m, now, grown := s.follower.Latest(Latest), s.follower.Points(), s.grown
	if s.design == nil || m == nil || grown == s.judged {
		s.mu.Unlock()
		return false
	}
	at := now[len(now)-1].End
	follower := s.follower
	s.mu.Unlock()
	m.Clock = s.design.ClockLimit
	f, err := reconcile.Run(s.design, []*fit.Measurement{m})
	s.mu.Lock()
	defer s.mu.Unlock()
	if follower != s.follower {
		return true // another capture has begun meanwhile
	}
	s.judged, s.failed = grown, err
	if err == nil {
		s.finding = f
		s.trend(at, f)
	}
	s.version++
	return true
}

// Version grows whenever something has changed.
func (s *Session) Version() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.version
}

// Snapshot is a session at one instant. Its slices are its own.
type Snapshot struct {
	Design  *fit.Design
	Time    float64                          // s, of the stream
	Last    [2]float64                       // s, the last whole high and low time; 0: none yet
	Now     *compare.Times[compare.Measured] // of the last seconds; nil: nothing yet
	Drift   Drift
	Points  []follow.Point
	Odd     int              // pulses left out
	Finding *compare.Finding // what the times now imply; nil: nothing yet, or no design
	Failed  error            // why the last back-solve gave none
	Parts   []Trend
	Runs    *compare.Stability // how the period runs in stretches of some seconds; nil: too short yet
	Changes []fit.Change       // where the period changed, the last cycles singly looked at
	compare.Session
}

// Snapshot tells how things are.
func (s *Session) Snapshot() Snapshot {
	s.mu.Lock()
	defer s.mu.Unlock()
	sh := Snapshot{Design: s.design, Finding: s.finding, Failed: s.failed, Odd: s.follower.Odd()}
	sh.Time, sh.Last[0], sh.Last[1] = s.follower.Now()
	sh.Points = append([]follow.Point(nil), s.follower.Points()...)
	if m := s.follower.Latest(Latest); m != nil {
		if s.design != nil {
			m.Clock = s.design.ClockLimit
		}
		t := reconcile.Measured(m)
		sh.Now = &t
		if s.start != nil {
			sh.Drift = drift(s.start, m)
		}
	}
	if !s.onePulse() {
		sh.Runs = runs(sh.Points)
		sh.Changes = s.changes.all(sh.Runs)
	}
	for _, p := range s.parts {
		sh.Parts = append(sh.Parts, p.clone())
	}
	sh.Stream = s.counts
	sh.Marks = s.markSteps()
	return sh
}

// Drift is the relative change of each time since the start; nil where it is not known. The clock's limit
// plays no part: it is common to start and now.
type Drift = compare.Times[compare.Measured]

func drift(from, to *fit.Measurement) Drift {
	a, b := *from, *to
	a.Clock, b.Clock = 0, 0
	relative := func(x, y fit.Estimate) *compare.Measured {
		if !(x.Value > 0 && y.Value > 0) {
			return nil
		}
		return &compare.Measured{Value: y.Value/x.Value - 1, Uncertainty: math.Hypot(x.Uncertainty/x.Value, y.Uncertainty/y.Value), Count: y.Count}
	}
	x, y := a.Each(), b.Each()
	return compare.TimesOf(a.Low.Count == 0 || b.Low.Count == 0, func(i int) *compare.Measured { return relative(x[i], y[i]) })
}

// TimesOf gives the times of a point without its clock's limit.
func TimesOf(p follow.Point) compare.Times[compare.Measured] {
	return reconcile.Measured(p.Measurement())
}
