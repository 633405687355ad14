package posterior

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/floats"

	"offbeat/fit/circuit"
)

// plain are boards of the priors, on a lattice that meets what is rare more often: parts far out of tolerance are what a board that
// nothing explains may have besides.
type plain struct {
	once     sync.Once
	system   *system
	parts    int // of the circuit
	points   int
	lattices [replicates]*lattice
	draws    []Density        // of which the variables are drawn
	lean     []float64        // logarithms of the weights of the boards
	times    [][]float64      // the logarithms of each board's times, and the facts, where it runs; since a baseline, of the nominal one alone
	boards   []circuit.Values // they themselves; none since a baseline
	extra    []float64        // likewise, those of one board after the other
}

// plainPoints is how many they are, and plainBrief of one board of many.
const (
	plainPoints = 1024
	plainBrief  = 512
)

// shared is room for the boards of each hypothesis that explains nothing; those of the same boards have one.
func shared(hypotheses []Hypothesis) []*plain {
	all := make([]*plain, len(hypotheses))
	for i := range hypotheses {
		if h := &hypotheses[i]; h.Unexplained {
			if k := slices.IndexFunc(hypotheses[:i], h.sameBoards); k >= 0 {
				all[i] = all[k]
			} else {
				all[i] = &plain{}
			}
		}
	}
	return all
}

// sameBoards says whether two hypotheses that explain nothing do so about the same boards.
func (h *Hypothesis) sameBoards(o Hypothesis) bool {
	variables := func(a, b []Variable) bool {
		return slices.EqualFunc(a, b, func(a, b Variable) bool { return a.Slot == b.Slot && a.Log == b.Log && a.Density.equal(b.Density) })
	}
	return h.Unexplained && o.Unexplained && h.Circuit == o.Circuit && h.Base == o.Base && h.Tie == nil && o.Tie == nil && h.See == nil && o.See == nil &&
		slices.Equal(h.Fixed, o.Fixed) && slices.EqualFunc(h.Prior, o.Prior, Density.equal) && variables(h.Override, o.Override) && variables(h.Nuisance, o.Nuisance)
}

// fill makes the boards of the hypothesis.
func (b *plain) fill(p *Problem, h *Hypothesis, points int) {
	b.system, b.parts, b.points = newSystem(p, h), len(h.Prior), points
	s := b.system
	for i := range b.lattices {
		b.lattices[i] = newLattice(len(s.vars), points/replicates, i, p.Seed)
	}
	if !s.possible() {
		return
	}
	z := b.begin()
	n, width := points, len(p.Extra)
	if p.Present != nil {
		n = 1
	} else {
		b.boards, b.extra = make([]circuit.Values, n), make([]float64, n*width)
	}
	b.times, b.lean = make([][]float64, n), make([]float64, n)
	var own []Density
	for _, v := range s.vars {
		d := v.Density
		own = append(own, d.Normalised()) // costs more than the rest of a point
		if p.Present == nil {
			d = d.raised()
		}
		b.draws = append(b.draws, d)
	}
	u, room := make([]float64, len(s.vars)), make([]float64, n*s.times())
	for k := range b.times {
		if p.Present == nil {
			b.place(s, k, u, z)
			for j, d := range b.draws {
				b.lean[k] += own[j].LogAt(z[j]) - d.LogAt(z[j])
			}
		}
		r := room[k*s.times():][:s.times()]
		if s.residual(z, r) {
			floats.Add(r, s.data)
			b.times[k] = r
		}
		if p.Present == nil {
			s.at(z, &b.boards[k], b.extra[k*width:])
		}
	}
}

// begin is the nominal board, without noise: that is nothing against the misfit.
func (b *plain) begin() []float64 {
	s := b.system
	z := slices.Clone(s.centre)
	clear(z[len(s.vars):])
	for i := range b.parts {
		z[i] = math.Log(s.problem.Base[i])
	}
	return z
}

// place moves z to board k, by way of u.
func (b *plain) place(s *system, k int, u, z []float64) {
	n := b.points / replicates
	b.lattices[k/n].point(k%n, u)
	for j := range s.vars {
		if s.problem.Present == nil || j < b.parts {
			z[j] = b.draws[j].Quantile(u[j])
		}
	}
}

// unexplained averages over them for what was measured: the logarithms of the times are normal about a board's own in one
// of the forms of the misfit, but for settled captures, the facts as each says. So a design that leaves its times wide
// open has no narrow place for boards that nothing explains.
func (b *plain) unexplained(p *Problem, h *Hypothesis) estimate {
	e := estimate{logEvidence: math.Inf(-1), points: b.points}
	if len(b.times) == 0 {
		return e
	}
	s := b.system.clone()
	s.problem, s.data, s.errors = p, nil, nil
	s.collectData()
	forms, errors := make([]form, len(h.Misfit)), make([]float64, len(p.Facts))
	for i := range forms {
		forms[i] = h.Misfit[i].about(p.Data)
	}
	logs, top := make([]float64, len(b.times)*len(forms)), math.Inf(-1)
	for k, times := range b.times {
		of := logs[k*len(forms):][:len(forms)]
		if times == nil {
			for i := range of {
				of[i] = math.Inf(-1)
			}
			continue
		}
		rest := b.lean[k]
		floats.SubTo(errors, times[s.times()-len(errors):], s.data[s.times()-len(errors):])
		for k := 0; k < len(errors); k++ {
			if f := &p.Facts[k]; f.Odd != nil {
				rest += f.Odd(errors[k : k+f.Odds])
				k += f.Odds - 1
				continue
			}
			rest -= 0.5*errors[k]*errors[k] + 0.5*math.Log(2*math.Pi)
		}
		for i := range forms {
			of[i] = rest + forms[i].logDensity(times)
			top = max(top, of[i])
		}
	}
	if math.IsInf(top, -1) {
		return e
	}
	e.weights = make([]float64, e.points)
	for k := range e.weights {
		if k >= len(b.times) {
			e.weights[k] = e.weights[0]
			continue
		}
		for _, l := range logs[k*len(forms):][:len(forms)] {
			if l > top-lightest {
				e.weights[k] += math.Exp(l - top)
			}
		}
	}
	e.tally()
	e.logEvidence = top + math.Log(e.total/float64(e.points))
	for _, d := range h.Prior {
		e.logEvidence += math.Log(d.Mass())
	}
	z, u, width := b.begin(), make([]float64, len(s.vars)), len(s.extra)
	e.at = func(k int, v *circuit.Values, extra []float64) {
		if k < len(b.boards) {
			*v = b.boards[k]
			copy(extra, b.extra[k*width:])
			return
		}
		b.place(s, k, u, z)
		s.at(z, v, extra)
	}
	return e
}

// lightest is the logarithm of how much less a form of the misfit weighs on one board than the likeliest on any where it is left out: all
// that are left out add less than rounding.
const lightest = 50
