package steady

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat"
)

const (
	fewest     = 24   // values from which a line is looked for
	fewestFold = 12   // and a pattern that recurs every whole number of values
	slowest    = 3.5  // cycles of a modulation in the record, at least: what is slower is a drift or a wander
	mostFold   = 16   // longest pattern in values
	fewestSeen = 4    // times that a pattern recurs, at least
	shortFold  = 128  // values up to which a pattern of any length is looked for
	finer      = 6    // lengths that are looked at, for each independent frequency
	lineChance = 2e-5 // that noise of the classes below has such a line or pattern by chance, for each of the lists that are looked at
	harmonic   = 0.5  // of the strongest line's power that a line has at least, to be the lowest of them
)

// tone is a modulation: what recurs in values in order.
type tone struct {
	chance float64 // that noise has the like, among all that was looked at
	every  float64 // values from one maximum to the next; 0: nothing was found
	width  float64 // by how much its frequency may be another, in 1/values
	square float64 // mean square of the modulation, in values²
	line   float64 // and of the one line with the frequency 1/every; 0: not known
	rest   float64 // and of what is left
}

// spectrum is the mean periodogram of lists of n values each, their straight lines taken off: from no turn a value to half a one, twice
// as many frequencies as are independent, or up to a tenth more where so many are transformed faster; white noise has its variance at each.
type spectrum struct {
	n, lists int
	power    []float64
	under    []float64 // what noise has of it
	total    float64   // mean square of the values
}

func newSpectrum(lists [][]float64) (s spectrum) {
	for _, v := range lists {
		s.n = max(s.n, len(v))
	}
	var fft *fourier.FFT
	var padded []float64
	var c []complex128
	for _, v := range lists {
		if len(v) < max(fewestFold, s.n*9/10) {
			continue
		}
		if fft == nil {
			padded = make([]float64, 2*smooth(s.n))
			fft = fourier.NewFFT(len(padded))
			s.power = make([]float64, len(padded)/2+1)
		}
		clear(padded[copy(padded, detrended(v)):])
		c = fft.Coefficients(c, padded)
		for i := range c {
			s.power[i] += (real(c[i])*real(c[i]) + imag(c[i])*imag(c[i])) / float64(len(v))
		}
		for _, x := range padded {
			s.total += x * x / float64(len(v))
		}
		s.lists++
	}
	for i := range s.power {
		s.power[i] /= float64(s.lists)
	}
	s.total /= max(float64(s.lists), 1)
	s.background()
	return s
}

// smooth is the least number from n, one or more, on without a prime factor beyond 7: a transform takes as much longer as the largest is.
func smooth(n int) int {
	left := n
	for _, p := range [...]int{2, 3, 5, 7} {
		for left%p == 0 {
			left /= p
		}
	}
	if left > 1 {
		return smooth(n + 1)
	}
	return n
}

// at is the place of a frequency, in 1/values; those above 1/2 show as lower ones.
func (s *spectrum) at(f float64) int {
	f = math.Abs(f - math.Round(f))
	return max(int(math.Round(f*s.turn())), s.from())
}

// turn is the place of the frequency of one turn a value.
func (s *spectrum) turn() float64 { return float64(2 * (len(s.power) - 1)) }

// from is the first frequency that is looked at, the spectrum having as many as are told apart.
const from = int(2 * slowest)

// from is the first that is, of those it has.
func (s *spectrum) from() int {
	return max(from, int(math.Ceil(slowest*s.turn()/float64(max(s.n, 1)))))
}

// colours are the spectra of a train's intervals for the noise that a train may have: white noise of the edges; white, flicker
// and random-walk frequency noise (NIST SP 1065, 3.2), of first differences.
var colours = [4]func(sin2 float64) float64{
	func(s float64) float64 { return s },
	func(float64) float64 { return 1 },
	func(s float64) float64 { return 1 / math.Sqrt(s) },
	func(s float64) float64 { return 1 / s },
}

const (
	rounds  = 12   // of leaving lines out
	climbs  = 24   // steps of the likelihood in each
	fitted  = 2048 // frequencies that are fitted, of more every so many
	standsS = 7    // times the background, from where on a frequency is no part of it
)

// background finds the likeliest sum of the colours under the spectrum, without what stands out of it. The likelihood is Whittle's
// (exponential ordinates); the steps are those of nonnegative factorisation by the Itakura-Saito divergence, which never lower it
// (Févotte, Bertin and Durrieu, Neural Computation 21, 2009, eq. 4.15, with known spectra).
func (s *spectrum) background() {
	m, from := len(s.power), s.from()
	type each [len(colours)]float64
	basis := make([]each, m)
	var sum, size each
	for i := from; i < m; i++ {
		sin := math.Sin(math.Pi * float64(i) / s.turn())
		for k, colour := range colours {
			basis[i][k] = colour(sin * sin)
			sum[k] += basis[i][k]
		}
	}
	for k := range size {
		size[k] = s.total * float64(m) / sum[k] / float64(len(colours))
	}
	noise := func(i int) float64 {
		b := &basis[i]
		return 1e-300 + size[0]*b[0] + size[1]*b[1] + size[2]*b[2] + size[3]*b[3]
	}
	out := make([]bool, m)
	for range rounds {
		for range climbs {
			var up, down each
			for i := from; i < m; i += 1 + m/fitted {
				if !out[i] {
					one := 1 / noise(i)
					ratio := s.power[i] * one
					for k, b := range basis[i] {
						g := b * one
						up[k], down[k] = up[k]+g*ratio, down[k]+g
					}
				}
			}
			for k := range size {
				if down[k] > 0 {
					size[k] *= math.Sqrt(up[k] / down[k])
				}
			}
		}
		more := false
		for i := from; i < m; i++ {
			if !out[i] && s.power[i] > standsS*noise(i) {
				out[i], more = true, true
			}
		}
		if !more {
			break
		}
	}
	s.under = make([]float64, m)
	for i := from; i < m; i++ {
		s.under[i] = noise(i)
	}
}

// findLine looks for a line in lists of values: a frequency whose power noise of all colours together has by chance in less than
// lineChance of all such lists. The power of one frequency over a background that was itself estimated from k others has Fisher's
// F distribution with 2 and 2k degrees of freedom, that of the highest frequency, which has no phase, 1 and 2k.
func findLine(s *spectrum) (t tone) {
	if s.n < fewest || !(s.total > 0) {
		return t
	}
	m, under, from := len(s.power), s.under, s.from()
	k := float64(s.lists*(m-from)) - 2
	chance := func(i int) float64 {
		degrees := 2 * float64(s.lists)
		if i >= m-2 {
			degrees /= 2
		}
		x := degrees * s.power[i] / under[i]
		return mathext.RegIncBeta(k/2, degrees/2, k/(k+x)) // 2k/2 independent frequencies: half of all
	}
	peak := func(i int) bool {
		return s.power[i] >= s.power[i-1] && (i == m-1 || s.power[i] >= s.power[i+1])
	}
	strongest, rest := 0.0, 0.0
	t.chance = 1
	for i := from; i < m; i++ {
		if peak(i) {
			c := chance(i) * float64(m-from)
			if t.chance = min(t.chance, c); c < lineChance {
				strongest = max(strongest, s.power[i])
			}
		}
		rest += under[i] / float64(m-from)
	}
	for i := from; strongest > 0; i++ {
		if peak(i) && s.power[i] > harmonic*strongest && chance(i)*float64(m-from) < lineChance {
			return tone{t.chance, s.turn() / float64(i), 0.5 / float64(s.n), max(s.total-rest, min(2*strongest/float64(s.n), s.total)), 2 * s.power[i] / float64(s.n), rest}
		}
	}
	return t
}

// straight are the lists without their straight lines.
func straight(lists [][]float64) (out [][]float64) {
	for _, v := range lists {
		out = append(out, detrended(v))
	}
	return out
}

// detrended takes the straight line of least squares off the values.
func detrended(v []float64) []float64 {
	at, out := make([]float64, len(v)), make([]float64, len(v))
	for i := range at {
		at[i] = float64(i) - float64(len(v)-1)/2
	}
	mean, slope := stat.Mean(v, nil), 0.0
	if len(v) > 1 {
		slope = floats.Dot(at, v) / floats.Dot(at, at)
	}
	for i, x := range at {
		out[i] = v[i] - mean - slope*x
	}
	return out
}
