package session

import (
	"runtime"

	"offbeat/compare"
	"offbeat/compare/course"
	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/follow"
	"offbeat/fit/workers"
)

// maxTrend is how many values of a part are kept, evenly over the whole session, and the latest besides.
const maxTrend = 2048

// trend takes the parts of a new finding, made for the time at.
func (s *Session) trend(at float64, f *compare.Finding) {
	if len(s.parts) != len(f.Parts) {
		s.parts = make([]Trend, len(f.Parts))
	}
	for i, p := range f.Parts {
		s.parts[i].add(at, p)
	}
}

func (t *Trend) add(at float64, p compare.Part) {
	t.Part = p
	t.every = max(t.every, 1)
	if n := len(t.Time); n > 0 && !t.stays {
		t.cut(n - 1)
	}
	t.stays = t.taken%t.every == 0
	t.taken++
	t.Time, t.Median, t.Interval = append(t.Time, at), append(t.Median, p.Value), append(t.Interval, p.Interval95)
	if n := len(t.Time); n > maxTrend && t.stays {
		for i := range (n + 1) / 2 {
			t.Time[i], t.Median[i], t.Interval[i] = t.Time[2*i], t.Median[2*i], t.Interval[2*i]
		}
		t.cut((n + 1) / 2)
		t.every *= 2
	}
}

func (t *Trend) cut(n int) { t.Time, t.Median, t.Interval = t.Time[:n], t.Median[:n], t.Interval[:n] }

// traced is how many back-solves Trace makes.
const traced = 24

// Trace back-solves the session anew at even distances, so that the run of the parts does not depend on how
// quickly it was heard. It does nothing without a design.
func (s *Session) Trace() {
	s.mu.Lock()
	design, groups := s.design, even(s.follower.Points(), traced)
	s.mu.Unlock()
	if design == nil {
		return
	}
	findings := make([]*compare.Finding, len(groups))
	workers.Each(len(groups), runtime.GOMAXPROCS(0), func(_, i int) {
		m := groups[i].Measurement()
		m.Clock = design.ClockLimit
		// What can't be solved leaves a hole in the trend; the whole session's finding says why.
		if f, err := reconcile.Run(design, []*fit.Measurement{m}); err == nil {
			findings[i] = f
		}
	})
	s.mu.Lock()
	defer s.mu.Unlock()
	s.parts = nil
	for i, f := range findings {
		if f != nil {
			s.trend(groups[i].Time(), f)
		}
	}
	s.version++
}

// stretches is over how many stretches the run of the period is told.
const stretches = 48

// runs tells how the period has run; a last stretch that is still growing is left out.
func runs(points []follow.Point) *compare.Stability {
	groups := even(points, stretches)
	if n := len(groups); n > 1 && groups[n-1].End-groups[n-1].Begin < 0.8*(groups[0].End-groups[0].Begin) {
		groups = groups[:n-1]
	}
	at, ms := make([]float64, len(groups)), make([]*fit.Measurement, len(groups))
	for i, p := range groups {
		at[i], ms[i] = p.Time(), p.Measurement()
	}
	return course.OfStretches(at, ms)
}

// even joins points into at most n groups of about the same length, and of Latest seconds at least.
func even(points []follow.Point, n int) []follow.Point {
	if len(points) == 0 {
		return nil
	}
	span := max((points[len(points)-1].End-points[0].Begin)/float64(n), Latest)
	var out []follow.Point
	begin := 0
	for i, p := range points {
		if p.End-points[begin].Begin >= span || i == len(points)-1 {
			out = append(out, follow.Join(points[begin:i+1]))
			begin = i + 1
		}
	}
	return out
}
