package posterior

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"offbeat/fit/circuit"
)

const (
	negligible = 1e-4  // a probability that no answer shows
	slight     = 0.001 // and one that a look too short may be wrong by
)

// doubt is by how much a look may have fallen short of the evidence, by how many of its points counted: over 3,000 hypotheses of 96
// random boards, by 60 times with one of 32 points, by 4 with up to twelve and by 1.5 with more.
func doubt(e estimate) float64 {
	switch {
	case e.effective < 2:
		return 300
	case e.effective < 12:
		return 10
	}
	return 2
}

// finePoints is the size of a replicate's lattice after the pilot, by the pilot's probability: none where even
// a tenth of it wrong moves no answer by more than 0.0003. A lone hypothesis is sure: only its spread is asked for.
func finePoints(probability float64, lone bool) int {
	switch {
	case lone:
		return 128
	case probability < 0.003:
		return 0
	case probability < 0.03:
		return 64
	case probability < 0.2:
		return 128
	}
	return 512
}

// briefPoints is the most of them that one board of many begins with.
const briefPoints = 128

// A probability whose numerical standard error is above sharp is computed again on a finer lattice, up to mostPoints a replicate.
const (
	sharp      = 0.003
	sharpBrief = 0.005 // of one board of many
	mostPoints = 4096
	rounds     = 4
)

// plenty is the effective sample size that a likely hypothesis must have, below which the parts' intervals are ragged: an end holds
// 2.5 % to 0.4 % by it.
const (
	plenty      = 2048
	plentyBrief = 256 // of one board of many
)

// Run computes the probability of each hypothesis and the weighted samples of their mixture.
// It fails when there is nothing to compare, and with the problem's context; contradictory input is no failure but Status.Impossible.
func Run(p *Problem, hypotheses []Hypothesis) (*Result, error) {
	if len(hypotheses) == 0 || len(p.Data)+len(p.Bounds) == 0 {
		return nil, errors.New("the back-solve needs at least one hypothesis and one capture")
	}
	if n := 2*len(p.Data) + len(p.Facts); n > MostEquations {
		return nil, fmt.Errorf("%d captures and %d readings of the waveform are more than the back-solve takes at once; expected at most %d times and readings", len(p.Data), len(p.Facts), MostEquations)
	}
	kept, at := distinct(hypotheses)
	c := newContest(p, kept)
	c.first()
	return c.end(hypotheses, at)
}

// first takes a first look at all hypotheses, and a second one at those that may count for all that it told.
func (c *contest) first() {
	c.look(scoutPoints)
	each(len(c.systems), func(i int) {
		s, e := c.systems[i], c.estimates[i]
		if s != nil && (c.share[i]*doubt(e) > negligible || e.effective == 0 && s.met) {
			c.estimates[i] = s.summarise(s.run(unitBox(len(s.free)), pilotPoints))
		}
	})
	c.share = probabilities(c.hypotheses, c.estimates)
	if c.total() == 0 && c.problem.Ended() == nil {
		// Times at the very corner of what a hypothesis allows fill so little of its cube that a first look can miss it.
		c.look(searchPoints)
	}
}

// contest is the hypotheses with what is known of each so far.
type contest struct {
	problem    *Problem
	hypotheses []Hypothesis
	systems    []*system // nil where there is a closed form
	plain      []*plain  // of those; hypotheses of the same boards share them
	estimates  []estimate
	share      []float64   // the probabilities that follow
	brief      bool        // one board of many: with no more points than the sharpness of its probabilities takes
	moved      bool        // and that from the middle of its cell
	cell       [][]float64 // of what boards the data are the middle; nil: those of one
	room       func(samples int) ([]Sample, []circuit.Values)
}

func newContest(p *Problem, kept []Hypothesis) *contest {
	return &contest{problem: p, hypotheses: kept, systems: make([]*system, len(kept)), plain: shared(kept), estimates: make([]estimate, len(kept)),
		room: func(n int) ([]Sample, []circuit.Values) { return make([]Sample, n), make([]circuit.Values, n) }}
}

// total is nought where no hypothesis is possible, else one.
func (c *contest) total() float64 { return floats.Sum(c.share) }

// end is the result once all hypotheses were looked at, of all of them: those alike were merged, and stand at these places.
func (c *contest) end(all []Hypothesis, at []int) (*Result, error) {
	c.focus()
	c.sharpen()
	if err := c.problem.Ended(); err != nil {
		return nil, err
	}
	r := c.result()
	r.shareOut(all, c.hypotheses, at)
	return r, nil
}

// look takes a first look at each hypothesis, on so many points a replicate.
func (c *contest) look(points int) {
	each(len(c.hypotheses), func(i int) {
		if c.problem.Ended() != nil {
			return
		}
		c.glance(i, points)
	})
	c.share = probabilities(c.hypotheses, c.estimates)
}

// glance takes a first look at one hypothesis.
func (c *contest) glance(i, points int) {
	h := &c.hypotheses[i]
	if k := h.Known; k != nil {
		c.estimates[i] = estimate{logEvidence: k.LogEvidence, effective: k.Effective, points: k.Points}
		return
	}
	if h.Unexplained {
		c.plain[i].once.Do(func() {
			points := plainPoints
			if c.brief {
				points = plainBrief
			}
			c.plain[i].fill(c.problem, h, points)
		})
		c.estimates[i] = c.plain[i].unexplained(c.problem, h)
		return
	}
	s := newSystem(c.problem, h)
	s.cell = c.cell
	c.systems[i], c.estimates[i] = s, s.look(points)
}

// focus looks closer at each hypothesis that may yet count.
func (c *contest) focus() {
	least := slight
	if c.brief {
		least = little
	}
	each(len(c.hypotheses), func(i int) {
		enough := c.moved && c.estimates[i].effective >= needed(c.share[i])
		if c.systems[i] != nil && c.share[i]*doubt(c.estimates[i]) > least && !enough {
			c.estimates[i] = c.systems[i].focus()
		}
	})
	c.share = probabilities(c.hypotheses, c.estimates)
}

// needed is how many effective points keep the error of a probability well below what is sharp.
func needed(probability float64) float64 {
	if probability > 0.1 {
		return plenty
	}
	return max(4*probability*probability/(sharp*sharp), ample)
}

// sharpen computes those that count again with as many points as it takes.
func (c *contest) sharpen() {
	points := make([]int, len(c.hypotheses))
	if c.moved && !c.refine(points) { // all are good enough
		return
	}
	for i, p := range c.share {
		if p > 0 && !c.moved {
			points[i] = finePoints(p, len(points) == 1)
			if c.brief {
				points[i] = min(points[i], briefPoints)
			}
		}
	}
	for range rounds {
		each(len(points), func(i int) {
			if c.systems[i] != nil && points[i] > 0 {
				c.estimates[i] = c.systems[i].fine(points[i])
			}
		})
		c.share = probabilities(c.hypotheses, c.estimates)
		if !c.refine(points) {
			return
		}
	}
}

// refine sets how many points a replicate each hypothesis is to be computed again with, nought for those that are good
// enough; false where all are.
func (c *contest) refine(points []int) bool {
	more := false
	for i, e := range c.estimates {
		had := e.points / replicates
		points[i] = 0
		short := c.share[i] * (1 - c.share[i]) * e.relative / c.sharp()
		if c.share[i] > 0.1 && len(points) > 1 { // of a lone hypothesis only its spread is asked for
			short = max(short, c.plenty()/e.effective)
		}
		if short > 1 && had < mostPoints {
			points[i] = min(mostPoints, had*int(max(2, math.Exp2(math.Ceil(math.Log2(short))))))
			more = true
		}
	}
	return more
}

func (c *contest) sharp() float64 {
	if c.moved {
		return sharpBrief
	}
	return sharp
}

func (c *contest) plenty() float64 {
	if c.brief {
		return plentyBrief
	}
	return plenty
}

// result is what has come out.
func (c *contest) result() *Result {
	r := &Result{Outcomes: make([]Outcome, len(c.hypotheses))}
	r.Samples, r.values = c.samples()
	r.Status.Impossible = c.total() == 0
	errs := c.errors()
	for i, e := range c.estimates {
		r.Outcomes[i] = Outcome{c.share[i], errs[i], e.logEvidence, e.effective, e.points}
		if c.systems[i] != nil {
			r.Status.Evaluations += c.systems[i].evals
		}
	}
	return r
}

// errors are the numerical standard errors of the probabilities: that of a hypothesis's own evidence, and those of all others that it is
// set against.
func (c *contest) errors() []float64 {
	all := 0.0
	for i, e := range c.estimates {
		all += c.share[i] * c.share[i] * e.relative * e.relative
	}
	out := make([]float64, len(c.share))
	for i, e := range c.estimates {
		p := c.share[i]
		out[i] = p * math.Sqrt(max(all+(1-2*p)*e.relative*e.relative, 0))
	}
	return out
}

// samples are the points of all hypotheses that weigh anything in the mixture, and their values.
func (c *contest) samples() ([]Sample, []circuit.Values) {
	share, estimates, rare, light := c.share, c.estimates, 1e-6, 1e-9
	if c.brief {
		rare, light = unseen, 1e-6
	}
	first := make([]int, len(share)) // where each hypothesis's begin
	all := 0
	weigh := func(i int, point func(k int, weight float64)) {
		if share[i] <= rare {
			return
		}
		for k, w := range estimates[i].weights {
			if w := w / estimates[i].total * share[i]; w > light {
				point(k, w)
			}
		}
	}
	for i := range share {
		first[i] = all
		weigh(i, func(int, float64) { all++ })
	}
	out, values := c.room(all)
	width := len(c.problem.Extra)
	extra := make([]float64, all*width)
	each(len(share), func(i int) {
		to := first[i]
		weigh(i, func(k int, w float64) {
			out[to] = Sample{Hypothesis: i, Weight: w, Values: &values[to]}
			if width > 0 {
				out[to].Extra = extra[to*width:][:width:width]
			}
			estimates[i].at(k, out[to].Values, out[to].Extra)
			to++
		})
	})
	return out, values
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

const (
	unseen  = 5e-5  // a probability that leaves no trace in an answer
	little  = 0.002 // and one of which a quarter wrong shows in no answer
	thinned = 4     // one point in so many tells a little probability well enough
	ample   = 12.0  // effective points that tell one of a percent
	small   = 0.01  // a probability that takes no second look at where its solutions lie on a board
)
