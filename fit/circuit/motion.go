package circuit

import "math"

// motion is how the charged nodes move in one state of the device and of the diodes: their modes, and what is watched.
type motion struct {
	low    bool
	mask   int
	n      int                                 // charged nodes
	m      int                                 // those that move; the others are held by a diode
	node   [mostStates]int                     // the moving ones
	rate   [mostStates]float64                 // 1/s of each mode; 0: nothing holds it, it drifts
	goal   [mostStates]float64                 // where each mode settles; of one that drifts, its velocity
	clamp  [mostStates]float64                 // V at which a diode holds a node that does not move
	shape  [mostStates][mostStates]float64     // voltage of the moving node i from mode k
	into   [mostStates][mostStates]float64     // mode k from the voltage of moving node i
	differ [2][1 + mostStates]float64          // what passes zero at the end of the state
	hold   [mostDiodes][1 + mostStates]float64 // what stays above zero while the diodes are as they are
	nd, nh int                                 // how many of these
}

// mostOutputs is what a tape of one state of the device and of the diodes computes at most.
const mostOutputs = mostStates*(mostStates+5)/2 + (2+mostDiodes)*(1+mostStates)

// longest is how long a board whose nodes drift is followed, s: no cycle is as slow.
const longest = 1e9

// leastRate is the rate relative to the fastest below which a mode drifts: what is left of it is rounding.
const leastRate = 4e-15

// move computes the motion from the values.
func (e *engine) move(v *Values, low bool, mask int, c *charges, o *motion) {
	s := side(low)
	p := &e.pieces[s][mask]
	var r [mostOutputs]float64
	p.tape.eval(v, r[:])
	at := 0
	take := func() float64 { at++; return r[at-1] }
	n := e.n
	o.low, o.mask, o.n, o.m, o.nd, o.nh = low, mask, n, 0, e.ends[s], e.diodes
	var own, current [mostStates]float64
	var g [mostStates][mostStates]float64
	for i := range n {
		own[i], current[i] = take(), take()
		for k := i + 1; k < n; k++ {
			g[i][k] = take()
			g[k][i] = g[i][k]
		}
	}
	for i := range o.nd {
		for k := range n + 1 {
			o.differ[i][k] = take()
		}
	}
	for i := range o.nh {
		for k := range n + 1 {
			o.hold[i][k] = take()
		}
	}
	for i := range n {
		if p.frozen>>i&1 == 0 {
			o.node[o.m] = i
			o.m++
		} else {
			o.clamp[i] = take()
		}
	}
	// Of the moving nodes: conductances, currents, capacitances.
	var a, b [mostStates][mostStates]float64
	var j [mostStates]float64
	for i := range o.m {
		p := o.node[i]
		sum := own[p]
		j[i] = current[p]
		for k := range n {
			sum += g[p][k]
		}
		for k := range n {
			if frozen := !o.moves(k); frozen && k != p {
				j[i] += g[p][k] * o.clamp[k]
			}
		}
		for k := range o.m {
			b[i][k] = c.matrix[p][o.node[k]]
			a[i][k] = -g[p][o.node[k]]
		}
		a[i][i] = sum
	}
	if o.m == 1 {
		o.rate[0], o.goal[0] = a[0][0]/b[0][0], j[0]/b[0][0]
		if o.rate[0] > 0 {
			o.goal[0] = j[0] / a[0][0]
		}
		o.shape[0][0], o.into[0][0] = 1, 1
		return
	}
	o.modes(&a, &b, &j)
}

// moves says whether the node is among those that move.
func (o *motion) moves(p int) bool {
	for i := range o.m {
		if o.node[i] == p {
			return true
		}
	}
	return false
}

// modes solves b x' = j - a x for symmetric positive a and b: with b = l l', the eigenvectors of l⁻¹ a l⁻ᵀ.
func (o *motion) modes(a, b *[mostStates][mostStates]float64, j *[mostStates]float64) {
	m := o.m
	l := *b
	for i := range m { // Cholesky
		for k := range i + 1 {
			sum := l[i][k]
			for q := range k {
				sum -= l[i][q] * l[k][q]
			}
			if i == k {
				l[i][i] = math.Sqrt(sum)
			} else {
				l[i][k] = sum / l[k][k]
			}
		}
	}
	s := *a
	for k := range m { // columns of l⁻¹ a
		for i := range m {
			for q := range i {
				s[i][k] -= l[i][q] * s[q][k]
			}
			s[i][k] /= l[i][i]
		}
	}
	for i := range m { // rows, times l⁻ᵀ
		for k := range m {
			for q := range k {
				s[i][k] -= l[k][q] * s[i][q]
			}
			s[i][k] /= l[k][k]
		}
	}
	var u [mostStates][mostStates]float64
	for i := range m {
		u[i][i] = 1
	}
	jacobi(m, &s, &u)
	f := *j
	for k := range m {
		for i := range m {
			o.into[k][i], o.shape[i][k] = 0, 0
		}
	}
	for i := range m { // l⁻¹ j
		for q := range i {
			f[i] -= l[i][q] * f[q]
		}
		f[i] /= l[i][i]
	}
	fastest := 0.0
	for k := range m {
		fastest = max(fastest, s[k][k])
	}
	for k := range m {
		o.rate[k] = s[k][k]
		force := 0.0
		for i := range m {
			force += u[i][k] * f[i]
			into := 0.0 // u' l'
			for q := range i + 1 {
				into += u[q][k] * l[i][q]
			}
			o.into[k][i] = into
			o.shape[i][k] = u[i][k]
		}
		if o.goal[k] = force / o.rate[k]; o.rate[k] <= leastRate*fastest {
			o.rate[k], o.goal[k] = 0, force
		}
		for i := m - 1; i >= 0; i-- { // l⁻ᵀ u
			for q := i + 1; q < m; q++ {
				o.shape[i][k] -= l[q][i] * o.shape[q][k]
			}
			o.shape[i][k] /= l[i][i]
		}
	}
}

// jacobi turns the symmetric s diagonal by rotations, which u collects (Golub and Van Loan, Matrix Computations, 8.5).
func jacobi(m int, s, u *[mostStates][mostStates]float64) {
	for range 30 {
		off := 0.0
		for i := range m {
			for k := range i {
				off = max(off, math.Abs(s[i][k])/math.Sqrt(math.Abs(s[i][i]*s[k][k])))
			}
		}
		if !(off > 1e-15) {
			return
		}
		for p := range m {
			for q := p + 1; q < m; q++ {
				if s[p][q] == 0 {
					continue
				}
				theta := (s[q][q] - s[p][p]) / (2 * s[p][q])
				t := 1 / (math.Abs(theta) + math.Sqrt(theta*theta+1))
				if theta < 0 {
					t = -t
				}
				c := 1 / math.Sqrt(t*t+1)
				n := t * c
				x := s[p][q]
				s[p][p], s[q][q] = s[p][p]-t*x, s[q][q]+t*x
				s[p][q], s[q][p] = 0, 0
				for i := range m {
					if i != p && i != q {
						a, b := s[i][p], s[i][q]
						s[i][p] = c*a - n*b
						s[i][q] = n*a + c*b
						s[p][i], s[q][i] = s[i][p], s[i][q]
					}
					a, b := u[i][p], u[i][q]
					u[i][p], u[i][q] = c*a-n*b, n*a+c*b
				}
			}
		}
	}
}

// start gives each mode's distance from its goal at the voltages x; of one that drifts, where it is.
func (o *motion) start(x *[mostStates]float64) (d [mostStates]float64) {
	for k := range o.m {
		for i := range o.m {
			d[k] += o.into[k][i] * x[o.node[i]]
		}
		if o.rate[k] > 0 {
			d[k] -= o.goal[k]
		}
	}
	return d
}

// after moves the voltages on by t.
func (o *motion) after(x *[mostStates]float64, t float64) {
	if t == 0 {
		return
	}
	d := o.start(x)
	for k := range o.m {
		if o.rate[k] > 0 {
			d[k] = o.goal[k] + d[k]*math.Exp(-o.rate[k]*t)
		} else {
			d[k] += o.goal[k] * t
		}
	}
	for i := range o.m {
		sum := 0.0
		for k := range o.m {
			sum += o.shape[i][k] * d[k]
		}
		x[o.node[i]] = sum
	}
}

// drifts says whether a node that nothing holds is moved by what a pin draws, so that nothing comes to rest.
func (o *motion) drifts() bool {
	for k := range o.m {
		if o.rate[k] == 0 && o.goal[k] != 0 {
			return true
		}
	}
	return false
}

// slowest is the smallest rate; of a node that drifts one at which all is over after the longest time.
func (o *motion) slowest() float64 {
	r := math.Inf(1)
	for k := range o.m {
		if r = min(r, o.rate[k]); r == 0 {
			return rest / longest
		}
	}
	return r
}

// rest is after how many time constants a node is taken to be at rest.
const rest = 60

// course is a watched quantity in time: end + Σ part[k] exp(-rate[k] t), or - part[k] t of a mode that drifts.
type course struct {
	m    int
	end  float64
	part [mostStates]float64
	rate *[mostStates]float64
}

// course of an affine of the nodes, from the voltages x whose modes stand d from their goals.
func (o *motion) course(h *[1 + mostStates]float64, x, d *[mostStates]float64) course {
	c := course{m: o.m, end: h[0], rate: &o.rate}
	for p := range o.n {
		if h[1+p] != 0 && !o.moves(p) {
			c.end += h[1+p] * x[p]
		}
	}
	for k := range o.m {
		w := 0.0
		for i := range o.m {
			w += h[1+o.node[i]] * o.shape[i][k]
		}
		if o.rate[k] > 0 {
			c.end += w * o.goal[k]
			c.part[k] = w * d[k]
		} else {
			c.end += w * d[k]
			c.part[k] = -w * o.goal[k]
		}
	}
	return c
}

// left is by what a part counts after t.
func (c *course) left(k int, t float64) float64 {
	if c.rate[k] > 0 {
		return math.Exp(-c.rate[k] * t)
	}
	return -t
}

// falls is how fast what is left falls, 1/s.
func (c *course) falls(k int, left float64) float64 {
	if c.rate[k] > 0 {
		return c.rate[k] * left
	}
	return 1
}

func (c *course) at(t float64) float64 {
	y := c.end
	for k := range c.m {
		y += c.part[k] * c.left(k, t)
	}
	return y
}

// slope is d/dt.
func (c *course) slope(t float64) float64 {
	y := 0.0
	for k := range c.m {
		y -= c.part[k] * c.falls(k, c.left(k, t))
	}
	return y
}

// rises is when the course first rises above zero within 0 … until, being at or below it at 0; false where it does not.
// Bounds over whole intervals decide, so that no crossing is missed between two looks.
func (c *course) rises(until float64) (float64, bool) {
	if c.m == 0 {
		return 0, false
	}
	if c.m == 1 && c.rate[0] == 0 {
		t := c.end / c.part[0]
		return max(t, 0), c.part[0] < 0 && t <= until
	}
	if c.m == 1 {
		if !(c.end > 0 && c.part[0] < 0) {
			return 0, false
		}
		t := math.Log(-c.part[0]/c.end) / c.rate[0]
		return max(t, 0), t <= until
	}
	var e0, e1 vector
	for k := range c.m {
		e0[k], e1[k] = c.left(k, 0), c.left(k, until)
	}
	return c.within(0, until, &e0, &e1, 60)
}

// within is rises between t0 and t1, where e0 and e1 are left of the modes.
func (c *course) within(t0, t1 float64, e0, e1 *vector, depth int) (float64, bool) {
	high, end, least, most := c.end, c.end, 0.0, 0.0
	for k := range c.m {
		a, b := c.part[k]*e0[k], c.part[k]*e1[k]
		s, t := -c.part[k]*c.falls(k, e0[k]), -c.part[k]*c.falls(k, e1[k])
		end += b
		high += max(a, b)
		least, most = least+min(s, t), most+max(s, t)
	}
	switch {
	case !(high > 0), !(most >= 0): // a value that is none among them
		return 0, false
	case least > 0 && end > 0:
		return c.root(t0, t1), true
	case least > 0, depth == 0:
		return t1, end > 0
	}
	mid := t0 + (t1-t0)/2
	var e vector
	for k := range c.m {
		e[k] = c.left(k, mid)
	}
	if t, ok := c.within(t0, mid, e0, &e, depth-1); ok {
		return t, true
	}
	return c.within(mid, t1, &e, e1, depth-1)
}

// root is where a course that rises throughout passes zero: Newton's method within the bracket.
func (c *course) root(low, high float64) float64 {
	t := high
	if c.at(low) > 0 {
		return low
	}
	for range 100 {
		y := c.at(t)
		if y > 0 {
			high = t
		} else {
			low = t
		}
		next := t - y/c.slope(t)
		if !(next > low && next < high) {
			next = low + (high-low)/2
		}
		if math.Abs(next-t) <= 4e-16*high || next == low || next == high {
			return next
		}
		t = next
	}
	return t
}

type vector = [mostStates]float64

type square = [mostStates][mostStates]float64
