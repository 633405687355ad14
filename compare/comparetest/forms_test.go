package comparetest

import (
	"math"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// form is a prior as it is drawn: a number even between 0 and 1 becomes a value.
type form func(u float64) float64

// The figures of the prior forms, as `offbeat help method` states them.
const (
	excess                  = 0.25 // mean of the exponential by which the logarithm of a shifted part's value lies beyond a limit
	leakLow, leakHigh       = 2.2, 300
	contactLow, contactHigh = 0.1, 1
	strayLow, strayHigh     = 10e-12, 1e-9 // F
	leftHigh                = 200e-12      // F, of what a missing capacitor leaves
	weakLow, weakHigh       = 0.01, 1
	controlLow, controlHigh = 0.40, 0.90
	asideLow, asideHigh     = 0.005, 0.15 // of the supply: by how much a comparator switches beside its reference
	saturated, shortest     = 0.3, 0.02   // of the supply: the most of a voltage in the switch or lost at the output, and the least
	collectorLost           = 0.85
	lagLow, lagHigh         = 2e-6, 200e-6 // s
	currentLow, currentHigh = 0.01, 0.5    // of what charges the capacitor at two thirds of the supply
	trippedLow, trippedHigh = 0.005, 0.1
	apartLow, apartHigh     = 0.30, 0.90
	wildRange               = 100  // of the values that a wrong reading may show
	clockSpread             = 0.02 // standard deviation of the logarithm
	slipWeight              = 3    // of a decade slip, against 1 of another E24 value
	atLimit                 = 1e-9 // relative slack within which a value at the limit is in tolerance
)

// misfits are the standard deviations of the logarithms of an unexplained board's times, each as likely: half of the boards
// are off in both times by themselves, the others along lines: the shares of those off in one time alone and by one factor, and
// the standard deviation of what is beside that.
var misfits = []float64{0.1, 0.3, 1}

const highAlone, lowAlone, oneFactor, besideLine = 0.15, 0.15, 0.2, 0.05

// ups are the shares of shifted parts that lie above their tolerance.
var ups = map[string]float64{"ceramic": 0.2, "electrolytic": 0.1, "tantalum": 0.3}

// e24 is one decade of IEC 60063:2015, series E24.
var e24 = []float64{1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1}

func uniform(low, high float64) form {
	return func(u float64) float64 { return low + (high-low)*u }
}

func logUniform(low, high float64) form {
	return func(u float64) float64 { return low * math.Pow(high/low, u) }
}

func normal(mean, sd float64) form {
	return func(u float64) float64 { return mean + sd*math.Sqrt2*math.Erfinv(2*u-1) }
}

// inTolerance is even between the limits of a part about its nominal value.
func inTolerance(p fit.Part) form { return uniform(p.Low(), p.High()) }

// shifted is beyond a limit, above as often as the class has it.
func shifted(p fit.Part) form {
	up, ok := ups[p.Class]
	if !ok {
		up = 0.5
	}
	return func(u float64) float64 {
		if u < up {
			return p.High() * math.Pow(u/up, -excess)
		}
		return p.Low() * math.Pow((1-u)/(1-up), excess)
	}
}

// eitherOf is the one, or the other with these odds against it.
func eitherOf(one, other form, odds float64) form {
	share := 1 / (1 + odds)
	return func(u float64) float64 {
		if u < share {
			return one(u / share)
		}
		return other((u - share) / (1 - share))
	}
}

// aged is below the lower limit.
func aged(p fit.Part) form {
	return func(u float64) float64 { return p.Low() * math.Pow(u, excess) }
}

// other is another value that was fitted, in tolerance itself: one E24 value of the nominal's decade that lies outside the
// tolerance, or a decade slip, drawn like a ticket; where in its tolerance it lies, what is left of the ticket's number says.
func other(p fit.Part) form {
	tickets := []float64{}
	for range slipWeight {
		tickets = append(tickets, 10*p.Nominal, p.Nominal/10)
	}
	decade := math.Pow(10, math.Floor(math.Log10(p.Nominal)+atLimit))
	for _, e := range e24 {
		if v := e * decade; v < p.Low()*(1-atLimit) || v > p.High()*(1+atLimit) {
			tickets = append(tickets, v)
		}
	}
	return func(u float64) float64 {
		at := u * float64(len(tickets))
		k := min(int(at), len(tickets)-1)
		return tickets[k] * (1 - p.Minus + (p.Minus+p.Plus)*(at-float64(k)))
	}
}

// reading is a voltage or a ratio with its limits or its standard uncertainty.
func reading(r fit.Reading) form {
	if r.Standard > 0 {
		return normal(r.Value, r.Standard)
	}
	return uniform(r.Value-r.Half, r.Value+r.Half)
}

// term is a second-order term of the timer's family, or what a wiring brings.
func term(q circuit.Prior) form {
	if q.Form == circuit.Normal {
		return normal(q.A, q.B)
	}
	return uniform(q.A, q.B)
}

// likelihood of a direct reading where the true value is x, a constant left out.
func likelihood(r fit.Reading, x float64) float64 {
	if r.Standard > 0 {
		return math.Exp(-0.5 * sq((x-r.Value)/r.Standard))
	}
	if math.Abs(x-r.Value) <= r.Half {
		return 1
	}
	return 0
}

func sq(x float64) float64 { return x * x }
