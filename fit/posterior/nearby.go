package posterior

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Of a fit of planes.
const (
	mostKnown = 256     // points it takes at most
	perPlane  = 3       // and at least for each of a plane's coefficients
	flat      = 0.01    // by how much the determinant may stray from its plane (standard deviation of the logarithm)
	mostKept  = 1 << 18 // elements of all points' inverses: more are not kept
)

// learn fits planes to the solved points of the cloud; nil where they are too few or too curved for that.
func (s *system) learn() *nearby {
	c, m, n, all := &s.cloud, s.times(), len(s.free), len(s.begin)
	if c.met < perPlane*(n+1) || c.logDet == nil {
		return nil
	}
	var known []int
	for k, l := range c.log {
		if !math.IsInf(l, -1) {
			known = append(known, k)
		}
	}
	if skip := len(known) / mostKnown; skip > 1 {
		for i := range mostKnown {
			known[i] = known[i*skip]
		}
		known = known[:mostKnown]
	}
	b := &nearby{}
	x, y := mat.NewDense(len(known), n+1, nil), mat.NewDense(len(known), m+1+m*m, nil)
	for i, k := range known {
		s.place(c.z[k*all:], x.RawRowView(i))
		to := y.RawRowView(i)
		for p, j := range s.pivots {
			to[p] = c.z[k*all+j]
		}
		to[m] = c.logDet[k]
		copy(to[m+1:], c.inverse[k*m*m:][:m*m])
	}
	if b.planes.Solve(x, y) != nil {
		return nil
	}
	off := 0.0
	for i := range known {
		d := y.At(i, m) - mat.Dot(x.RowView(i), b.planes.ColView(m))
		off += d * d
	}
	if math.Sqrt(off/float64(len(known)-n-1)) > flat {
		return nil
	}
	return b
}

// place writes where the free unknowns of z lie from where solutions begin, in spreads, after a one.
func (s *system) place(z, x []float64) {
	x[0] = 1
	for f, j := range s.free {
		x[f+1] = (z[j] - s.begin[j]) / s.spread[j]
	}
}

// solve moves the pivots of z to the solution by the Jacobian that the planes tell; false where that takes more than a few steps.
func (b *nearby) solve(s *system, z []float64, w *solver) bool {
	m := len(s.pivots)
	s.place(z, w.place)
	clear(w.told)
	for i, x := range w.place {
		floats.AddScaled(w.told, x, b.planes.RawRowView(i))
	}
	for p, j := range s.pivots {
		z[j] = w.told[p]
	}
	before := math.Inf(1)
	for range 4 {
		if !s.residual(z, w.r) {
			return false
		}
		now := worst(w.r)
		for p, j := range s.pivots {
			z[j] -= floats.Dot(w.told[m+1+p*m:][:m], w.r)
		}
		if now < s.tol || now*(now/before) < s.tol {
			w.logDet = w.told[m]
			copy(w.inverse, w.told[m+1:])
			return true
		}
		before = now
	}
	return false
}
