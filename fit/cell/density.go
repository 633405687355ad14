package cell

import "math"

// LogDensity is the log density of a uniform error of the given width plus a normal one of variance s2, at r >= 0.
func LogDensity(r, s2, width float64) float64 {
	s := math.Sqrt(s2)
	if width < 0.02*s { // the cell does not show
		return -0.5 * (r*r/s2 + math.Log(2*math.Pi*s2))
	}
	near, far := (width/2-r)/s, (width/2+r)/s
	l := 0.0
	if width != 1 {
		l = -math.Log(width)
	}
	if far > 6 {
		return l + logNormal(near)
	}
	in, beyond := logNormal(near), logNormal(-far)
	return l + in + math.Log1p(-math.Exp(beyond-in))
}

// The log of the normal distribution function is the inner loop of every fit, so it is tabulated; linear
// interpolation errs by less than 1e-5.
const (
	tableFrom = -8
	tableTo   = 6
	tableStep = 1.0 / 256
)

var logNormals = func() (t [(tableTo-tableFrom)/tableStep + 2]float64) {
	for i := range t {
		t[i] = math.Log(0.5 * math.Erfc(-(tableFrom+float64(i)*tableStep)/math.Sqrt2))
	}
	return t
}()

func logNormal(z float64) float64 {
	switch {
	case z >= tableTo:
		return 0
	case z < tableFrom: // first terms of the asymptotic series
		return -0.5*z*z - math.Log(-z*math.Sqrt(2*math.Pi)) + math.Log1p((3/(z*z)-1)/(z*z))
	case math.IsNaN(z):
		return z
	}
	x := (z - tableFrom) / tableStep
	i := int(x)
	return logNormals[i] + (x-float64(i))*(logNormals[i+1]-logNormals[i])
}
