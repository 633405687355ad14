package step

import (
	"math"

	"offbeat/fit"
	"offbeat/fit/follow"
)

// Reach is how far, in s, a fit looks to either side of its mark.
const Reach = 300

// Marked are the relative steps of both times at a mark: steps of their logarithms. Low is zero where single
// pulses were followed.
type Marked struct {
	Mark        float64 // s
	High, Low   Step
	Correlation float64 // of the two
}

// At fits the steps at the time mark in s, with the points between from and to, Reach at most on either side;
// to is the next mark. A point that straddles a mark is left out. before is the fit of an earlier mark that
// lies between from and mark; nil: there is none.
func At(points []follow.Point, mark, from, to float64, before *Marked) (Marked, error) {
	m := Marked{Mark: mark}
	from, to = math.Max(from, mark-Reach), math.Min(to, mark+Reach)
	straddles := func(p follow.Point, at float64) bool { return p.Begin < at && p.End > at }
	var high, low []Observation
	for _, p := range points {
		if p.Begin < from || p.End > to || straddles(p, mark) || before != nil && straddles(p, before.Mark) {
			continue
		}
		high = append(high, observation(p.Time(), p.High))
		if p.Low.Count > 0 {
			low = append(low, observation(p.Time(), p.Low))
			m.Correlation += p.Covariance / (p.High.Uncertainty * p.Low.Uncertainty)
		}
	}
	if len(low) > 0 {
		m.Correlation /= float64(len(low))
	}
	var settling [2]*Earlier
	if before != nil && before.Mark > from {
		settling = [2]*Earlier{{before.Mark, before.High.Settling}, {before.Mark, before.Low.Settling}}
	}
	var err error
	if m.High, err = Fit(high, mark, settling[0]); err != nil || len(low) == 0 {
		return m, err
	}
	m.Low, err = Fit(low, mark, settling[1])
	return m, err
}

func observation(t float64, e fit.Estimate) Observation {
	return Observation{t, math.Log(e.Value), e.Uncertainty / e.Value}
}
