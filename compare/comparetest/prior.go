package comparetest

import (
	"math"
	"slices"

	"offbeat/fit"
)

// density is one parameter's prior times the likelihood of the readings taken of it alone, over the parameter's own coordinate
// (ln of the value for parts and for log-uniform quantities). It need not integrate to 1 once readings are in.
type density struct {
	at     func(x float64) float64
	breaks []float64 // ascending: the support's ends and every point where the density jumps, bends or is narrow
}

// The figures of the prior forms.
const (
	excess        = 0.25 // mean of the exponential excess of a shifted part, in ln
	furthest      = 30   // excesses at which the tail is cut: e^-30 of it is lost
	slip          = 3.   // weight of a decade slip, against 1 of another E24 value
	contactLow    = 0.1  // contact over charging resistance, up to 1
	leastStray    = 10e-12
	mostStray     = 1e-9 // F
	leakLow       = 2.2  // leakage over charging resistance
	leakHigh      = 300
	controlLow    = 0.40 // control-pin ratio
	controlHigh   = 0.90
	weakLow       = 0.01 // weak switch over R2
	weakHigh      = 1.
	clockSpread   = 0.02 // standard deviation of the ln of a wrong clock's factor
	atLimit       = 1e-9 // relative slack within which a value at the limit counts as in tolerance
	normalReach   = 8.   // standard deviations at which a normal density is cut: 1e-15 of it is lost
	defaultSupply = 5.
)

// misfits are the standard deviations of the unexplained ln times, each as likely.
var misfits = []float64{0.1, 0.3, 1}

// e24 is one decade of IEC 60063:2015, series E24.
var e24 = []float64{1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1}

// inTolerance is uniform in value from low to high, over x = ln value.
func inTolerance(p fit.Part) density {
	low, high := p.Low(), p.High()
	return density{
		at: func(x float64) float64 {
			if v := math.Exp(x); v >= low && v <= high {
				return v / (high - low)
			}
			return 0
		},
		breaks: []float64{math.Log(low), math.Log(high)},
	}
}

// shifted is an exponential excess beyond either limit, over x = ln value.
func shifted(p fit.Part) density {
	low, high := math.Log(p.Low()), math.Log(p.High())
	d := density{at: func(x float64) float64 {
		switch {
		case x > high:
			return 0.5 / excess * math.Exp((high-x)/excess)
		case x < low:
			return 0.5 / excess * math.Exp((x-low)/excess)
		}
		return 0
	}}
	for _, k := range []float64{furthest, 12, 6, 3, 2, 1.2, 0.7, 0.4, 0.2, 0.1, 0.03, 0} {
		d.breaks = append(d.breaks, low-k*excess, high+k*excess)
	}
	slices.Sort(d.breaks)
	return d
}

// aged is an exponential excess below the lower limit, over x = ln value.
func aged(p fit.Part) density {
	low := math.Log(p.Low())
	d := density{at: func(x float64) float64 {
		if x > low {
			return 0
		}
		return 1 / excess * math.Exp((x-low)/excess)
	}}
	for _, k := range []float64{furthest, 12, 6, 3, 2, 1.2, 0.7, 0.4, 0.2, 0.1, 0.03, 0} {
		d.breaks = append(d.breaks, low-k*excess)
	}
	return d
}

// candidate is another value that may have been fitted, with its weight.
type candidate struct{ value, weight float64 }

// candidates lists the other values: E24 of the nominal's decade outside its tolerance, and the two decade slips.
func candidates(p fit.Part) []candidate {
	decade := math.Pow(10, math.Floor(math.Log10(p.Nominal)+atLimit))
	var all []candidate
	for _, e := range e24 {
		if v := e * decade; v < p.Low()*(1-atLimit) || v > p.High()*(1+atLimit) {
			all = append(all, candidate{v, 1})
		}
	}
	all = append(all, candidate{10 * p.Nominal, slip}, candidate{0.1 * p.Nominal, slip})
	sum := 0.
	for _, c := range all {
		sum += c.weight
	}
	for i := range all {
		all[i].weight /= sum
	}
	return all
}

// fitted is p with another nominal value, its tolerance kept.
func fitted(p fit.Part, nominal float64) fit.Part {
	p.Nominal = nominal
	return p
}

// uniform over low..high.
func uniform(low, high float64) density {
	return density{
		at: func(x float64) float64 {
			if x >= low && x <= high {
				return 1 / (high - low)
			}
			return 0
		},
		breaks: []float64{low, high},
	}
}

// normal with mean and standard deviation sd.
func normal(mean, sd float64) density {
	d := density{at: func(x float64) float64 { return gauss((x-mean)/sd) / sd }}
	for _, k := range []float64{-normalReach, -5, -3, -2, -1, 0, 1, 2, 3, 5, normalReach} {
		d.breaks = append(d.breaks, mean+k*sd)
	}
	return d
}

// prior is the density of a second-order term.
func (t Term) prior() density {
	if !(t.SD > 0) {
		return uniform(t.Low, t.High)
	}
	d := normal(t.Mean, t.SD)
	if !(t.High > t.Low) {
		return d
	}
	mass := phi((t.High-t.Mean)/t.SD) - phi((t.Low-t.Mean)/t.SD)
	full := d.at
	return density{
		at: func(x float64) float64 {
			if x < t.Low || x > t.High {
				return 0
			}
			return full(x) / mass
		},
		breaks: clip(d.breaks, t.Low, t.High),
	}
}

// likelihood of a direct reading where the true value is v.
func likelihood(r fit.Reading, v float64) float64 {
	if r.Standard > 0 {
		return gauss((v-r.Value)/r.Standard) / r.Standard
	}
	if math.Abs(v-r.Value) <= r.Half {
		return 1 / (2 * r.Half)
	}
	return 0
}

// read multiplies the density with the likelihood of readings; value turns the coordinate into what was read.
func (d density) read(readings []fit.Reading, value, coordinate func(float64) float64) density {
	for _, r := range readings {
		before := d.at
		d.at = func(x float64) float64 {
			if p := before(x); p > 0 {
				return p * likelihood(r, value(x))
			}
			return 0
		}
		narrow := uniform(r.Value-r.Half, r.Value+r.Half).breaks
		if r.Standard > 0 {
			narrow = normal(r.Value, r.Standard).breaks
		}
		for i, v := range narrow {
			narrow[i] = coordinate(v)
		}
		narrow = slices.DeleteFunc(narrow, math.IsNaN)
		d.breaks = merge(d.breaks, narrow)
	}
	return d
}

// merge adds those of extra that lie inside breaks.
func merge(breaks, extra []float64) []float64 {
	all := slices.Clone(breaks)
	for _, x := range extra {
		if x > breaks[0] && x < breaks[len(breaks)-1] {
			all = append(all, x)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// clip keeps the breaks inside low..high and adds the two ends.
func clip(breaks []float64, low, high float64) []float64 {
	return merge([]float64{low, high}, breaks)
}

// gauss is the standard normal density, phi its integral.
func gauss(z float64) float64 { return math.Exp(-0.5*z*z) / math.Sqrt(2*math.Pi) }
func phi(z float64) float64   { return 0.5 * math.Erfc(-z/math.Sqrt2) }
