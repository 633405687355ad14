package steady

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	fewest     = 24   // values from which a line is looked for
	slowest    = 2.5  // cycles of it in the record, at least: what is slower is a drift or a wander
	lineShare  = 0.35 // of the variance, that a line has at least
	lineChance = 1e-8 // that white noise has such a line by chance
)

// line is a modulation: the strongest spectral line of some values in order.
type line struct {
	found     bool
	frequency float64 // cycles a value
	share     float64 // of the variance of the values, 0 to 1
}

// findLine looks for a line in lists of values, the spectra of which are averaged; a straight line through each is taken
// off before. The chance is that of Fisher's test for the largest of m ordinates of a periodogram (Fisher 1929, Proc. R. Soc. A
// 125:54, first term): m (1 - g)^(m-1).
func findLine(lists [][]float64) (l line) {
	n := 0
	for _, v := range lists {
		n = max(n, len(v))
	}
	if n < fewest {
		return l
	}
	var power []float64
	total, spectra, values := 0.0, 0, 0
	for _, v := range lists {
		if len(v) < max(fewest, n*9/10) {
			continue
		}
		v = detrended(v)
		padded := make([]float64, 2*n)
		copy(padded, v)
		square := 0.0
		for _, x := range v {
			square += x * x
		}
		if !(square > 0) {
			continue
		}
		for i, c := range fourier.NewFFT(len(padded)).Coefficients(nil, padded) {
			if i >= len(power) {
				power = append(power, 0)
			}
			p := 2 * (real(c)*real(c) + imag(c)*imag(c)) / float64(len(v))
			if i == len(padded)/2 {
				p /= 2 // alone at the end of the spectrum
			}
			power[i] += p
		}
		total += square
		spectra++
		values += len(v)
	}
	if spectra == 0 {
		return l
	}
	best := 0
	for i := max(int(2*slowest), 1); i < len(power); i++ {
		if power[i] > power[best] || best == 0 {
			best = i
		}
	}
	l.frequency, l.share = float64(best)/float64(2*n), min(power[best]/total, 1)
	m := float64(values) / 2
	l.found = l.share > lineShare && math.Log(m)+(m-1)*math.Log1p(-min(l.share, 1-1e-12)) < math.Log(lineChance)
	return l
}

// detrended takes the straight line of least squares off the values.
func detrended(v []float64) []float64 {
	n := float64(len(v))
	mean, slope, xx := 0.0, 0.0, 0.0
	for _, y := range v {
		mean += y / n
	}
	for i, y := range v {
		x := float64(i) - (n-1)/2
		slope += x * (y - mean)
		xx += x * x
	}
	if xx > 0 {
		slope /= xx
	}
	out := make([]float64, len(v))
	for i, y := range v {
		out[i] = y - mean - slope*(float64(i)-(n-1)/2)
	}
	return out
}
