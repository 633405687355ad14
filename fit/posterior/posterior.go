package posterior

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
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

// A probability whose numerical standard error is above sharp is computed again on a finer lattice, up to mostPoints a replicate.
const (
	sharp      = 0.003
	mostPoints = 4096
	rounds     = 4
)

// refine sets how many points a replicate each hypothesis is to be computed again with, nought for those that are good
// enough; false where all are.
func refine(points []int, share []float64, estimates []estimate) bool {
	more := false
	for i, e := range estimates {
		had := e.points / replicates
		points[i] = 0
		if off := share[i] * (1 - share[i]) * e.relative; off > sharp && had < mostPoints {
			points[i] = min(mostPoints, had*int(max(2, math.Exp2(math.Ceil(math.Log2(off/sharp))))))
			more = true
		}
	}
	return more
}

// Run computes the probability of each hypothesis and the weighted samples of their mixture.
// It fails when there is nothing to compare; contradictory input is no failure but Status.Impossible.
func Run(p *Problem, hypotheses []Hypothesis) (*Result, error) {
	if len(hypotheses) == 0 || len(p.Data) == 0 {
		return nil, errors.New("the back-solve needs at least one hypothesis and one capture")
	}
	if n := 2*len(p.Data) + len(p.Facts); n > MostEquations {
		return nil, fmt.Errorf("%d captures and %d readings of the waveform are more than the back-solve takes at once; expected at most %d times and readings", len(p.Data), len(p.Facts), MostEquations)
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
	points := make([]int, len(hypotheses))
	for i := range points {
		points[i] = finePoints(share[i])
	}
	for range rounds {
		each(len(hypotheses), func(i int) {
			if systems[i] != nil && points[i] > 0 {
				estimates[i] = systems[i].fine(boxes[i], points[i])
			}
		})
		share = probabilities(hypotheses, estimates)
		if !refine(points, share, estimates) {
			break
		}
	}
	r.Status.Impossible = sum(share) == 0
	for i, e := range estimates {
		if systems[i] != nil {
			r.Status.Evaluations += systems[i].evals
		}
		r.Outcomes[i] = Outcome{share[i], share[i] * (1 - share[i]) * e.relative, e.logEvidence, e.effective, e.points}
	}
	r.Samples = samples(share, estimates)
	return r, nil
}

// samples are the points of all hypotheses that weigh anything in the mixture.
func samples(share []float64, estimates []estimate) []Sample {
	first := make([]int, len(share)) // where each hypothesis's begin
	all := 0
	weigh := func(i int, point func(k int, weight float64)) {
		if share[i] <= 1e-6 {
			return
		}
		for k, w := range estimates[i].weights {
			if w := w * share[i]; w > 1e-9 {
				point(k, w)
			}
		}
	}
	for i := range share {
		first[i] = all
		weigh(i, func(int, float64) { all++ })
	}
	out := make([]Sample, all)
	each(len(share), func(i int) {
		to := out[first[i]:]
		weigh(i, func(k int, w float64) {
			v, extra := estimates[i].at(k)
			to[0] = Sample{i, w, v, extra}
			to = to[1:]
		})
	})
	return out
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

// unexplained has a closed form: the logarithms of the times, and the facts, are normal about the prediction with
// standard deviation 1, but for settled captures; the parts keep their priors.
func unexplained(p *Problem, h *Hypothesis) estimate {
	e := estimate{logEvidence: math.Inf(-1), effective: 256, points: 256}
	s := newSystem(p, h)
	if !s.possible() {
		return e
	}
	z, misfit := s.centre, make([]float64, s.times())
	for i := range h.Prior {
		z[i] = math.Log(p.Base[i]) // the prediction is that of the nominal parts, whatever was read of them
	}
	for i := len(s.vars); i < len(z); i++ {
		z[i] = 0 // the noise is nothing against the misfit
	}
	if !s.residual(z, misfit) {
		return e
	}
	e.logEvidence = 0
	k := 0
	density := func(n int, first bool) {
		for range n {
			if first {
				e.logEvidence -= 0.5*misfit[k]*misfit[k] + 0.5*math.Log(2*math.Pi)
			}
			k++
		}
	}
	for _, d := range p.Data {
		n := 2
		if d.OnePulse {
			n = 1
		}
		density(n, !d.Settled)
	}
	density(len(p.Facts), true)
	for _, d := range h.Prior {
		e.logEvidence += math.Log(d.Mass())
	}
	u := make([]float64, len(h.Prior))
	points := newLattice(len(u), e.points, 0)
	e.weights = slices.Repeat([]float64{1 / float64(e.points)}, e.points)
	e.at = func(k int) (circuit.Values, []float64) {
		points.point(k, u)
		for j, d := range h.Prior {
			z[j] = d.Quantile(u[j])
		}
		return s.at(z)
	}
	return e
}
