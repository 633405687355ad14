package comparetest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"offbeat/fit"
)

// Options of Reference; the zero value is the default.
type Options struct {
	Error   float64 // wanted standard error of each probability; 0: 0.001
	Samples int     // most draws for a cause; 0: 524288
	Seed    uint64
}

// Reference computes the mixture of causes by importance sampling, with more draws for the causes whose evidence adds most
// to the error of the probabilities.
func Reference(p *Problem, o Options) (*Answer, error) {
	if o.Error == 0 {
		o.Error = 0.001
	}
	if o.Samples == 0 {
		o.Samples = 1 << 19
	}
	if err := p.check(); err != nil {
		return nil, err
	}
	v, err := p.measured()
	if err != nil {
		return nil, err
	}
	rng := rand.New(rand.NewPCG(o.Seed, 0x6f666662656174))
	m := mixture{problem: p}
	for i, c := range p.Causes {
		if c.Odds == 0 || !Possible(p.Design.Circuit, c.Name) {
			continue
		}
		ways, err := p.hypotheses(c, v)
		if err != nil {
			return nil, err
		}
		for _, h := range ways {
			s := newSampler(h, &v, nil, rng)
			if s.ruledOut() {
				continue
			}
			r := &run{sampler: s.prepare(), cause: i, odds: c.Odds * h.weight}
			r.setLimits(p.Design.Parts)
			r.double()
			m.runs = append(m.runs, r)
		}
	}
	if len(m.runs) == 0 {
		return nil, fmt.Errorf("comparetest: no cause that %s can have explains the times", p.Design.Circuit)
	}
	for m.worst() > o.Error {
		errors := m.errors()
		worst := slices.Max(errors)
		grown := false
		for i, e := range errors {
			if r := m.runs[i]; e > 0.3*worst && r.count < o.Samples {
				r.double()
				grown = true
			}
		}
		if !grown {
			break
		}
	}
	return m.answer(o), nil
}

// run is the sampling of one hypothesis.
type run struct {
	cause   int     // its place in Problem.Causes
	odds    float64 // the cause's, times the weight of this way
	sampler *sampler
	parts   []outside
	draws   []draw // those of weight
	count   int    // all of them
	all     sums   // over all draws
	out     []sums // over those with that part out of tolerance
}

// sums of weights and of their squares.
type sums struct{ weight, square float64 }

func (s *sums) add(w float64) {
	s.weight += w
	s.square += w * w
}

// effective is the number of even weights that would tell as much.
func (s *sums) effective() float64 {
	if s.weight == 0 {
		return 0
	}
	return sq(s.weight) / s.square
}

// draw keeps what a part's distribution needs.
type draw struct {
	weight float64
	ln     [4]float64 // ln of the first parts
}

// outside holds a part's limits as ln, widened by the slack.
type outside struct{ low, high float64 }

// setLimits says when a part is out of tolerance.
func (r *run) setLimits(parts []fit.Part) {
	for _, p := range parts {
		r.parts = append(r.parts, outside{math.Log(p.Low()) - atLimit, math.Log(p.High()) + atLimit})
	}
	r.out = make([]sums, len(parts))
}

// pilot is the number of draws of a round of adapting.
const pilot = 256

// outcome is what a round of draws gave: the weights' mean and the effective sample size.
type outcome struct{ mean, effective float64 }

// prepare chooses the pivots by a pilot with each set, and adapts the tables. All sets have the same evidence to find. A
// pilot that finds far less of it than another has missed where it lies, however even its weights are; so the largest mean
// leads, with room for its being one lucky draw, and the effective number decides among those that come near it.
func (s *sampler) prepare() *sampler {
	sets, start := pivotSets(s.h, s.v, s.rng)
	var tried []*sampler
	var outcomes []outcome
	most := 0.
	for _, pivots := range sets {
		t := newSampler(s.h, s.v, pivots, s.rng)
		t.start = start
		o := t.adaptTo()
		tried, outcomes = append(tried, t), append(outcomes, o)
		most = max(most, o.mean)
	}
	best := 0
	for i, o := range outcomes {
		if o.mean >= most/100 && (outcomes[best].mean < most/100 || o.effective > outcomes[best].effective) {
			best = i
		}
	}
	return tried[best]
}

// adaptTo adapts the tables from a likelihood widened first and true last, and gives the outcome of the last round's draws.
func (s *sampler) adaptTo() (o outcome) {
	given := s.v
	defer func() { s.v = given }()
	for _, widen := range widenings(given) {
		wide := *given
		for i := range wide.cov {
			wide.cov[i] *= widen * widen
		}
		wide, _ = wide.invert()
		s.v = &wide
		for range 3 {
			o = adaptRound(s)
			if o.effective > pilot/10 {
				break
			}
		}
	}
	return o
}

// widenings of the standard deviations, the last one 1: from 5 % down in steps of 10.
func widenings(v *values) []float64 {
	narrowest := math.Sqrt(v.cov[0])
	if v.times == 2 {
		narrowest = min(narrowest, math.Sqrt(v.cov[1]))
	}
	var all []float64
	for w := 0.05 / narrowest; w > 1; w /= 10 {
		all = append(all, w)
	}
	return append(all, 1)
}

// adaptRound draws, adapts the tables to the draws, and gives their outcome.
func adaptRound(s *sampler) outcome {
	hits := s.hits()
	for k := range pilot {
		if w := s.draw(componentOf(k)); w > 0 {
			hits.add(s, w)
		}
	}
	hits.adapt(s)
	return outcome{hits.all.weight / pilot, hits.all.effective()}
}

// pivotSets lists what to try: of each size that the equations can hold, largest first, the sets of which they would tell most,
// given each parameter's spread; and none at all. start is a board that runs.
func pivotSets(h *hypothesis, v *values, rng *rand.Rand) (sets [][]int, start []float64) {
	s := newSampler(h, v, nil, rng)
	for i := range s.x { // all of them, so that begin looks for a board that runs
		s.pivots = append(s.pivots, i)
	}
	r, ok := s.begin(256)
	start = slices.Clone(s.x)
	if h.unexplained || !ok {
		return [][]int{nil}, start
	}
	most := v.times
	if len(h.control) > 0 {
		most++
	}
	for size := min(most, len(s.x)); size > 0; size-- {
		sets = append(sets, s.best(size, r, 3)...)
	}
	return append(sets, nil), start
}

// best lists the sets of that size for which the information, in units of each parameter's spread, has the largest determinant,
// leaving out those of which some member would be told less by the equations than by its prior.
func (s *sampler) best(size int, r [equations]float64, count int) [][]int {
	type scored struct {
		set   []int
		score float64
	}
	var all []scored
	var extend func(set []int, from int)
	extend = func(set []int, from int) {
		if len(set) == size {
			s.pivots = set
			j, _ := s.jacobian(r)
			information, _ := s.linearise(&j, r)
			for a, p := range set {
				for b, q := range set {
					information[a][b] *= s.spread[p] * s.spread[q]
				}
			}
			if root, ok := information.root(size); ok {
				score := 0.
				for a := range set {
					if root[a][a] < 1 {
						return
					}
					score += math.Log(root[a][a])
				}
				all = append(all, scored{slices.Clone(set), score})
			}
			return
		}
		for i := from; i < len(s.x); i++ {
			extend(append(slices.Clone(set), i), i+1)
		}
	}
	extend(nil, 0)
	sort.SliceStable(all, func(a, b int) bool { return all[a].score > all[b].score })
	var sets [][]int
	for _, a := range all[:min(count, len(all))] {
		sets = append(sets, a.set)
	}
	return sets
}

// double draws as many again as there are, 1024 at first, and adapts the tables for the next time.
func (r *run) double() {
	from, to := r.count, max(1024, 2*r.count)
	hits := r.sampler.hits()
	for i := from; i < to; i++ {
		w := r.sampler.draw(componentOf(i))
		if w == 0 {
			continue
		}
		hits.add(r.sampler, w)
		d := draw{weight: w}
		copy(d.ln[:], r.sampler.x[:len(r.out)])
		r.draws = append(r.draws, d)
		r.all.add(w)
		for j, x := range d.ln[:len(r.out)] {
			if x < r.parts[j].low || x > r.parts[j].high {
				r.out[j].add(w)
			}
		}
	}
	hits.adapt(r.sampler)
	r.count = to
}
