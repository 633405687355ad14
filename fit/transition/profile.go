package transition

import "math"

// profile is the form of an edge: its value from 0 to 1 and its slope against the time from the 50 % crossing, in
// units of the profile's scale.
type profile struct {
	name     string
	at       func(z float64) (value, slope float64)
	middle   float64 // slope at the 50 % crossing
	from, to float64 // next to nothing happens outside
}

// profiles are the forms that edges are compared with. All have one scale; between them they cover what drives a
// transition: a constant current, one dominant pole, two equal poles, many poles.
var profiles = []profile{
	{"ramp", ramp, 1, -0.5, 0.5},
	{"first-order lag", lag, 0.5, -math.Ln2, 4},
	{"two equal lags", twoLags, twoLagsMiddle * math.Exp(-twoLagsMiddle), -twoLagsMiddle, 5},
	{"many lags", manyLags, 1 / math.Sqrt(2*math.Pi), -2.5, 2.5},
}

func ramp(z float64) (value, slope float64) {
	switch {
	case z <= -0.5:
		return 0, 0
	case z >= 0.5:
		return 1, 0
	}
	return z + 0.5, 1
}

func lag(z float64) (value, slope float64) {
	if z <= -math.Ln2 {
		return 0, 0
	}
	e := math.Exp(-z) / 2
	return 1 - e, e
}

// twoLagsMiddle solves (1 + x) exp(-x) = 1/2.
const twoLagsMiddle = 1.6783469900166605

func twoLags(z float64) (value, slope float64) {
	x := z + twoLagsMiddle
	if x <= 0 {
		return 0, 0
	}
	e := math.Exp(-x)
	return 1 - (1+x)*e, x * e
}

// manyLags is the limit of many poles: the normal distribution function.
func manyLags(z float64) (value, slope float64) {
	return 0.5 * math.Erfc(-z/math.Sqrt2), math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
}
