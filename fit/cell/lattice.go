package cell

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Lattice describes how sampling rounds edge times: the error of an edge is a periodic function of where it
// falls between two samples, so it does not average out like noise. Its Fourier coefficients are those of a
// sawtooth for edges that are faster than the sample interval, and shrink as samples come to lie on the slope.
type Lattice struct {
	Places    bool       // edges are told by their place among the samples: the cell of one is the whole part of it
	Cell      float64    // sample interval; 0: no lattice
	Sharpness [2]float64 // mean rise over the crossing's cell as a share of the amplitude: [0] falling, [1] rising edges
	Steep     [2]bool    // so few samples lie on the slope that its form is a guess where all edges meet them alike
	Code      [2]float64 // rise over one cell in amplitude steps, 0: amplitude resolution does not matter
	Fitted    [2]float64 // Σ of the squared rises over one cell, in steps², of the samples that place an edge; 0: two interpolated ones do
	Dither    float64    // variance of the amplitude noise in steps², that breaks the amplitude lattice up
}

// Term is one harmonic of the error: coefficient C of exp(2πi M φ), φ in cells.
type Term struct {
	M float64
	C [2]float64 // fall, rise
}

const cellPoints = 512

// ramp is the error of the interpolated crossing of a linear slope r cells long, when the true crossing is
// at u in [0, 1) of its cell: zero if both samples lie on the slope.
func ramp(u, r float64) float64 {
	a, b := -0.5, 0.5
	if r > 0 {
		a, b = max(a, -u/r), min(b, (1-u)/r)
	}
	return a/(a-b) - u
}

// Duration of a linear slope in cells, from its mean rise over the cell of its crossing: 1 - r/4 up to r = 2, 1/r beyond.
func Duration(sharpness float64) float64 {
	if sharpness >= 0.5 {
		return max(4*(1-sharpness), 0)
	}
	return 1 / max(sharpness, 1e-6)
}

// ramps are the errors over evenly spread places of the crossing.
func ramps(r float64) []float64 {
	e := make([]float64, cellPoints)
	for i := range e {
		e[i] = ramp((float64(i)+0.5)/cellPoints, r)
	}
	return e
}

// rampVariance is the variance of the interpolation error over a uniformly random phase, in cells².
func rampVariance(r float64) float64 {
	if r >= 2 {
		return 0
	}
	return stat.PopVariance(ramps(r), nil)
}

// rampHarmonics gives the sine coefficients 1 … count of the error, halved (complex form); the error is odd about the
// cell's middle.
func rampHarmonics(r float64, count int) []float64 {
	c := make([]float64, count)
	if r >= 2 {
		return c
	}
	if r == 0 {
		for m := range c {
			c[m] = 1 / (2 * math.Pi * float64(m+1))
		}
		return c
	}
	for i, x := range ramps(r)[:cellPoints/2] { // the other half is the same
		x *= 2.0 / cellPoints
		s1, c1 := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / cellPoints)
		s, co := s1, c1
		for m := range c {
			c[m] += x * s
			s, co = s*c1+co*s1, co*c1-s*s1
		}
	}
	return c
}

// Variance of one edge's rounding error over a uniform phase, in cells²: [0] fall, [1] rise.
func (l *Lattice) Variance() [2]float64 {
	var v [2]float64
	if l.Cell == 0 {
		return v
	}
	for k := range v {
		v[k] = rampVariance(Duration(l.Sharpness[k])) + l.codeVariance(k)
	}
	return v
}

// Width of the cell, as a share of the sample interval, that an edge is rounded to: [0] fall, [1] rise. Samples on the
// slope make it narrower.
func (l *Lattice) Width() [2]float64 {
	var w [2]float64
	if l.Cell == 0 {
		return w
	}
	for k := range w {
		w[k] = math.Sqrt(12 * rampVariance(Duration(l.Sharpness[k])))
	}
	return w
}

// codeVariance is the variance that the amplitude step gives to the crossing: both samples are rounded,
// on average 2/3 of one step's q²/12 counts.
func (l *Lattice) codeVariance(k int) float64 {
	switch {
	case l.Code[k] == 0:
		return 0
	case l.Fitted[k] > 0:
		return 1.0 / 12 / l.Fitted[k]
	}
	return 2.0 / 3 / 12 / (l.Code[k] * l.Code[k])
}

// Harmonics lists the terms of the error, and the variance of what the list leaves out.
func (l *Lattice) Harmonics(count int) (terms []Term, rest [2]float64) {
	if l.Cell == 0 {
		return nil, rest
	}
	var c [2][]float64
	for k := range c {
		r := Duration(l.Sharpness[k])
		c[k] = rampHarmonics(r, count)
		rest[k] = rampVariance(r)
		for _, x := range c[k] {
			rest[k] -= 2 * x * x
		}
		rest[k] = max(rest[k], 0)
	}
	for m := range count {
		terms = append(terms, Term{float64(m + 1), [2]float64{c[0][m], c[1][m]}})
	}
	for k := range 2 {
		v := l.codeVariance(k)
		if v == 0 {
			continue
		}
		// The rounding repeats with each amplitude step: its harmonics are the multiples of steps a cell.
		kept := 0.0
		for j := 1; j <= 3; j++ {
			share := 6 / (math.Pi * math.Pi) / float64(j*j)
			coherent := math.Exp(-4 * math.Pi * math.Pi * l.Dither * float64(j*j))
			t := Term{M: math.Round(l.Code[k] * float64(j))}
			if t.M >= 1 && coherent > 1e-3 {
				t.C[k] = math.Sqrt(v * share / 2 * coherent)
				terms = append(terms, t)
				kept += v * share * coherent
			}
		}
		rest[k] += v - kept
	}
	return terms, rest
}
