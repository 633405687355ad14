package question

import (
	"errors"
	"math"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// open is the standard deviation, as a logarithm, of what [was] does not state of a board's two times about the design's own:
// wide against tolerances.
const open = 0.15

// LnOf is the logarithm of a quantity of two times.
func LnOf(quantity string, high, low float64) float64 {
	switch quantity {
	case "high_time":
		return math.Log(high)
	case "low_time":
		return math.Log(low)
	case "period":
		return math.Log(high + low)
	case "duty_factor":
		return math.Log(high / (high + low))
	}
	return -math.Log(high + low)
}

// Formerly is what [was] states, its limits rectangular (JCGM 100 4.3.7), as a measurement of both times that leaves open
// what is not stated: least squares in their logarithms, the quantities linear about the solution (Gauss-Newton).
func Formerly(d *fit.Design) (*fit.Measurement, error) {
	c, err := circuit.Of(d)
	if err != nil {
		return nil, err
	}
	v, err := c.Typical(d)
	if err != nil {
		return nil, err
	}
	high, low, ok := c.Times(&v)
	if !ok {
		return nil, errors.New("[was] states times of a board that does not run as designed; expected a design that runs")
	}
	if c.OnePulse {
		low = high // of no meaning
	}
	nominal := [2]float64{math.Log(high), math.Log(low)}
	x := nominal
	var cov covariance
	for range 5 {
		weight := covariance{1 / sq(open), 0, 1 / sq(open)}
		sum := weight.times(nominal)
		for _, t := range d.Was {
			g := gradient(t.Quantity, x)
			k := 3 / sq((t.High-t.Low)/2/t.Value) // one over the variance
			off := math.Log(t.Value) - LnOf(t.Quantity, math.Exp(x[0]), math.Exp(x[1])) + g[0]*x[0] + g[1]*x[1]
			weight = weight.plus(covariance{k * g[0] * g[0], k * g[0] * g[1], k * g[1] * g[1]})
			sum[0], sum[1] = sum[0]+k*off*g[0], sum[1]+k*off*g[1]
		}
		cov = weight.inverse()
		x = cov.times(sum)
	}
	m := &fit.Measurement{Source: "[was]", High: fit.Estimate{Value: math.Exp(x[0]), Count: 1}}
	m.High.Uncertainty = m.High.Value * math.Sqrt(cov.high)
	if !c.OnePulse {
		m.Low = fit.Estimate{Value: math.Exp(x[1]), Count: 1}
		m.Low.Uncertainty = m.Low.Value * math.Sqrt(cov.low)
		m.Covariance = cov.both * m.High.Value * m.Low.Value
	}
	return m, nil
}

// gradient is that of a quantity's logarithm by the logarithms of the high and the low time.
func gradient(quantity string, x [2]float64) [2]float64 {
	w := 1 / (1 + math.Exp(x[1]-x[0])) // duty factor
	switch quantity {
	case "high_time":
		return [2]float64{1, 0}
	case "low_time":
		return [2]float64{0, 1}
	case "period":
		return [2]float64{w, 1 - w}
	case "duty_factor":
		return [2]float64{1 - w, w - 1}
	}
	return [2]float64{-w, w - 1}
}
