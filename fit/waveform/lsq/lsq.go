// Package lsq fits models that are not linear in their parameters by least squares: the Levenberg-Marquardt method
// with orthogonal factors, column scaling and geodesic acceleration.
package lsq

import (
	"cmp"
	"errors"
	"math"

	"gonum.org/v1/gonum/floats"
)

// Problem is a sum of squares to be made small.
type Problem struct {
	Size     int                              // residuals
	Residual func(p, r []float64)             // fills r, observed less model, each divided by its standard deviation where that is known
	Jacobian func(p []float64, j [][]float64) // fills j[i][k] = d r_i / d p_k; nil: central differences
	Positive []bool                           // parameters fitted as their logarithm; nil: none
}

// Settings of a fit. The zero value is the default.
type Settings struct {
	Iterations int     // most iterations; 0: 2000
	Tolerance  float64 // relative change of every parameter at which the fit has settled; 0: 1e-10
}

// Status tells how a fit ended.
type Status int

const (
	Settled   Status = iota // the parameters no longer move
	Exhausted               // the iterations ran out
	Stuck                   // no step makes the sum smaller, and the last was not small
)

func (s Status) String() string { return [...]string{"settled", "iterations ran out", "stuck"}[s] }

// Result of a fit.
type Result struct {
	P          []float64
	Covariance [][]float64 // of P: residual variance times the inverse of J'J
	Sum        float64     // sum of squares
	Residual   float64     // its root mean square, Size less the number of parameters as divisor
	Jacobian   [][]float64 // at P, in the parameters themselves
	Iterations int
	Status     Status
}

// Errors of Fit.
var (
	ErrStart    = errors.New("the start gives no finite residuals, or a positive parameter is not positive")
	ErrFew      = errors.New("fewer residuals than parameters")
	ErrSingular = errors.New("the residuals do not determine every parameter")
)

const (
	startDamping = 1e-3
	probe        = 0.1
	mostDamping  = 1e30
)

// state is the work space of one fit, in the fitted coordinates u: the parameter or its logarithm.
type state struct {
	pr    Problem
	n     int
	u, p  []float64
	r     []float64
	j     [][]float64
	sum   float64
	scale []float64
}

// Fit starts at the parameters given, which it does not change.
func Fit(pr Problem, start []float64, set Settings) (*Result, error) {
	set.Iterations = cmp.Or(set.Iterations, 2000)
	set.Tolerance = cmp.Or(set.Tolerance, 1e-10)
	s := &state{pr: pr, n: len(start)}
	if pr.Size < s.n {
		return nil, ErrFew
	}
	if !s.begin(start) {
		return nil, ErrStart
	}
	status, iterations := s.descend(set)
	return s.result(status, iterations)
}

func (s *state) log(k int) bool { return s.pr.Positive != nil && s.pr.Positive[k] }

func (s *state) begin(start []float64) bool {
	s.u, s.p, s.scale = make([]float64, s.n), make([]float64, s.n), make([]float64, s.n)
	s.r = make([]float64, s.pr.Size)
	s.j = rows(s.pr.Size, s.n)
	for k, x := range start {
		if s.log(k) {
			if !(x > 0) {
				return false
			}
			x = math.Log(x)
		}
		s.u[k] = x
	}
	s.sum = s.at(s.u, s.r)
	return !math.IsInf(s.sum, 0)
}

// at fills r at the coordinates u and returns its sum of squares, +Inf where that is no number.
func (s *state) at(u, r []float64) float64 {
	for k, x := range u {
		if s.log(k) {
			x = math.Exp(x)
		}
		s.p[k] = x
	}
	s.pr.Residual(s.p, r)
	if sum := floats.Dot(r, r); !math.IsNaN(sum) {
		return sum
	}
	return math.Inf(1)
}

// slope fills the Jacobian at s.u, in the fitted coordinates.
func (s *state) slope() {
	if s.pr.Jacobian != nil {
		s.at(s.u, append([]float64(nil), s.r...))
		s.pr.Jacobian(s.p, s.j)
		for k := range s.n {
			if s.log(k) {
				for i := range s.j {
					s.j[i][k] *= s.p[k]
				}
			}
		}
		return
	}
	up, down := make([]float64, s.pr.Size), make([]float64, s.pr.Size)
	u := append([]float64(nil), s.u...)
	for k := range s.n {
		h := 6e-6 * max(math.Abs(s.u[k]), s.least(k)) // near the cube root of the precision
		u[k] = s.u[k] + h
		s.at(u, up)
		u[k] = s.u[k] - h
		s.at(u, down)
		u[k] = s.u[k]
		for i := range s.j {
			s.j[i][k] = (up[i] - down[i]) / (2 * h)
		}
	}
}

// least is the size below which a coordinate counts as small: one for a logarithm.
func (s *state) least(k int) float64 {
	if s.log(k) {
		return 1
	}
	return 1e-8
}

// descend is the method's loop. Damping follows Nielsen (1999): it falls smoothly with the gain of a good step and
// grows faster and faster over bad ones.
func (s *state) descend(set Settings) (Status, int) {
	damping, grow := startDamping, 2.0
	u, r := make([]float64, s.n), make([]float64, s.pr.Size)
	probed := make([]float64, s.pr.Size)
	s.slope()
	for i := 1; i <= set.Iterations; i++ {
		s.rescale()
		q := newQR(s.j, s.scale, damping)
		step := q.solve(s.r)
		bend := s.bend(q, step, u, probed)
		small := true
		for k := range u {
			u[k] = s.u[k] + step[k] + bend[k]
			small = small && math.Abs(step[k]) <= set.Tolerance*max(math.Abs(s.u[k]), s.least(k))
		}
		if small {
			return Settled, i
		}
		sum := math.Inf(1)
		if q.within(bend, step) {
			sum = s.at(u, r)
		}
		if gain := s.gain(sum, step, damping); gain > 0 {
			copy(s.u, u)
			copy(s.r, r)
			s.sum = sum
			s.slope()
			damping *= max(1.0/3, 1-math.Pow(2*gain-1, 3))
			damping = max(damping, 1e-15)
			grow = 2
			continue
		}
		if damping *= grow; damping > mostDamping {
			return Stuck, i
		}
		grow *= 2
	}
	return Exhausted, set.Iterations
}

// rescale keeps the largest norm that each column has had (Moré 1978), so that units do not matter.
func (s *state) rescale() {
	column := make([]float64, len(s.j))
	for k := range s.n {
		for i := range s.j {
			column[i] = s.j[i][k]
		}
		s.scale[k] = max(s.scale[k], floats.Norm(column, 2))
		s.scale[k] = cmp.Or(s.scale[k], 1)
	}
}

// gain is what a step won over what the linear model promised; not above 0 for a step to be refused.
func (s *state) gain(sum float64, step []float64, damping float64) float64 {
	if math.IsInf(sum, 0) {
		return -1
	}
	promised := 0.0
	for i := range s.j {
		d := floats.Dot(s.j[i], step)
		promised += d * d
	}
	for k, x := range step {
		promised += 2 * damping * s.scale[k] * s.scale[k] * x * x
	}
	if won := s.sum - sum; won > 0 {
		return won / max(promised, 1e-300)
	}
	return -1
}

// bend is the geodesic acceleration: half the second-order correction of the step, by the residuals' second
// derivative along it.
func (s *state) bend(q *qr, step, u, probed []float64) []float64 {
	for k := range u {
		u[k] = s.u[k] + probe*step[k]
	}
	if math.IsInf(s.at(u, probed), 0) {
		return make([]float64, s.n)
	}
	second := make([]float64, s.pr.Size)
	for i := range second {
		second[i] = 2 / probe * ((probed[i]-s.r[i])/probe - floats.Dot(s.j[i], step))
	}
	b := q.solve(second)
	floats.Scale(0.5, b)
	return b
}

func (s *state) result(status Status, iterations int) (*Result, error) {
	s.sum = s.at(s.u, s.r)
	res := &Result{P: append([]float64(nil), s.p...), Sum: s.sum, Iterations: iterations, Status: status}
	res.Residual = math.Sqrt(s.sum / max(float64(s.pr.Size-s.n), 1))
	s.slope()
	s.at(s.u, s.r)
	inverse, ok := newQR(s.j, s.scale, 0).inverse()
	if !ok {
		return res, ErrSingular
	}
	res.Covariance, res.Jacobian = inverse, rows(s.pr.Size, s.n)
	for k := range s.n {
		for l := range s.n {
			inverse[k][l] *= res.Residual * res.Residual * s.per(k) * s.per(l)
		}
		for i := range s.j {
			res.Jacobian[i][k] = s.j[i][k] / s.per(k)
		}
	}
	return res, nil
}

// per is the derivative of a parameter by its coordinate.
func (s *state) per(k int) float64 {
	if s.log(k) {
		return s.p[k]
	}
	return 1
}
