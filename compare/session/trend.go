package session

import "offbeat/compare"

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
