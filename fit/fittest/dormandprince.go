package fittest

import (
	"errors"
	"math"
)

// errSteps means that the integrator gave up: the equation is stiff or its right side is not finite.
var errSteps = errors.New("fittest: the integration did not finish in a million steps")

// The fifth-order formula of Dormand and Prince with its fourth-order companion, as coefficients of the increments
// (J. R. Dormand, P. J. Prince, "A family of embedded Runge-Kutta formulae", J. Comp. Appl. Math. 6 (1980) 19-26).
// Only for equations without explicit time, so the nodes c are not needed.
var (
	stages = [][]float64{
		{1. / 5},
		{3. / 40, 9. / 40},
		{44. / 45, -56. / 15, 32. / 9},
		{19372. / 6561, -25360. / 2187, 64448. / 6561, -212. / 729},
		{9017. / 3168, -355. / 33, 46732. / 5247, 49. / 176, -5103. / 18656},
		{35. / 384, 0, 500. / 1113, 125. / 192, -2187. / 6784, 11. / 84},
	}
	difference = [7]float64{71. / 57600, 0, -71. / 16695, 71. / 1920, -17253. / 339200, 22. / 525, -1. / 40}
)

// solver integrates dv/dt = slope(v).
type solver struct {
	slope     func(v float64) float64
	tolerance float64 // of v, absolute, each step
}

// step advances v by h and estimates the error made. The result is the fifth-order one.
func (s solver) step(v, h float64) (next, err float64) {
	var k [7]float64
	k[0] = s.slope(v)
	for i, row := range stages {
		sum := 0.
		for j, a := range row {
			sum += a * k[j]
		}
		next = v + h*sum
		k[i+1] = s.slope(next)
	}
	for i, e := range difference {
		err += e * k[i]
	}
	return next, math.Abs(h * err)
}

// control is the next step's length after one of length h with error err.
func (s solver) control(h, err float64) float64 {
	if err == 0 {
		return 5 * h
	}
	return h * min(5, max(0.2, 0.9*math.Pow(s.tolerance/err, 0.2)))
}

// run integrates from v, first step at most h, until done says so or until time limit (s; may be infinite).
// done is asked after each accepted step; it returns the part of the step at which to stop, or a negative number to go on.
func (s solver) run(v, h, limit float64, done func(v, next, h float64) float64) (end, t float64, err error) {
	for range 1_000_000 {
		h = min(h, limit-t)
		next, e := s.step(v, h)
		if math.IsNaN(next) || math.IsInf(next, 0) {
			return v, t, errSteps
		}
		if e > s.tolerance {
			h = s.control(h, e)
			continue
		}
		if part := done(v, next, h); part >= 0 {
			end, _ = s.step(v, part)
			return end, t + part, nil
		}
		v, t = next, t+h
		if t >= limit {
			return v, t, nil
		}
		h = s.control(h, e)
	}
	return v, t, errSteps
}

// after gives v once time has passed.
func (s solver) after(v, h, time float64) (float64, error) {
	if time == 0 {
		return v, nil
	}
	end, _, err := s.run(v, h, time, func(_, _, _ float64) float64 { return -1 })
	return end, err
}

// until gives the time at which v reaches level. The event is located by repeating the step that crosses it with a
// shorter length until the step ends on the level; so it has the step's own accuracy, not that of an interpolation.
func (s solver) until(v, h, level float64) (float64, error) {
	if v == level {
		return 0, nil
	}
	up := v < level
	_, t, err := s.run(v, h, math.Inf(1), func(v, next, h float64) float64 {
		if next != level && (next < level) == up {
			return -1
		}
		low, high := 0., h
		for range 100 {
			mid := low + (high-low)/2
			if at, _ := s.step(v, mid); (at < level) == up {
				low = mid
			} else {
				high = mid
			}
		}
		return high
	})
	return t, err
}
