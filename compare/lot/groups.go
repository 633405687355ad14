package lot

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// point is a board's (ln high, ln low) against its prediction.
type point [2]float64

// mixture is two normal groups of one covariance, of points that were made round.
type mixture struct {
	points []point
	share  [2]float64
	mean   [2]point
	member []float64 // probability of each point to be of the second group
	log    float64   // likelihood
}

// How two groups are told from one.
const (
	leastGroup  = 3   // boards
	leastShare  = 0.1 // of the lot
	mixtureEnds = 60  // steps of the fit
	resolved    = 2   // standard uncertainties of measuring a board by which two groups must lie apart
	against     = 3   // by how much in ln likelihood groups must beat one that is spread evenly, or a smooth course along the boards
	shapely     = 20  // boards from which on the shape of one group shows
	twoPeaks    = 2   // by how much they must beat any with a single peak then
	binsPer     = 3   // bins that the boards are counted in for it, times the cube root of their number
	fewBoards   = 12  // below them chance gains more
)

// byChance is the gain in 2 ln likelihood that one normal lot in a thousand or fewer reaches by chance, by the number of times: of 4,000
// lots each of 8 to 30 boards, 1,000 of up to 500, the thousandth part gains 15.9 at most with one, 21.9 with two, 26.3 where they are few.
func byChance(boards, dimensions int) float64 {
	switch {
	case dimensions == 1:
		return 16
	case boards < fewBoards:
		return 26.5
	}
	return 22
}

// twoGroups tells whether the points are two groups rather than one, by likelihood: two normal groups of one covariance against one,
// whose ratio no linear map changes (McLachlan 1987), and against one group of other shapes along the line between the two. Nil: one
// group.
func twoGroups(points []point, dimensions int) *mixture {
	n := len(points)
	if n < 2*leastGroup+2 {
		return nil
	}
	gain, best := mixtureGain(points, dimensions)
	if best == nil || gain <= byChance(n, dimensions) {
		return nil
	}
	small := min(best.share[0], best.share[1])
	if small*float64(n) < leastGroup || small < leastShare || !best.apart() {
		return nil
	}
	return best
}

// mixtureGain is twice the gain in ln likelihood of two groups over one, from the best of several starts.
func mixtureGain(points []point, dimensions int) (float64, *mixture) {
	n := float64(len(points))
	mean, covariance := momentsOf(points)
	white, ok := whitener(covariance, dimensions)
	if !ok {
		return 0, nil
	}
	z := make([]point, len(points))
	for i, p := range points {
		z[i] = white.of(point{p[0] - mean[0], p[1] - mean[1]})
	}
	single := -0.5 * n * float64(dimensions) * (1 + math.Log(2*math.Pi)) // of whitened points, by construction
	var best *mixture
	for _, direction := range []point{{1, 0}, {0, 1}, {1, 1}, {1, -1}}[:3*dimensions-2] {
		for _, share := range []float64{0.2, 0.5, 0.8} {
			if m := fitMixture(z, dimensions, direction, share); m != nil && (best == nil || m.log > best.log) {
				best = m
			}
		}
	}
	if best == nil {
		return 0, nil
	}
	return 2 * (best.log - single), best
}

// momentsOf are the mean and the covariance (over n) of points.
func momentsOf(points []point) (mean point, c [3]float64) {
	n := float64(len(points))
	for _, p := range points {
		mean[0], mean[1] = mean[0]+p[0]/n, mean[1]+p[1]/n
	}
	for _, p := range points {
		a, b := p[0]-mean[0], p[1]-mean[1]
		c[0], c[1], c[2] = c[0]+a*a/n, c[1]+a*b/n, c[2]+b*b/n
	}
	return mean, c
}

// lower is the inverse of a Cholesky factor: it makes points of that covariance round.
type lower [3]float64

func (l lower) of(p point) point { return point{l[0] * p[0], l[1]*p[0] + l[2]*p[1]} }

func whitener(c [3]float64, dimensions int) (lower, bool) {
	if !(c[0] > 0) {
		return lower{}, false
	}
	a := math.Sqrt(c[0])
	if dimensions == 1 {
		return lower{1 / a, 0, 0}, true
	}
	b := c[1] / a
	rest := c[2] - b*b
	if !(rest > 1e-9*c[2]) {
		return lower{}, false
	}
	d := math.Sqrt(rest)
	return lower{1 / a, -b / (a * d), 1 / d}, true
}

// fitMixture climbs from the points beyond a share along a direction (Dempster, Laird and Rubin 1977).
func fitMixture(z []point, dimensions int, direction point, share float64) *mixture {
	n := float64(len(z))
	along := make([]float64, len(z))
	for i, p := range z {
		along[i] = p[0]*direction[0] + p[1]*direction[1]
	}
	cut := slices.Sorted(slices.Values(along))[int(share*n)]
	m := &mixture{points: z, member: make([]float64, len(z))}
	var sum point
	var whole [3]float64
	for i, a := range along {
		if a >= cut {
			m.member[i] = 1
		}
		x, y := z[i][0], z[i][1]
		sum[0], sum[1] = sum[0]+x, sum[1]+y
		whole[0], whole[1], whole[2] = whole[0]+x*x/n, whole[1]+x*y/n, whole[2]+y*y/n
	}
	last := math.Inf(-1)
	for range mixtureEnds {
		second, x, y := 0.0, 0.0, 0.0
		for i, w := range m.member {
			second, x, y = second+w, x+w*z[i][0], y+w*z[i][1]
		}
		first := n - second
		if second < 1 || first < 1 {
			return nil
		}
		m.share = [2]float64{first / n, second / n}
		m.mean = [2]point{{(sum[0] - x) / first, (sum[1] - y) / first}, {x / second, y / second}}
		c := whole // less what lies between the groups
		for g, q := range m.mean {
			c[0], c[1], c[2] = c[0]-m.share[g]*q[0]*q[0], c[1]-m.share[g]*q[0]*q[1], c[2]-m.share[g]*q[1]*q[1]
		}
		white, ok := whitener(c, dimensions)
		if !ok {
			return nil
		}
		size := math.Log(white[0]) - 0.5*float64(dimensions)*math.Log(2*math.Pi)
		if dimensions == 2 {
			size += math.Log(white[2])
		}
		one, two := math.Log(m.share[0])+size, math.Log(m.share[1])+size
		m.log = 0
		less := 1.0 // what the less likely groups add, as a product: its logarithm is taken once in a while
		for i, p := range z {
			q, r := white.of(point{p[0] - m.mean[0][0], p[1] - m.mean[0][1]}), white.of(point{p[0] - m.mean[1][0], p[1] - m.mean[1][1]})
			a, b := one-0.5*(q[0]*q[0]+q[1]*q[1]), two-0.5*(r[0]*r[0]+r[1]*r[1])
			e := math.Exp(-math.Abs(b - a))
			if m.member[i] = 1 / (1 + e); b < a {
				m.member[i] = e / (1 + e)
			}
			m.log += max(a, b)
			if less *= 1 + e; less > 1e300 {
				m.log, less = m.log+math.Log(less), 1
			}
		}
		m.log += math.Log(less)
		if m.log-last < 1e-8*math.Abs(m.log) {
			break
		}
		last = m.log
	}
	return m
}

// apart says whether the groups explain how the points lie along the line between them better than one group does that is
// spread evenly over their range and, of many boards, than any with a single peak: parts that fill their tolerance, or were cut
// off at its ends, look like two groups to a normal curve.
func (m *mixture) apart() bool {
	d := point{m.mean[1][0] - m.mean[0][0], m.mean[1][1] - m.mean[0][1]}
	length := math.Hypot(d[0], d[1])
	var at []float64
	var middle [2]float64
	for g := range middle {
		middle[g] = (m.mean[g][0]*d[0] + m.mean[g][1]*d[1]) / length
	}
	within := 0.0
	for i, z := range m.points {
		y := (z[0]*d[0] + z[1]*d[1]) / length
		at = append(at, y)
		for g, w := range [2]float64{1 - m.member[i], m.member[i]} {
			within += w * (y - middle[g]) * (y - middle[g]) / float64(len(m.points))
		}
	}
	low, high := slices.Min(at), slices.Max(at)
	bins := make([]float64, int(binsPer*math.Cbrt(float64(len(at)))))
	width := (high - low) / float64(len(bins))
	for _, y := range at {
		bins[min(int((y-low)/width), len(bins)-1)]++
	}
	sd := math.Sqrt(within)
	if two := m.along(at, middle, sd); two <= -float64(len(at))*math.Log(high-low)+against {
		return false
	} else if len(at) < shapely {
		return true
	}
	two := 0.0
	below := func(k int) (p float64) {
		switch k {
		case 0:
			return 0
		case len(bins):
			return 1
		}
		for g, share := range m.share {
			p += share * distuv.UnitNormal.CDF((low+float64(k)*width-middle[g])/sd)
		}
		return p
	}
	for k, n := range bins {
		if n > 0 {
			two += n * math.Log((below(k+1)-below(k))*float64(len(at))/n)
		}
	}
	return two > onePeak(bins)+twoPeaks
}

// along is the ln likelihood of places along the line between the groups' middles, with the groups' spread along it.
func (m *mixture) along(at []float64, middle [2]float64, sd float64) (log float64) {
	for _, y := range at {
		both := 0.0
		for g, share := range m.share {
			both += share * distuv.Normal{Mu: middle[g], Sigma: sd}.Prob(y)
		}
		log += math.Log(both)
	}
	return log
}

// onePeak is the greatest ln likelihood of counts under a density that rises to one peak and falls from there, against that of
// their own shares: each side is a run of pools, no lower than the one before (Barlow, Bartholomew, Bremner and Brunk 1972).
func onePeak(counts []float64) float64 {
	turned := slices.Clone(counts)
	slices.Reverse(turned)
	up, down := rising(counts), rising(turned)
	best := math.Inf(-1)
	for k := range up {
		best = max(best, up[k]+down[len(counts)-k])
	}
	return best
}

// rising is the greatest ln likelihood of the first 0, 1 … counts under shares that never fall, against their own.
func rising(counts []float64) []float64 {
	type pool struct{ sum, n, log float64 } // log: of the pools up to and with this one
	log := func(p pool) float64 {
		if p.sum == 0 {
			return 0
		}
		return p.sum * math.Log(p.sum/p.n)
	}
	var pools []pool
	out, own := []float64{0}, 0.0
	for _, n := range counts {
		p := pool{sum: n, n: 1}
		own += log(p)
		for len(pools) > 0 && pools[len(pools)-1].sum*p.n >= p.sum*pools[len(pools)-1].n {
			last := pools[len(pools)-1]
			p.sum, p.n, pools = p.sum+last.sum, p.n+last.n, pools[:len(pools)-1]
		}
		if p.log = log(p); len(pools) > 0 {
			p.log += pools[len(pools)-1].log
		}
		pools = append(pools, p)
		out = append(out, p.log-own)
	}
	return out
}
