// Package session analyses a stream while it is heard: the times now and their drift since the start, the
// parts that they imply, and the steps at the marks that the user sets.
package session

import (
	"sync"

	"offbeat/acquire"
	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/follow"
	"offbeat/fit/step"
)

// Latest is how many seconds of the stream count as now, and how many as the start.
const Latest = 5

// Session gathers what is known of one stream. Its methods may be called from any goroutine.
type Session struct {
	design *fit.Design // nil: none

	mu       sync.Mutex
	follower *follow.Follower
	grown    int // points so far; joined ones count still
	start    *fit.Measurement
	counts   acquire.StreamCounts
	marks    []acquire.StreamMark
	steps    map[int]stepped
	finding  *compare.Finding
	failed   error // of the last back-solve
	judged   int   // points it rests on
	parts    []Trend
	version  int
	changes  changes
}

func (s *Session) onePulse() bool {
	if s.design == nil {
		return false
	}
	c, err := circuit.Of(s.design)
	return err == nil && c.OnePulse
}

// stepped is a mark's fit with the points it was made of.
type stepped struct {
	grown int
	at    step.Marked
	mark  compare.Mark // High is nil where there is no fit yet
}

// Trend is the run of one part's likely value.
type Trend struct {
	compare.Part              // as it is now
	Time         []float64    // s
	Median       []float64    // in the part's unit
	Interval     [][2]float64 // 95 %
	taken        int          // values so far
	every        int          // of which one is kept
	stays        bool         // the last value is one of those
}

func (t *Trend) clone() Trend {
	c := *t
	c.Time = append([]float64(nil), t.Time...)
	c.Median = append([]float64(nil), t.Median...)
	c.Interval = append([][2]float64(nil), t.Interval...)
	return c
}
