package waveform

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"offbeat/fit/waveform/lsq"
)

// runs is one kind of run fitted over all its segments.
type runs struct {
	p               []float64 // asymptote, amplitude, tau
	covariance      [][]float64
	square, freedom float64 // V², of single samples
}

// fitRuns fits one asymptote, amplitude and time constant to all segments, first as if each began at the output's edge,
// then with what the residuals say of how far their beginnings lie off it.
func fitRuns(s []segment) (*runs, error) {
	alike(s)
	p := newProblem(s)
	res, err := p.fit(start(s))
	if err != nil {
		return nil, err
	}
	if len(s) >= minClusters {
		p.loosen(res)
		if res, err = p.fit(res.P); err != nil {
			return nil, err
		}
	}
	r := &runs{p: res.P, covariance: res.Covariance, square: res.Sum, freedom: max(float64(p.size-3), 1)}
	if len(s) >= minClusters {
		r.cluster(s, p, res)
	}
	return r, nil
}

// alike ends all segments where the shortest does: with a supply that moves, the longest are those of the lowest supply,
// and what they alone show would bend the curve.
func alike(s []segment) {
	last := math.Inf(1)
	for _, g := range s {
		last = min(last, g.t[len(g.t)-1]+g.t[1]-g.t[0])
	}
	for i, g := range s {
		n, _ := slices.BinarySearch(g.t, last)
		s[i] = segment{g.t[:n], g.v[:n], g.n[:n]}
	}
}

// problem is the fit of one kind of run.
type problem struct {
	s      []segment
	weight []float64
	size   int
	along  []float64 // for each sample, how a late beginning of its segment shows in it; unit length a segment; nil: not loosened
	damp   []float64 // for each segment, the share of that pattern taken out
}

func newProblem(s []segment) *problem {
	p := &problem{s: s}
	for _, g := range s {
		for _, n := range g.n {
			p.weight = append(p.weight, math.Sqrt(n))
		}
	}
	p.size = len(p.weight)
	return p
}

func (p *problem) fit(start []float64) (*lsq.Result, error) {
	pr := lsq.Problem{Size: p.size, Positive: []bool{false, false, true}, Residual: p.residual, Jacobian: p.jacobian}
	res, err := lsq.Fit(pr, start, lsq.Settings{Iterations: 500})
	if err == nil && res.Status != lsq.Settled {
		err = errors.New(res.Status.String())
	}
	return res, err
}

func (p *problem) residual(q, r []float64) {
	i := 0
	for _, g := range p.s {
		for k, t := range g.t {
			r[i] = p.weight[i] * (g.v[k] - q[0] - q[1]*math.Exp(-t/q[2]))
			i++
		}
	}
	p.whiten(func(i int) *float64 { return &r[i] })
}

func (p *problem) jacobian(q []float64, j [][]float64) {
	i := 0
	for _, g := range p.s {
		for _, t := range g.t {
			e := math.Exp(-t / q[2])
			j[i][0], j[i][1], j[i][2] = -p.weight[i], -p.weight[i]*e, -p.weight[i]*q[1]*e*t/(q[2]*q[2])
			i++
		}
	}
	for k := range 3 {
		p.whiten(func(i int) *float64 { return &j[i][k] })
	}
}

// whiten takes out of each segment the part of the pattern that its uncertain beginning makes common: with it, the
// samples of a segment are equally scattered and independent again.
func (p *problem) whiten(at func(i int) *float64) {
	if p.along == nil {
		return
	}
	i := 0
	for k, g := range p.s {
		dot := 0.0
		for n := range g.t {
			dot += p.along[i+n] * *at(i + n)
		}
		for n := range g.t {
			*at(i + n) -= p.damp[k] * dot * p.along[i+n]
		}
		i += len(g.t)
	}
}

// loosen estimates from the residuals by how much the segments begin late or early (edges fall between samples, and
// thresholds wander), as a random shift of variance s² against the samples' noise σ².
func (p *problem) loosen(res *lsq.Result) {
	r := make([]float64, p.size)
	p.residual(res.P, r)
	along := make([]float64, p.size)
	norms, dots := make([]float64, len(p.s)), make([]float64, len(p.s))
	var inside, freedom, shift, expected float64
	i := 0
	for k, g := range p.s {
		for n, t := range g.t {
			along[i+n] = p.weight[i+n] * math.Exp(-t/res.P[2])
			norms[k] += along[i+n] * along[i+n]
		}
		norm := math.Sqrt(norms[k])
		for n := range g.t {
			along[i+n] /= norm
			dots[k] += along[i+n] * r[i+n]
			inside += r[i+n] * r[i+n]
		}
		inside -= dots[k] * dots[k]
		freedom += float64(len(g.t) - 1)
		i += len(g.t)
	}
	noise := inside / max(freedom-2, 1)
	for k := range p.s {
		shift += dots[k] * dots[k] / norms[k]
		expected += noise / norms[k]
	}
	variance := max(shift-expected, 0) / float64(len(p.s)-1)
	if variance == 0 || noise == 0 {
		return
	}
	p.along, p.damp = along, make([]float64, len(p.s))
	for k := range p.s {
		p.damp[k] = 1 - 1/math.Sqrt(1+variance*norms[k]/noise)
	}
}

// cluster widens the covariance by how the segments differ from each other as wholes: a threshold that wanders moves
// all samples of a segment together. It is B M B, where B = (J'J)^-1 and M sums the squares of each segment's J'r
// (Liang and Zeger 1986), with n/(n-1); the larger of the two variances counts.
func (r *runs) cluster(s []segment, p *problem, res *lsq.Result) {
	resid := make([]float64, p.size)
	p.residual(res.P, resid)
	m, i := mat.NewSymDense(3, nil), 0
	for _, g := range s {
		sum := make([]float64, 3)
		for range g.t {
			floats.AddScaled(sum, resid[i], res.Jacobian[i])
			i++
		}
		m.SymRankOne(m, 1, mat.NewVecDense(3, sum))
	}
	v := res.Residual * res.Residual
	if v == 0 {
		return
	}
	b := mat.NewDense(3, 3, slices.Concat(res.Covariance...))
	b.Scale(1/v, b)
	var wide mat.Dense
	wide.Product(b, m, b)
	wide.Scale(float64(len(s))/float64(len(s)-1), &wide)
	rows, times := make([][]float64, 3), 0.0
	for k := range rows {
		rows[k] = mat.Row(nil, k, &wide)
		times += rows[k][k] / res.Covariance[k][k] / 3
	}
	if times > 1 {
		r.covariance = rows
	}
}

// start guesses a run that ends where the first segment does, two time constants after its beginning: from there the fit finds its way.
func start(s []segment) []float64 {
	g, last := s[0], len(s[0].t)-1
	return []float64{g.v[last], g.v[0] - g.v[last], (g.t[last] - g.t[0]) / 2}
}
