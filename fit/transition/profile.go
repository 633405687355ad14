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
	{"first-order lag, cut off", cutLag, cutEnd / 2 / (2 - cutEnd), math.Log(cutEnd / 2), cutTime + math.Log(cutEnd/2)},
}

// whole are the first of them, of traces that are not cut off at a level.
const whole = 4

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

// cutLag is a first-order lag of which cutTime time constants are seen, wherever it began and would end: where cutEnd is 1 + exp(-cutTime) and
// the middle is met at -ln(cutEnd/2).
func cutLag(z float64) (value, slope float64) {
	e := cutEnd / 2 * math.Exp(-z)
	switch {
	case e >= 1:
		return 0, 0
	case e <= cutEnd-1:
		return 1, 0
	}
	return (1 - e) / (2 - cutEnd), e / (2 - cutEnd)
}

const cutTime = 1.5

var cutEnd = 1 + math.Exp(-cutTime)

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
