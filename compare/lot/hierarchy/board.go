package hierarchy

import (
	"errors"
	"math"

	"offbeat/fit"
)

// Board is one board's times against what its design predicts.
type Board struct {
	Name  string
	High  float64 // ln(measured/predicted) of the high time
	Low   float64 // of the low time; nought where OnePulse
	Noise Noise
}

// Noise is the covariance of High and Low that measuring makes, clock left out: that is common to the lot.
type Noise struct{ High, Covariance, Low float64 }

// leastNoise keeps the model defined where parts, timer and capture are all said to be exact.
const leastNoise = 1e-14

// BoardOf compares the captures of one board with its prediction in seconds. Several captures are averaged; a
// predictedLow of 0 says that the circuit has a high time alone.
func BoardOf(name string, ms []*fit.Measurement, predictedHigh, predictedLow float64) (Board, error) {
	b := Board{Name: name}
	n := float64(len(ms))
	for _, m := range ms {
		if !(m.High.Value > 0) || predictedLow > 0 && !(m.Low.Value > 0) {
			return b, errors.New("no usable times")
		}
		b.High += math.Log(m.High.Value/predictedHigh) / n
		u := m.High.Uncertainty / m.High.Value
		b.Noise.High += u * u / (n * n)
		if predictedLow > 0 {
			b.Low += math.Log(m.Low.Value/predictedLow) / n
			v := m.Low.Uncertainty / m.Low.Value
			b.Noise.Low += v * v / (n * n)
			b.Noise.Covariance += m.Covariance / (m.High.Value * m.Low.Value) / (n * n)
		}
	}
	if d := max(math.Abs(b.High), math.Abs(b.Low)); !(d < farthest) {
		return b, errors.New("its times are a thousand million times off what the design promises, or no numbers: they are of something else")
	}
	return b, nil
}

// farthest is how far times may lie from the design's, as a logarithm, to be of its circuit at all.
var farthest = math.Log(1e9)

// Measurement is the board as one measurement again: predicted times in seconds, the low one 0 for a single
// pulse, and the limit of the instrument's clock.
func (b Board) Measurement(predictedHigh, predictedLow, clock float64) *fit.Measurement {
	return measurement(b.Name, b.High, b.Low, b.Noise, predictedHigh, predictedLow, clock, 1)
}

// measurement turns logarithms against the prediction, and their covariance, into times.
func measurement(name string, lnHigh, lnLow float64, n Noise, predictedHigh, predictedLow, clock float64, count int) *fit.Measurement {
	h := predictedHigh * math.Exp(lnHigh)
	m := &fit.Measurement{Source: name, Clock: clock, Cycles: count}
	m.High = fit.Estimate{Value: h, Uncertainty: h * math.Sqrt(n.High), Count: count}
	if predictedLow > 0 {
		l := predictedLow * math.Exp(lnLow)
		m.Low = fit.Estimate{Value: l, Uncertainty: l * math.Sqrt(n.Low), Count: count}
		m.Covariance = h * l * n.Covariance
	}
	return m
}

func (b Board) residual() pair { return pair{b.High, b.Low} }

// noise is the board's covariance, kept away from singular; onePulse makes the low time's share neutral.
func (b Board) noise(onePulse bool) matrix {
	if onePulse {
		return matrix{b.Noise.High + leastNoise, 0, 1}
	}
	limit := 0.999 * math.Sqrt(b.Noise.High*b.Noise.Low)
	return matrix{b.Noise.High + leastNoise, min(max(b.Noise.Covariance, -limit), limit), b.Noise.Low + leastNoise}
}
