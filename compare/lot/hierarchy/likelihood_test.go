package hierarchy

import (
	"math"
	"math/rand/v2"
	"testing"
)

// With equal noise the scatter matrix of n boards about their mean is Wishart with n-1 degrees of freedom and
// scale W = V + N, so between two V the logarithm of its density, -(n-1)/2 ln|W| - tr(W^-1 S)/2, must differ as the
// likelihood does (Wishart 1928; the restricted likelihood is that of the scatter alone).
func TestLikelihoodIsWishart(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 50))
	m := &Model{}
	noise := Noise{High: 4e-4, Covariance: 1e-4, Low: 9e-4}
	boards := make([]Board, 9)
	var mean [2]float64
	for i := range boards {
		c := 0.05 * random.NormFloat64()
		boards[i] = Board{High: 0.1 + c + 0.02*random.NormFloat64(), Low: -0.2 + c + 0.02*random.NormFloat64(), Noise: noise}
		mean[0] += boards[i].High / 9
		mean[1] += boards[i].Low / 9
	}
	wishart := func(v matrix) float64 {
		a, b, c := v[0]+4e-4+leastNoise, v[1]+1e-4, v[2]+9e-4+leastNoise
		det := a*c - b*b
		l := -4 * math.Log(det)
		for _, x := range boards {
			h, w := x.High-mean[0], x.Low-mean[1]
			l -= 0.5 * (c*h*h - 2*b*h*w + a*w*w) / det
		}
		return l
	}
	data := m.classify(boards)
	first, second := matrix{2e-3, 1e-3, 3e-3}, matrix{5e-4, 2e-4, 8e-4}
	near(t, "difference", logLikelihood(data, first)-logLikelihood(data, second), wishart(first)-wishart(second), 1e-9)
}

// Boards of two kinds of noise weigh by the inverse of their variance: for independent times that is the textbook's
// weighted mean (JCGM 100 leaves it to the literature; Gauss 1823), and its information is the sum of the weights.
func TestCentreWeighs(t *testing.T) {
	m := &Model{}
	boards := []Board{{High: 1, Low: 5, Noise: Noise{High: 1, Low: 4}}, {High: 2, Low: 5, Noise: Noise{High: 1, Low: 4}}, {High: 10, Low: 8, Noise: Noise{High: 99, Low: 400}}}
	mean, information := centre(m.classify(boards), matrix{1, 0, 1})
	w := []float64{1. / 2, 1. / 2, 1. / 100}
	near(t, "high", mean[0], (1*w[0]+2*w[1]+10*w[2])/(w[0]+w[1]+w[2]), 1e-9)
	near(t, "its information", information[0], w[0]+w[1]+w[2], 1e-9)
	near(t, "low", mean[1], (5./5+5./5+8./401)/(2./5+1./401), 1e-9)
}
