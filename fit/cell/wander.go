package cell

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// softest is the white noise, in cells, below which the evidence along a bend is no normal curve.
const softest = 0.012

// Wander looks for a random walk of the edges about the fitted line, by its projections on the Legendre polynomials of
// degree 2 to 4: along each, the evidence is taken as normal. It returns the posterior mean of the walk's
// variance per period, log-uniform between exp(lo) and exp(hi), and the log of the evidence over that
// of no walk.
func (f *Fit) Wander(lo, hi float64) (walk, gain float64) {
	p, sigma, period, room := f.of, max(f.White, softest), f.start, f.room
	still, _, _, _ := p.solve(sigma, period, room)
	reach := math.Sqrt(math.Exp(hi) * p.cycles)
	var mean, spread, share [3]float64
	for j := range mean {
		n := float64(j + 2)
		// variance of the projection of a unit walk: (1/(2n+3) + 1/(2n-1)) / (4 (2n+1))
		share[j] = (1/(2*n+3) + 1/(2*n-1)) / (4 * (2*n + 1)) * p.cycles
		d := sigma + 0.5/p.cycles
		up := p.bent(j+2, d, sigma, period, room)
		down := p.bent(j+2, -d, sigma, period, room)
		slope, curve := (up-down)/(2*d), (2*still-up-down)/(d*d)
		curve = max(curve, 0.1/(d*d), math.Abs(slope)/reach) // a bend beyond what a steady train has is none of it
		mean[j], spread[j] = slope/curve, 1/curve
	}
	const steps = 60
	var logs, sizes [steps]float64
	for i := range steps {
		q := math.Exp(lo + (hi-lo)*(float64(i)+0.5)/steps)
		l := 0.0
		for j := range mean {
			v := q*share[j] + spread[j]
			l -= 0.5 * (math.Log(v/spread[j]) + mean[j]*mean[j]*(1/v-1/spread[j]))
		}
		logs[i], sizes[i] = l, q
	}
	gain = floats.LogSumExp(logs[:])
	for i, l := range logs {
		walk += math.Exp(l-gain) * sizes[i]
	}
	return walk, gain - math.Log(steps)
}

// bent is the log of the integral after the edges have been moved by size times the normalised Legendre
// polynomial of the degree given.
func (p *cells) bent(degree int, size, sigma, period, room float64) float64 {
	straight := p.Edges
	first, last := straight.span()
	p.Side = [2][]float64{}
	for s := range p.Side {
		for i, k := range p.Index[s] {
			p.Side[s] = append(p.Side[s], straight.Side[s][i]-size*legendre(degree, (k-first)/(last-first)))
		}
	}
	l, _, _, _ := p.solve(sigma, period, room)
	p.Edges = straight
	return l
}

// legendre is the shifted Legendre polynomial on [0, 1], normalised to mean square one.
func legendre(degree int, x float64) float64 {
	z := 2*x - 1
	a, b := 1.0, z
	for n := 1; n < degree; n++ {
		a, b = b, (float64(2*n+1)*z*b-float64(n)*a)/float64(n+1)
	}
	return math.Sqrt(float64(2*degree+1)) * b
}
