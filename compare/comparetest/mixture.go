package comparetest

import (
	"math"
	"slices"
	"sort"
)

// mixture joins the runs of all hypotheses.
type mixture struct {
	problem *Problem
	runs    []*run
}

// evidence is odds times the mean weight.
func (r *run) evidence() float64 { return r.odds * r.all.weight / float64(r.count) }

// total is the sum of the evidences.
func (m *mixture) total() float64 {
	sum := 0.
	for _, r := range m.runs {
		sum += r.evidence()
	}
	return sum
}

// ratio is the mixture's probability of an event, given for each run the sums over the draws that have it, with its
// standard error. Such a probability is a ratio of two sums over the same draws; to first order its error is that of the sum of
// weight x (1 - probability) over the draws that have it less weight x probability over the others.
func (m *mixture) ratio(event func(r *run) sums) (probability, standard float64) {
	total := m.total()
	if total == 0 {
		return 0, 0
	}
	scale := func(r *run) float64 { return r.odds / float64(r.count) / total }
	for _, r := range m.runs {
		probability += scale(r) * event(r).weight
	}
	variance := 0.
	for _, r := range m.runs {
		e := event(r)
		mean := (e.weight - probability*r.all.weight) / float64(r.count)
		square := (sq(1-probability)*e.square + sq(probability)*(r.all.square-e.square)) / float64(r.count)
		variance += sq(scale(r)) * float64(r.count) * max(0, square-sq(mean))
	}
	return probability, math.Sqrt(variance)
}

// cause is the probability of cause i with its standard error.
func (m *mixture) cause(i int) (float64, float64) {
	return m.ratio(func(r *run) sums {
		if r.cause == i {
			return r.all
		}
		return sums{}
	})
}

// out is the probability that part j is out of tolerance, with its standard error.
func (m *mixture) out(j int) (float64, float64) {
	return m.ratio(func(r *run) sums { return r.out[j] })
}

// errors are what each run adds to the error of the probabilities, roughly.
func (m *mixture) errors() []float64 {
	all, total := make([]float64, len(m.runs)), m.total()
	for i, r := range m.runs {
		if p := r.evidence() / total; p > 1e-6 { // less of it cannot matter
			relative := r.all.square/sq(r.all.weight) - 1/float64(r.count)
			outs := 0. // a part in tolerance in one draw and out in another adds an error that the evidence doesn't show
			for _, o := range r.out {
				share := o.weight / r.all.weight
				outs = max(outs, share*(1-share))
			}
			all[i] = p * math.Sqrt(max(0, relative)) * (1 - p + outs)
		}
	}
	return all
}

// worst is the largest standard error of a probability.
func (m *mixture) worst() float64 {
	worst := 0.
	for i := range m.problem.Causes {
		_, e := m.cause(i)
		worst = max(worst, e)
	}
	for j := range m.problem.Design.Parts {
		_, e := m.out(j)
		worst = max(worst, e)
	}
	return worst
}

// answer sums up.
func (m *mixture) answer(o Options) *Answer {
	a := &Answer{}
	for i, c := range m.problem.Causes {
		ca := CauseAnswer{Cause: c}
		ca.Probability, ca.Error = m.cause(i)
		sum := 0.
		for _, r := range m.runs {
			if r.cause == i {
				sum += r.evidence() / c.Odds
			}
		}
		ca.LogEvidence = math.Log(sum)
		a.Causes = append(a.Causes, ca)
	}
	for _, r := range m.runs {
		a.Status.Samples += r.count
	}
	for j := range m.problem.Design.Parts {
		a.Parts = append(a.Parts, m.part(j))
	}
	a.Status.WorstError = m.worst()
	a.Status.Converged = a.Status.WorstError <= o.Error
	return a
}

// part sums up one part's draws over all causes.
func (m *mixture) part(j int) PartAnswer {
	a := PartAnswer{Name: m.problem.Design.Parts[j].Name}
	a.OutOfTolerance, a.Error = m.out(j)
	type weighed struct{ ln, weight float64 }
	var all []weighed
	total := m.total()
	for _, r := range m.runs {
		if !(r.evidence() > 1e-9*total) {
			continue
		}
		for _, d := range r.draws {
			w := r.odds * d.weight / float64(r.count) / total
			a.Mean += w * math.Exp(d.ln[j])
			all = append(all, weighed{d.ln[j], w})
		}
	}
	slices.SortFunc(all, func(a, b weighed) int {
		switch {
		case a.ln < b.ln:
			return -1
		case a.ln > b.ln:
			return 1
		}
		return 0
	})
	sums := make([]float64, len(all))
	running := 0.
	for i, w := range all {
		running += w.weight
		sums[i] = running
	}
	quantile := func(q float64) float64 {
		if len(all) == 0 {
			return math.NaN()
		}
		i := sort.SearchFloat64s(sums, q*running)
		return math.Exp(all[min(i, len(all)-1)].ln)
	}
	a.Median, a.Interval95 = quantile(0.5), [2]float64{quantile(0.025), quantile(0.975)}
	return a
}
