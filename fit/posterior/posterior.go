package posterior

import (
	"errors"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"offbeat/fit/circuit"
)

// finePoints is the size of a replicate's lattice after the pilot, by the pilot's probability: none where even
// a tenth of it wrong moves no answer by more than 0.0003.
func finePoints(probability float64) int {
	switch {
	case probability < 0.003:
		return 0
	case probability < 0.03:
		return 64
	case probability < 0.2:
		return 128
	}
	return 512
}

// Run computes the probability of each hypothesis and the weighted samples of their mixture.
// It fails when there is nothing to compare; contradictory input is no failure but Status.Impossible.
func Run(p *Problem, hypotheses []Hypothesis) (*Result, error) {
	if len(hypotheses) == 0 || len(p.Data) == 0 || 2*len(p.Data) > maxTimes {
		return nil, errors.New("the back-solve needs at least one hypothesis and one to eight captures")
	}
	r := &Result{Outcomes: make([]Outcome, len(hypotheses))}
	estimates := make([]estimate, len(hypotheses))
	systems := make([]*system, len(hypotheses))
	boxes := make([]box, len(hypotheses))
	each(len(hypotheses), func(i int) {
		h := &hypotheses[i]
		if h.Unexplained {
			estimates[i] = unexplained(p, h)
			return
		}
		systems[i] = newSystem(p, h)
		estimates[i], boxes[i] = systems[i].pilot(seekPoints)
	})
	share := probabilities(hypotheses, estimates)
	if sum(share) == 0 {
		// Times at the very corner of what a hypothesis allows fill so little of its cube that a pilot can miss it.
		each(len(hypotheses), func(i int) {
			if systems[i] != nil {
				estimates[i], boxes[i] = systems[i].pilot(searchPoints)
			}
		})
		share = probabilities(hypotheses, estimates)
	}
	each(len(hypotheses), func(i int) {
		if n := finePoints(share[i]); systems[i] != nil && n > 0 {
			estimates[i] = systems[i].fine(boxes[i], n)
		}
	})
	share = probabilities(hypotheses, estimates)
	r.Status.Impossible = true
	for i, e := range estimates {
		if share[i] > 0 {
			r.Status.Impossible = false
		}
		if systems[i] != nil {
			r.Status.Evaluations += systems[i].evals
		}
		r.Outcomes[i] = Outcome{share[i], share[i] * (1 - share[i]) * e.relative, e.logEvidence, e.effective, e.points}
		if share[i] > 1e-6 {
			for k, w := range e.weights {
				if w := w * share[i]; w > 1e-9 {
					r.Samples = append(r.Samples, Sample{i, w, e.values[k]})
				}
			}
		}
	}
	return r, nil
}

func sum(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v
	}
	return s
}

// each calls f for 0 … n-1 on all cores. The calls share nothing, so their order leaves no trace.
func each(n int, f func(i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				f(i)
			}
		})
	}
	wait.Wait()
}

// probabilities are the odds times the evidences, normalised; all nought where no hypothesis is possible.
func probabilities(hypotheses []Hypothesis, estimates []estimate) []float64 {
	logs := make([]float64, len(estimates))
	top := math.Inf(-1)
	for i, e := range estimates {
		logs[i] = e.logEvidence + math.Log(hypotheses[i].Odds) + hypotheses[i].LogFactor
		top = max(top, logs[i])
	}
	share := make([]float64, len(logs))
	if math.IsInf(top, -1) {
		return share
	}
	var sum float64
	for i, l := range logs {
		share[i] = math.Exp(l - top)
		sum += share[i]
	}
	for i := range share {
		share[i] /= sum
	}
	return share
}

// unexplained has a closed form: the logarithms of the times are normal about the prediction with standard
// deviation 1; the parts keep their priors.
func unexplained(p *Problem, h *Hypothesis) estimate {
	e := estimate{logEvidence: math.Inf(-1), effective: 256, points: 256}
	s := newSystem(p, h)
	if !s.possible() {
		return e
	}
	predicted := make([]float64, s.times())
	at := *p
	at.Data = append([]Datum(nil), p.Data...)
	for i := range at.Data {
		d := &at.Data[i]
		d.LnHigh, d.LnLow, d.High, d.Low, d.Covariance = 0, 0, 1, 1, 0
	}
	t := newSystem(&at, &Hypothesis{})
	z := make([]float64, len(t.centre))
	copy(z, t.centre)
	if !t.residual(z, predicted) {
		return e
	}
	e.logEvidence = 0
	for i, x := range predicted {
		d := s.data[i] - x
		e.logEvidence -= 0.5*d*d + 0.5*math.Log(2*math.Pi)
	}
	u := make([]float64, len(h.Prior))
	for _, d := range h.Prior {
		e.logEvidence += math.Log(d.Mass())
	}
	points := newLattice(len(u), e.points, 0)
	for i := range e.points {
		points.point(i, u)
		v := p.Base
		for j, d := range h.Prior {
			v[circuit.Slot(j)] = math.Exp(d.Quantile(u[j]))
		}
		e.weights = append(e.weights, 1/float64(e.points))
		e.values = append(e.values, v)
	}
	return e
}
