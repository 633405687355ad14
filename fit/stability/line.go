package stability

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"

	"offbeat/fit"
	"offbeat/fit/budget"
)

// Line is a straight line y = Intercept + Slope (t - Origin) fitted by least squares, with the covariance of
// the two (JCGM 100 H.3).
type Line struct {
	Origin     float64
	Intercept  float64
	Slope      float64
	Covariance *mat.SymDense // of intercept and slope, from the residuals
	Residual   float64       // standard deviation of the residuals, n-2 degrees of freedom
	Lag        float64       // lag-1 autocorrelation of the residuals; far from 0 the scatter is not white
	N          int
}

// ErrFewPoints says that a line has fewer than three points, or all at one abscissa.
var ErrFewPoints = errors.New("a line with its uncertainty needs three points or more, not all at one place")

// FitLine fits y over t about the origin t0. The points have equal weight.
func FitLine(t, y []float64, t0 float64) (Line, error) {
	l := Line{Origin: t0, N: len(t)}
	if len(t) != len(y) || len(t) < 3 {
		return l, ErrFewPoints
	}
	x := Summarise(t)
	m := Summarise(y)
	var xx, xy float64
	for i := range t {
		d := t[i] - x.Mean
		xx += d * d
		xy += d * (y[i] - m.Mean)
	}
	if !(xx > 0) {
		return l, ErrFewPoints
	}
	n := float64(l.N)
	l.Slope = xy / xx
	l.Intercept = m.Mean + l.Slope*(t0-x.Mean)
	residuals := make([]float64, l.N)
	var square float64
	for i := range t {
		residuals[i] = y[i] - m.Mean - l.Slope*(t[i]-x.Mean)
		square += residuals[i] * residuals[i]
	}
	l.Residual = math.Sqrt(square / (n - 2))
	l.Lag = Summarise(residuals).Lag
	v := square / (n - 2)
	d := t0 - x.Mean
	l.Covariance = mat.NewSymDense(2, []float64{v * (1/n + d*d/xx), v * d / xx, v * d / xx, v / xx})
	return l, nil
}

// At is the line's value at t with its standard uncertainty, the covariance of slope and intercept counted.
func (l *Line) At(t float64) (fit.Estimate, error) {
	u, err := budget.Propagate(mat.NewDense(1, 2, []float64{1, t - l.Origin}), l.Covariance)
	if err != nil {
		return fit.Estimate{}, err
	}
	return fit.Estimate{Value: l.Intercept + l.Slope*(t-l.Origin), Uncertainty: math.Sqrt(u.At(0, 0)), Count: l.N}, nil
}
