package cell

import "math"

// Density of a uniform error of the given width plus a normal one of variance s2, at r >= 0: value times exp(log), log being nought but
// far out, so that those of many edges can be multiplied.
func Density(r, s2, width float64) (value, log float64) {
	k := 1 / math.Sqrt(s2)
	near, far := (width/2-r)*k, (width/2+r)*k
	if near < tableFrom {
		in, beyond := logNormal(near), logNormal(-far)
		return 1 / width, in + math.Log1p(-math.Exp(beyond-in))
	}
	return (normal(near) - normal(-far)) / width, 0
}

// Inside is the probability that a normal variable of the mean and variance given lies between lo and lo + 1, as value times exp(log), log
// being nought but far out; the slope of its log along the mean, and by how much that slope falls.
func Inside(lo, mean, variance float64) (value, log, slope, curve float64) {
	k := 1 / math.Sqrt(variance)
	a, b, sign := (lo-mean)*k, (lo+1-mean)*k, k
	if a > -b {
		a, b, sign = -b, -a, -k // the mirror image
	}
	var pa, pb float64
	switch {
	case a < -tableTo && b > tableTo:
		return 1, 0, 0, 0
	case b > -1:
		value = normal(b) - normal(a)
		pa, pb = bell(a)/value, bell(b)/value
	default:
		at := func(z float64) float64 { return math.Exp(-z*z/2-log) / math.Sqrt(2*math.Pi) }
		value, log = 1, logNormal(b)
		if a*a-b*b < 80 { // else beyond a there is not 1e-17 of what is beyond b
			log += math.Log1p(-math.Exp(logNormal(a) - log))
			pa = at(a)
		}
		pb = at(b)
	}
	d := pa - pb
	return value, log, sign * d, k * k * (d*d + b*pb - a*pa)
}

// The normal distribution function and its log are the inner loops of every fit, so they are tabulated; linear
// interpolation errs by less than 1e-5 of one, and by 5e-4 of the value at -8.
const (
	tableFrom = -8
	tableTo   = 6
	tableStep = 1.0 / 128
	tableSize = 1 << 11 // a power of two, that an index needs no check
	nearOne   = 4.0     // from where on the log, -3e-5, is as good as nought in a sum over the edges of a record
)

// table holds the value at each step, and by how much the next one is more.
type table [tableSize][2]float64

func tabulated(f func(z float64) float64) *table {
	var t table
	at := func(i int) float64 { return f(tableFrom + float64(i)*tableStep) }
	for i := range t {
		t[i] = [2]float64{at(i), at(i+1) - at(i)}
	}
	return &t
}

// at is the value at x steps from the first.
func (t *table) at(x float64) float64 {
	i := int(x)
	e := &t[i&(tableSize-1)]
	return e[0] + (x-float64(i))*e[1]
}

var (
	normals    = tabulated(func(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) })
	bells      = tabulated(func(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) })
	logNormals = tabulated(func(z float64) float64 { return math.Log(0.5 * math.Erfc(-z/math.Sqrt2)) })
)

// bell is the normal density; beyond the table it is nought.
func bell(z float64) float64 {
	if z = math.Abs(z); z < tableTo {
		return bells.at((-z - tableFrom) / tableStep)
	}
	return 0
}

// normal is the distribution function; below the table it is nought.
func normal(z float64) float64 {
	switch {
	case z >= tableTo:
		return 1
	case z < tableFrom:
		return 0
	}
	return normals.at((z - tableFrom) / tableStep)
}

func logNormal(z float64) float64 {
	switch {
	case z >= tableTo:
		return 0
	case z < tableFrom: // first terms of the asymptotic series
		return -0.5*z*z - math.Log(-z*math.Sqrt(2*math.Pi)) + math.Log1p((3/(z*z)-1)/(z*z))
	case math.IsNaN(z):
		return z
	}
	return logNormals.at((z - tableFrom) / tableStep)
}

// addLogNormals adds logNormal(z + j dz) to sums[j], up to where it is nought; z lies below nearOne.
func addLogNormals(sums []float64, z, dz float64) {
	j := 0
	for ; z < tableFrom && j < len(sums); z += dz {
		sums[j] += logNormal(z)
		j++
	}
	if z >= nearOne {
		return
	}
	sums = sums[j:min(len(sums), j+int((nearOne-z)/dz)+1)]
	x, dx := (z-tableFrom)/tableStep, dz/tableStep
	for j := range sums {
		sums[j] += logNormals.at(x)
		x += dx
	}
}
