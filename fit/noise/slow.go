package noise

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit"
	"offbeat/fit/budget"
	"offbeat/fit/stability"
	"offbeat/fit/workers"
)

const (
	slowCycles = 8    // fewest cycles in a row in which slow noise is looked for
	slowPoints = 96   // most means of neighbouring cycles that stand for the record
	slowWaves  = 20   // most waves that its bends are described by
	slowSteps  = 16   // sizes of slow noise that are tried
	slowLeast  = 0.3  // the least in stated uncertainties of the mean period: less matters to nobody
	slowMost   = 0.03 // and the most, relative
	slowShare  = 1e-3 // probability that the train is not steady below which slow noise adds nothing
	flickerLog = 4 * math.Ln2
)

// kinds of slow noise: the generalised covariance of the edge times at a distance of h periods, for unit size, and the Allan
// variance of the period over n periods.
var kinds = [2]struct {
	covariance, allan func(float64) float64
}{
	{func(h float64) float64 { return h * h * math.Log(max(h, 1e-9)) }, func(float64) float64 { return flickerLog }},
	{func(h float64) float64 { return h * h * h / 12 }, func(n float64) float64 { return n / 3 }},
}

// bends is the longest run of a chain by its slow waves: what is left of it beside a steady train.
type bends struct {
	size    []float64     // of each wave
	white   *mat.SymDense // covariance of the waves for unit white noise of every edge
	walk    *mat.SymDense // for a unit step in every period
	slow    [2]*mat.SymDense
	points  float64
	periods float64
}

// bends lays out the longest run; nil where it is short.
func (c *chain) bends() *bends {
	from, to := c.longest()
	// The mean of a cycle's rise and fall is one point, whose place is the fall's: the high time's length does not enter.
	var u, y, n []float64
	at := 0.0
	for i := from + 1; i < to; i++ {
		at += (c.dh[i]*c.h0 + c.dl[i]*c.l0) / (c.h0 + c.l0)
		if c.rise[i] || c.n[i] != c.n[i-1] {
			continue
		}
		u, y, n = append(u, at), append(y, (c.y[i]+c.y[i-1])/2), append(n, 2*c.n[i])
	}
	if len(u) < slowCycles {
		return nil
	}
	group := (len(u) + slowPoints - 1) / slowPoints
	points := len(u) / group
	for k := range points {
		mean := func(x []float64) float64 { return floats.Sum(x[k*group:(k+1)*group]) / float64(group) }
		u[k], y[k], n[k] = mean(u), mean(y), mean(n)*float64(group)
	}
	u, y, n = u[:points], y[:points], n[:points]
	b := &bends{points: float64(points), periods: u[points-1] - u[0]}
	waves := b.basis(u)
	k := len(waves)
	b.size = make([]float64, k)
	for j, w := range waves {
		b.size[j] = floats.Dot(w, y)
	}
	basis := mat.NewDense(k, points, nil)
	for j, w := range waves {
		basis.SetRow(j, w)
	}
	project := func(covariance func(i, j int) float64) *mat.SymDense {
		g := mat.NewSymDense(points, nil)
		for i := range points {
			for j := range i + 1 {
				g.SetSym(i, j, covariance(i, j))
			}
		}
		var half, full mat.Dense
		half.Mul(basis, g)
		full.Mul(&half, basis.T())
		s := mat.NewSymDense(k, nil)
		for i := range k {
			for j := range i + 1 {
				s.SetSym(i, j, (full.At(i, j)+full.At(j, i))/2)
			}
		}
		return s
	}
	b.white = project(func(i, j int) float64 {
		if i == j {
			return 1 / n[i]
		}
		return 0
	})
	b.walk = project(func(i, j int) float64 { return -math.Abs(u[i]-u[j]) / 2 })
	for q, kind := range kinds {
		b.slow[q] = project(func(i, j int) float64 { return kind.covariance(math.Abs(u[i] - u[j])) })
	}
	return b
}

// longest is the longest run of the chain, from the first observation to the one behind the last.
func (c *chain) longest() (from, to int) {
	begin := 0
	for i := range len(c.y) + 1 {
		if i == len(c.y) || c.start[i] {
			if i-begin > to-from {
				from, to = begin, i
			}
			begin = i
		}
	}
	return from, to
}

// basis is cosines of one half period of the run and more, made orthonormal to a constant, a slope and each other.
func (b *bends) basis(u []float64) [][]float64 {
	count := min(slowWaves, len(u)-4)
	all := make([][]float64, count+2)
	for j := range all {
		w := make([]float64, len(u))
		for i, x := range u {
			t := (x - u[0]) / (u[len(u)-1] - u[0])
			switch j {
			case 0:
				w[i] = 1
			case 1:
				w[i] = t - 0.5
			default:
				w[i] = math.Cos(math.Pi * float64(j-1) * t)
			}
		}
		for range 2 { // twice is enough (Giraud, Langou and Rozloznik 2005)
			for _, other := range all[:j] {
				floats.AddScaled(w, -floats.Dot(w, other), other)
			}
		}
		floats.Scale(1/floats.Norm(w, 2), w)
		all[j] = w
	}
	return all[2:]
}

// log is the log likelihood of the bends under a covariance, by elimination without square roots: a hundred small ones a
// record, for each of which a library's Cholesky factors would come with an estimate of their condition.
func (b *bends) log(s *mat.SymDense) float64 {
	n := len(b.size)
	a, z := slices.Clone(s.RawSymmetric().Data), slices.Clone(b.size)
	sum, product := 0.0, 1.0
	for k := range n {
		row := a[k*n : (k+1)*n]
		d := row[k]
		if !(d > 0) {
			return math.Inf(-1)
		}
		if product *= d; product < 1e-200 || product > 1e200 {
			sum += math.Log(product)
			product = 1
		}
		sum += z[k] * z[k] / d
		for i := k + 1; i < n; i++ {
			f := row[i] / d
			below := a[i*n : (i+1)*n]
			for j := i; j < n; j++ {
				below[j] -= f * row[j]
			}
			z[i] -= f * z[k]
		}
	}
	return -0.5 * (sum + math.Log(product))
}

// slow looks for flicker and a random walk of the period beside the noise that the ways have found, which go to and fro in
// an edge or from cycle to cycle. It returns what they add to the budget: their Allan variance over the whole record, as far
// as they are likely, and that of either kind alone. variance is that of the mean period without them.
func (m *model) slow(o *odds, variance float64, r *fit.Slow) (row budget.Row, allan [2]float64) {
	c, left := m.c, 1-o.steady()
	if left < slowShare {
		return row, allan
	}
	if m.digest != nil {
		c = m.digest
	}
	b := c.bends()
	if b == nil || len(b.size) < 3 {
		return row, allan
	}
	period := c.h0 + c.l0
	lo, hi := math.Log(slowLeast*slowLeast*variance), 2*math.Log(slowMost*period)
	if !(hi > lo) {
		return row, allan
	}
	n := len(m.ways)
	prior := -math.Log(m.c.cycles)/2 - math.Log(2*slowSteps) // one more unknown costs √N, whichever kind it is
	without := make([]float64, n)
	with := make([][2][slowSteps]float64, n)
	workers.Each(n, cores(), func(_, i int) {
		w := &m.ways[i]
		base, s := b.covariance(w), mat.NewSymDense(len(b.size), nil)
		none := b.log(base)
		without[i] = math.Log(o.ways[i]) + none
		for q := range kinds {
			for k := range slowSteps {
				size := math.Exp(lo+(hi-lo)*(float64(k)+0.5)/slowSteps) / kinds[q].allan(b.periods)
				s.ScaleSym(size, b.slow[q])
				s.AddSym(s, base)
				with[i][q][k] = math.Inf(-1)
				if more := b.log(s) - none; more > 0 { // what the record does not favour is left out: it may be as large as is too small to see
					with[i][q][k] = without[i] + more + math.Log1p(-math.Exp(-more)) + prior
				}
			}
		}
	})
	all := append([]float64(nil), without...)
	for i := range with {
		all = append(append(all, with[i][0][:]...), with[i][1][:]...)
	}
	sum := floats.LogSumExp(all)
	if math.IsInf(sum, 0) || math.IsNaN(sum) {
		return row, allan
	}
	var chance [2]float64
	for i := range with {
		for q := range kinds {
			for k, l := range with[i][q] {
				p := math.Exp(l - sum)
				chance[q] += p
				allan[q] += p * math.Exp(lo+(hi-lo)*(float64(k)+0.5)/slowSteps)
			}
		}
	}
	r.Flicker, r.Wander = chance[0]*left, chance[1]*left
	allan[0], allan[1] = allan[0]*left, allan[1]*left
	return budget.Shift(slowName, "A", "normal", math.Sqrt(allan[0]+allan[1])/period, c.h0, c.l0), allan
}

// covariance of the bends under the noise of a way. Rounding to the lattice may follow any wave, as far as noise does not
// break it up.
func (b *bends) covariance(w *way) *mat.SymDense {
	k := len(b.size)
	s, t := mat.NewSymDense(k, nil), mat.NewSymDense(k, nil)
	white, lattice := w.white+(w.fl.known[0]+w.fl.known[1])/2, (w.fl.lattice[0]+w.fl.lattice[1])/2
	s.ScaleSym(white+lattice, b.white)
	t.ScaleSym(w.excess.high+w.excess.low+w.fl.steps[0]+w.fl.steps[1], b.walk)
	s.AddSym(s, t)
	coherent := lattice * math.Exp(-4*math.Pi*math.Pi*(white+w.local)) * b.points
	for i := range k {
		s.SetSym(i, i, s.At(i, i)+coherent)
	}
	return s
}

// byChance is how often the Allan deviation of a record alone exceeds what is allowed for chance.
const byChance = 0.01

// allan holds the variance of the mean period to what the record's own Allan deviation at its longest time, hum taken off,
// allows. All noise that was found must explain that deviation, as far as chance goes (χ² with the degrees of freedom of
// NIST SP 1065, table 5, for white frequency noise); what it leaves is taken for white frequency noise, the least that such
// a deviation can mean for a longer mean. found is the Allan variance of that noise over a number of periods, in unit².
func (m *model) allan(s *fit.Series, unit float64, h *hum, found func(periods float64) float64) budget.Row {
	row := budget.Row{Name: allanName, Kind: "A", Distribution: "normal"}
	clean := fit.Series{Start: make([]float64, len(s.Start)), Every: s.Every}
	for i, x := range s.Start {
		clean.Start[i] = x/unit - h.lateRise(x/unit)
	}
	points := stability.Family(&clean)
	if len(points) == 0 {
		return row
	}
	last := points[len(points)-1]
	period := m.c.h0 + m.c.l0
	n := last.Time / period
	seen := last.Allan * last.Allan * period * period
	// Rounding of three edges is no noise: half its width at the outer ones, twice that between, all at its worst.
	rounding := 2 * 12 * m.fl.lattice[1] / (n * n)
	chance := distuv.ChiSquared{K: last.Freedom}.Quantile(1-byChance) / last.Freedom
	left := (seen-rounding)/chance - found(n)
	if !(left > 0) {
		return row
	}
	return budget.Shift(row.Name, row.Kind, row.Distribution, math.Sqrt(left*n/m.c.cycles)/period, m.c.h0, m.c.l0)
}

// lateRise is by how much a rise at x is late; h may be nil.
func (h *hum) lateRise(x float64) float64 {
	if h == nil {
		return 0
	}
	late := 0.0
	for line := range 2 {
		sin, cos := sincos(float64(line+1) * h.frequency * (x - h.middle))
		late += h.late[4*line+2]*sin + h.late[4*line+3]*cos
	}
	return late
}
