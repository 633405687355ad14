package interval

import "math"

// Lattice describes how sampling rounds edge times: the error of an edge is a periodic function of where it
// falls between two samples, so it does not average out like noise. Its Fourier coefficients are those of a
// sawtooth for edges that are faster than the sample interval, and shrink as samples come to lie on the slope.
type Lattice struct {
	Cell      float64    // sample interval; 0: no lattice
	Sharpness [2]float64 // mean rise over the crossing's cell as a share of the amplitude: [0] falling, [1] rising edges
	Code      [2]float64 // rise over one cell in amplitude steps, 0: amplitude resolution does not matter
	Fitted    [2]float64 // Σ of the squared rises over one cell, in steps², of the samples that place an edge; 0: two interpolated ones do
	Dither    float64    // variance of the amplitude noise in steps², that breaks the amplitude lattice up
}

// term is one harmonic: error cos(2π m φ + …) with squared coefficient per polarity, and what is left
// of it as a coherent sum.
type term struct {
	m float64
	c [2]float64 // fall, rise
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

// duration inverts the mean sharpness of a linear slope: 1 - r/4 up to r = 2, 1/r beyond.
func duration(sharpness float64) float64 {
	if sharpness >= 0.5 {
		return max(4*(1-sharpness), 0)
	}
	return 1 / max(sharpness, 1e-6)
}

// rampVariance is the variance of the interpolation error over a uniformly random phase, in cells².
func rampVariance(r float64) float64 {
	if r >= 2 {
		return 0
	}
	s, q := 0.0, 0.0
	for i := range cellPoints {
		e := ramp((float64(i)+0.5)/cellPoints, r)
		s += e
		q += e * e
	}
	return q/cellPoints - (s/cellPoints)*(s/cellPoints)
}

// rampHarmonics gives the sine coefficients 1 … count of the error, halved (complex form).
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
	var e [cellPoints]float64
	for i := range e {
		e[i] = ramp((float64(i)+0.5)/cellPoints, r)
	}
	for m := range c {
		// The error is odd about the cell's middle, so its coefficients are sines.
		s := 0.0
		for i, x := range e {
			s += x * math.Sin(2*math.Pi*float64(m+1)*(float64(i)+0.5)/cellPoints)
		}
		c[m] = s / cellPoints
	}
	return c
}

// variance of one edge's rounding error over a uniform phase, in cells²: [0] fall, [1] rise.
func (l *Lattice) variance() [2]float64 {
	var v [2]float64
	if l.Cell == 0 {
		return v
	}
	for k := range v {
		v[k] = rampVariance(duration(l.Sharpness[k])) + l.codeVariance(k)
	}
	return v
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

// harmonics lists the terms of the error, and the variance of what the list leaves out.
func (l *Lattice) harmonics(count int) (terms []term, rest [2]float64) {
	if l.Cell == 0 {
		return nil, rest
	}
	var c [2][]float64
	for k := range c {
		r := duration(l.Sharpness[k])
		c[k] = rampHarmonics(r, count)
		rest[k] = rampVariance(r)
		for _, x := range c[k] {
			rest[k] -= 2 * x * x
		}
		rest[k] = max(rest[k], 0)
	}
	for m := range count {
		terms = append(terms, term{float64(m + 1), [2]float64{c[0][m], c[1][m]}})
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
			t := term{m: math.Round(l.Code[k] * float64(j))}
			if t.m >= 1 && coherent > 1e-3 {
				t.c[k] = math.Sqrt(v * share / 2 * coherent)
				terms = append(terms, t)
				kept += v * share * coherent
			}
		}
		rest[k] += v - kept
	}
	return terms, rest
}

// sums adds up the rounding error of two estimates Σ wa x and Σ wb x, edges at the phases given (in
// cells), over a uniformly random common phase: Σ_m 2 c_m² |Σ_k w_k exp(2πi m φ_k)|² as far as white noise of
// variance jitter (cells²) leaves the phases coherent, plus the incoherent rest.
func (c *chain) sums(l *Lattice, wa, wb, phase []float64, jitter [2]float64, terms []term, rest [2]float64) (aa, ab, bb float64) {
	n := len(phase)
	var qaa, qab, qbb [2]float64
	for i := range n {
		k := kind(c.rise[i])
		w := 1 / c.n[i]
		qaa[k] += wa[i] * wa[i] * w
		qab[k] += wa[i] * wb[i] * w
		qbb[k] += wb[i] * wb[i] * w
	}
	for k := range 2 {
		aa += rest[k] * qaa[k]
		ab += rest[k] * qab[k]
		bb += rest[k] * qbb[k]
	}
	// Harmonics that follow on each other are reached by turning on; the few others each need their own sine.
	run := 0
	for run < len(terms) && terms[run].m == float64(run+1) {
		run++
	}
	keep := make([][2]float64, len(terms))
	for m, t := range terms {
		for k := range keep[m] {
			d := math.Exp(-2 * math.Pi * math.Pi * t.m * t.m * jitter[k])
			keep[m][k] = t.c[k] * d
			lost := 2 * t.c[k] * t.c[k] * (1 - d*d)
			aa += lost * qaa[k]
			ab += lost * qab[k]
			bb += lost * qbb[k]
		}
	}
	shows := func(m int) bool { return math.Abs(keep[m][0])+math.Abs(keep[m][1]) > 1e-9 }
	var single []int // harmonics that do not follow on
	for m := run; m < len(terms); m++ {
		if shows(m) {
			single = append(single, m)
		}
	}
	for run > 0 && !shows(run-1) {
		run--
	}
	if run == 0 && len(single) == 0 {
		return aa, ab, bb
	}
	total := make([][4]float64, len(terms)) // Σ wa cos, Σ wa sin, Σ wb cos, Σ wb sin
	var comb []float64
	combOf := 1.0
	for i, p := range phase {
		k := kind(c.rise[i])
		if c.n[i] > 1 && c.n[i] != combOf {
			comb, combOf = comb[:0], c.n[i]
			for _, t := range terms {
				comb = append(comb, c.comb(i, t.m))
			}
		}
		add := func(m int, s, co float64) {
			g := keep[m][k]
			if c.n[i] > 1 {
				g *= comb[m]
			}
			t := &total[m]
			t[0] += g * wa[i] * co
			t[1] += g * wa[i] * s
			t[2] += g * wb[i] * co
			t[3] += g * wb[i] * s
		}
		s1, c1 := sincos(p)
		s, co := s1, c1
		for m := range run {
			add(m, s, co)
			s, co = s*c1+co*s1, co*c1-s*s1
		}
		for _, m := range single {
			s, co := sincos(terms[m].m * p)
			add(m, s, co)
		}
	}
	for _, t := range total {
		aa += 2 * (t[0]*t[0] + t[1]*t[1])
		ab += 2 * (t[0]*t[2] + t[1]*t[3])
		bb += 2 * (t[2]*t[2] + t[3]*t[3])
	}
	return aa, ab, bb
}

// comb is what is left of harmonic m in a mean over n edges one period apart.
func (c *chain) comb(i int, m float64) float64 {
	n := c.n[i]
	d := m * (c.h0 + c.l0)
	d = math.Pi * (d - math.Round(d))
	if s := math.Sin(d); math.Abs(s) > 1e-12 {
		return math.Sin(n*d) / (n * s)
	}
	return 1
}

// sincos of 2π x.
func sincos(x float64) (s, c float64) {
	return math.Sincos(2 * math.Pi * (x - math.Floor(x)))
}
