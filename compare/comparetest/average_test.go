package comparetest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"offbeat/fit"
)

// Options of Reference; the zero value is the default.
type Options struct {
	Error float64      // wanted standard error of each probability; 0: 0.003
	Draws int          // most draws of a hypothesis; 0: 2^20
	First int          // those of each repeat to begin with; 0: 2^10
	Cuts  [][3]float64 // of each part, values below which the probability of lying is wanted; nil: none
	Seed  uint64
	// Likeliest is an explanation beside which one more part may be out of its tolerance, where parts are asked of.
	Likeliest *CauseAnswer
}

// Answer holds the probabilities in the order of the hypotheses and of the design's parts.
type Answer struct {
	Causes []CauseAnswer
	Parts  []PartAnswer
	Worst  float64 // the largest standard error
	Draws  int     // in all
	// Effective is how many draws of equal weight would scatter as much (Kish): few where hardly a draw comes near the times, so
	// that the averages, and their errors too, say nothing.
	Effective float64
}

// CauseAnswer is one explanation's probability.
type CauseAnswer struct {
	Cause string
	Parts []string
	Stated
}

// PartAnswer is one part over the whole mixture.
type PartAnswer struct {
	Name  string
	Out   Stated    // of lying out of tolerance
	Below [3]Stated // of lying below each cut
}

// Stated is a probability with its standard error.
type Stated struct{ Probability, Error float64 }

// repeats is how many times everything is averaged, each over draws of its own, so that the scatter is the error.
const repeats = 8

// tally is what the draws of a hypothesis add up to, in each repeat: their likelihoods, of all and of those for which an event
// holds: a part out of tolerance, a part below a cut.
type tally struct {
	h      *hypothesis
	at     int  // the explanation's place
	n      int  // draws of each repeat
	wide   bool // of a board with one more part out of its tolerance, beside the likeliest explanation: it counts for parts alone
	weight [repeats]float64
	square float64 // of the likelihoods, summed over all repeats
	events [][repeats]float64
}

// mean of a sum in a repeat, times the odds.
func (t *tally) mean(sum *[repeats]float64, r int) float64 { return t.h.Odds * sum[r] / float64(t.n) }

// Reference averages the likelihood over the prior of every hypothesis, with more draws for those whose averages scatter
// most, and shares probability out by odds times average.
func Reference(p *Problem, o Options) (*Answer, error) {
	if o.Error == 0 {
		o.Error = 0.003
	}
	if o.Draws == 0 {
		o.Draws = 1 << 20
	}
	if o.First == 0 {
		o.First = 1 << 10
	}
	hs, err := p.hypotheses()
	if err != nil {
		return nil, err
	}
	t, err := p.times()
	if err != nil {
		return nil, err
	}
	m := &mixture{p: p, times: t, o: o, rng: rand.New(rand.NewPCG(o.Seed, 0x6f666662656174))}
	for _, r := range p.Design.Readings {
		i := slices.IndexFunc(p.Design.Parts, func(q fit.Part) bool { return q.Name == r.Name })
		if i < 0 {
			return nil, fmt.Errorf("comparetest: a reading of %s, which is no part", r.Name)
		}
		m.readings = append(m.readings, read{r, i})
	}
	for _, h := range hs {
		at := slices.IndexFunc(m.causes, func(c CauseAnswer) bool { return c.Cause == h.Cause && slices.Equal(c.Parts, h.Parts) })
		if at < 0 {
			at = len(m.causes)
			m.causes = append(m.causes, CauseAnswer{Cause: h.Cause, Parts: h.Parts})
		}
		y := &tally{h: h, at: at, events: make([][repeats]float64, len(p.Design.Parts)*eventsOfPart)}
		m.tallies = append(m.tallies, y)
		m.more(y, o.First)
	}
	if o.Likeliest != nil {
		if hs, err = p.beside(o.Likeliest.Cause, o.Likeliest.Parts); err != nil {
			return nil, err
		}
		for _, h := range hs {
			y := &tally{h: h, at: slices.IndexFunc(m.causes, m.likeliest), wide: true, events: make([][repeats]float64, len(p.Design.Parts)*eventsOfPart)}
			m.tallies = append(m.tallies, y)
			m.more(y, o.First)
		}
	}
	for m.refine() {
	}
	return m.answer(), nil
}

// likeliest says whether an explanation is the likeliest.
func (m *mixture) likeliest(c CauseAnswer) bool {
	return m.o.Likeliest != nil && c.Cause == m.o.Likeliest.Cause && slices.Equal(slices.Sorted(slices.Values(c.Parts)), slices.Sorted(slices.Values(m.o.Likeliest.Parts)))
}

// mixture is a problem with its averages so far.
type mixture struct {
	p        *Problem
	times    times
	readings []read
	o        Options
	rng      *rand.Rand
	causes   []CauseAnswer
	tallies  []*tally
}

// Enough is the least effective number of draws by which anything is judged.
const Enough = 100

// eventsOfPart are out of tolerance, and below each of three cuts.
const eventsOfPart = 4

// more adds draws to each repeat of a tally. The numbers of a draw are the multiples of roots of primes, brought between 0
// and 1, from a random start (Richtmyer's sequence): even for any count, and two repeats are independent.
func (m *mixture) more(y *tally, draws int) {
	s := y.h.state()
	u := make([]float64, len(y.h.steps))
	for r := range repeats {
		for j := range u {
			u[j] = m.rng.Float64()
		}
		for range draws {
			for j := range u {
				if u[j] += roots[j]; u[j] >= 1 {
					u[j]--
				}
			}
			y.h.draw(u, s)
			l := y.h.likelihood(&m.times, s, m.readings)
			if l == 0 {
				continue
			}
			y.weight[r] += l
			y.square += l * l
			for i, q := range m.p.Design.Parts {
				x, events := s.parts[i], y.events[i*eventsOfPart:]
				if x < q.Low()*(1-atLimit) || x > q.High()*(1+atLimit) {
					events[0][r] += l
				}
				if m.o.Cuts == nil {
					continue
				}
				for k, cut := range m.o.Cuts[i] {
					if x < cut {
						events[1+k][r] += l
					}
				}
			}
		}
	}
	y.n += draws
}

// roots are the fractional parts of the roots of primes.
var roots = func() (all []float64) {
	for n := 2; len(all) < 32; n++ {
		prime := true
		for k := 2; k*k <= n; k++ {
			prime = prime && n%k != 0
		}
		if prime {
			_, f := math.Modf(math.Sqrt(float64(n)))
			all = append(all, f)
		}
	}
	return all
}()

// total is the evidence of all hypotheses in a repeat.
func (m *mixture) total(r int) float64 {
	sum := 0.
	for _, y := range m.tallies {
		if !y.wide {
			sum += y.mean(&y.weight, r)
		}
	}
	return sum
}

// loosened is by what the likeliest explanation's sums of events count in a repeat, since those with one more part out of its
// tolerance count beside them, and its own weight stays.
func (m *mixture) loosened(r int) float64 {
	own, wide := 0., 0.
	for _, y := range m.tallies {
		switch {
		case y.wide:
			wide += y.mean(&y.weight, r)
		case m.likeliest(m.causes[y.at]):
			own += y.mean(&y.weight, r)
		}
	}
	if wide == 0 {
		return 1
	}
	return own / (own + wide)
}

// stated is the probability of an event, whose sums of says: over all repeats, and how it scatters between them; of a part, the
// likeliest explanation is loosened.
func (m *mixture) stated(part bool, of func(y *tally) *[repeats]float64) Stated {
	var each, all [repeats]float64
	met, total := 0., 0.
	for r := range repeats {
		loosened := m.loosened(r)
		for _, y := range m.tallies {
			sum := of(y)
			switch {
			case sum == nil || y.wide && !part:
			case part && m.likeliest(m.causes[y.at]):
				each[r] += loosened * y.mean(sum, r)
			default:
				each[r] += y.mean(sum, r)
			}
		}
		all[r] = m.total(r)
		met, total = met+each[r], total+all[r]
	}
	p, square := met/total, 0.
	for r := range repeats {
		square += sq((each[r] - p*all[r]) / (total / repeats))
	}
	return Stated{p, math.Sqrt(square / (repeats * (repeats - 1)))}
}

// answer sums up.
func (m *mixture) answer() *Answer {
	a := &Answer{Causes: m.causes}
	for i := range a.Causes {
		c := &a.Causes[i]
		c.Stated = m.stated(false, func(y *tally) *[repeats]float64 {
			if y.at == i {
				return &y.weight
			}
			return nil
		})
		a.Worst = max(a.Worst, c.Error)
	}
	for j, q := range m.p.Design.Parts {
		event := func(k int) Stated {
			return m.stated(true, func(y *tally) *[repeats]float64 { return &y.events[j*eventsOfPart+k] })
		}
		b := PartAnswer{Name: q.Name, Out: event(0), Below: [3]Stated{event(1), event(2), event(3)}}
		a.Parts = append(a.Parts, b)
		a.Worst = max(a.Worst, b.Out.Error, b.Below[0].Error, b.Below[1].Error, b.Below[2].Error)
	}
	sum, square := 0., 0.
	for _, y := range m.tallies {
		if a.Draws += repeats * y.n; y.wide {
			continue
		}
		for r := range repeats {
			sum += y.mean(&y.weight, r)
		}
		square += y.square * sq(y.h.Odds/float64(y.n))
	}
	a.Effective = sum * sum / square
	return a
}

// refine doubles the draws of those hypotheses whose scatter, or whose worth that no draw may have met, is large against the
// error that is wanted; false where that is reached.
func (m *mixture) refine() bool {
	total := 0.
	for r := range repeats {
		total += m.total(r) / repeats
	}
	errors, worst := make([]float64, len(m.tallies)), 0.
	for i, y := range m.tallies {
		if y.n*repeats < m.o.Draws {
			errors[i] = m.doubt(y, total)
		}
		worst = max(worst, errors[i])
	}
	if total > 0 && worst <= 3*m.o.Error && m.answer().Worst <= m.o.Error {
		return false
	}
	for i, y := range m.tallies {
		if errors[i] > 0 && errors[i] >= 0.3*worst {
			m.more(y, y.n)
		}
	}
	return worst > 0
}

// doubt is what a hypothesis adds to the error of the probabilities, roughly: its scatter, or what the likeliest draw would be
// worth. One that no draw has met is worth less than three of those, with 95 % (the rule of three).
func (m *mixture) doubt(y *tally, total float64) float64 {
	mean, square := 0., 0.
	for r := range repeats {
		mean += y.mean(&y.weight, r) / repeats
	}
	for r := range repeats {
		square += sq(y.mean(&y.weight, r) - mean)
	}
	scatter := math.Sqrt(square / (repeats * (repeats - 1)))
	worth := y.h.Odds * m.times.most / float64(y.n*repeats)
	return max(scatter, worth) / total
}
