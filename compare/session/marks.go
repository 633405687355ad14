package session

import (
	"math"
	"sort"

	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/step"
)

// markSteps fits the step at each mark, in time order. A fit whose reach has passed is kept.
func (s *Session) markSteps() []compare.Mark {
	var out []compare.Mark
	for i := range s.marks {
		k, ok := s.steps[i]
		if !ok || k.grown != s.grown && !(k.mark.High != nil && s.passed(i)) {
			k = s.fit(i)
			s.steps[i] = k
		}
		out = append(out, k.mark)
	}
	return out
}

// next is the time of the mark after mark i.
func (s *Session) next(i int) float64 {
	if i+1 < len(s.marks) {
		return s.marks[i+1].Time
	}
	return math.Inf(1)
}

// passed reports whether nothing that is still to come belongs to mark i.
func (s *Session) passed(i int) bool {
	now, _, _ := s.follower.Now()
	return now > math.Min(s.next(i), s.marks[i].Time+step.Reach)+Latest
}

// fit fits the steps at mark i. The response to the mark before may still go on; what lies before that one is
// of no use.
func (s *Session) fit(i int) stepped {
	m := compare.Mark{Number: i + 1, Time: s.marks[i].Time, Text: s.marks[i].Text}
	from := math.Inf(-1)
	var before *step.Marked
	if i > 0 {
		from = s.marks[i-1].Time
		if b := s.steps[i-1]; b.mark.High != nil {
			before = &b.at
			if from = math.Inf(-1); i > 1 {
				from = s.marks[i-2].Time
			}
		}
	}
	at, err := step.At(s.follower.Points(), m.Time, from, s.next(i), before)
	if err != nil {
		m.Note = "no step yet: " + err.Error()
		return stepped{s.grown, at, m}
	}
	m.High = change(at.High)
	if !s.onePulse() {
		m.Low = change(at.Low)
	}
	if s.design != nil {
		m.Parts = moved(s.design, at)
	}
	return stepped{s.grown, at, m}
}

func change(s step.Step) *compare.MarkStep {
	return &compare.MarkStep{Relative: s.Value, Uncertainty: s.Uncertainty, Settling: s.Settling}
}

// moved says which part's change would explain the steps, the best fit first.
func moved(d *fit.Design, at step.Marked) []compare.PartMoved {
	parts, err := step.Parts(d, at.High, at.Low, at.Correlation)
	if err != nil {
		return nil // the finding says why the circuit does not run
	}
	var out []compare.PartMoved
	for _, p := range parts {
		q := compare.PartMoved{Name: p.Name, Relative: p.Change, Uncertainty: p.Uncertainty}
		if !math.IsNaN(p.Fit) {
			fit := p.Fit
			q.Fit = &fit
		}
		out = append(out, q)
	}
	sort.SliceStable(out, func(i, k int) bool { return out[i].Fit != nil && *out[i].Fit > *out[k].Fit })
	return out
}
