package posterior

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Density is a one-dimensional prior: disjoint pieces, each an exponential of its coordinate, or a normal.
// The coordinate is the natural logarithm of a part's value, or the plain value of a term. It need not
// integrate to one: what a direct reading leaves of a prior is less, and that loss is its evidence.
type Density struct {
	pieces []piece
	mass   float64 // of all pieces
	normal bool
	mean   float64 // of the normal
	sd     float64
}

// piece is exp(at + slope*(x-from)) on from … to.
type piece struct {
	from, to  float64
	at, slope float64
	mass      float64
	growth    float64 // exp(slope*(to-from)) - 1
}

// build sums the pieces' masses.
func build(pieces ...piece) Density {
	d := Density{pieces: pieces}
	for i := range pieces {
		d.mass += pieces[i].mass
	}
	return d
}

func newPiece(from, to, at, slope float64) piece {
	p := piece{from: from, to: to, at: at, slope: slope}
	p.growth = math.Expm1(slope * (to - from))
	if p.mass = math.Exp(at) * (to - from); p.growth != 0 {
		p.mass = math.Exp(at) * p.growth / slope
	}
	return p
}

// Uniform is constant on from … to.
func Uniform(from, to float64) Density {
	return build(newPiece(from, to, -math.Log(to-from), 0))
}

// Normal has the given mean and standard deviation.
func Normal(mean, sd float64) Density { return Density{normal: true, mean: mean, sd: sd} }

// UniformValue is uniform in a value between low and high, as a density of the value's logarithm
// (JCGM 100 4.3.7).
func UniformValue(low, high float64) Density {
	a := math.Log(low)
	return build(newPiece(a, math.Log(high), a-math.Log(high-low), 1))
}

// OutsideValue is the density of a logarithm that lies outside ln low … ln high by an excess that is
// exponential with the given mean, above with probability up.
func OutsideValue(low, high, mean, up float64) Density {
	a, b := math.Log(low), math.Log(high)
	reach := 30 * mean // what lies beyond has a chance of 1e-13
	below, above := math.Log((1-up)/mean), math.Log(up/mean)
	return build(newPiece(a-reach, a, below-reach/mean, 1/mean), newPiece(b, b+reach, above, -1/mean))
}

// BelowValue is the density of a logarithm that lies below ln low by an excess that is exponential with the given mean.
func BelowValue(low, mean float64) Density {
	a := math.Log(low)
	return build(newPiece(a-30*mean, a, -math.Log(mean)-30, 1/mean))
}

// Beside adds another density, of times its mass, that lies where this one does not.
func (d Density) Beside(other Density, times float64) Density {
	pieces := slices.Clone(d.pieces)
	for _, p := range other.pieces {
		pieces = append(pieces, newPiece(p.from, p.to, p.at+math.Log(times), p.slope))
	}
	slices.SortFunc(pieces, func(a, b piece) int { return cmp.Compare(a.from, b.from) })
	return build(pieces...)
}

// Window keeps what lies between from and to.
func (d Density) Window(from, to float64) Density {
	if d.normal {
		d = d.tabulate(max(from, d.mean-9*d.sd), min(to, d.mean+9*d.sd), func(float64) float64 { return 0 })
	}
	var kept []piece
	for _, p := range d.pieces {
		a, b := max(p.from, from), min(p.to, to)
		if a < b {
			kept = append(kept, newPiece(a, b, p.at+p.slope*(a-p.from), p.slope))
		}
	}
	return build(kept...)
}

// Normalised scales the mass to 1, where there is any.
func (d Density) Normalised() Density {
	if d.normal || !(d.mass > 0) {
		return d
	}
	pieces := make([]piece, len(d.pieces))
	for i, p := range d.pieces {
		pieces[i] = newPiece(p.from, p.to, p.at-math.Log(d.mass), p.slope)
	}
	return build(pieces...)
}

// raised gives each of few pieces the root of its share, so that draws meet the rare ones; of mass 1.
func (d Density) raised() Density {
	if len(d.pieces) > 3 {
		return d.Normalised()
	}
	pieces := slices.Clone(d.pieces)
	for i, p := range pieces {
		pieces[i] = newPiece(p.from, p.to, p.at-math.Log(p.mass)/2, p.slope)
	}
	return Density{pieces: pieces, mass: build(pieces...).mass, normal: d.normal, mean: d.mean, sd: d.sd}.Normalised()
}

// Times multiplies by a factor whose logarithm is given and which vanishes outside from … to.
func (d Density) Times(from, to float64, logFactor func(x float64) float64) Density {
	if d.normal {
		return d.tabulate(from, to, logFactor)
	}
	var out []piece
	for _, p := range d.Window(from, to).pieces {
		out = append(out, build(p).tabulate(p.from, p.to, logFactor).pieces...)
	}
	return build(out...)
}

// tabulate cuts from … to into exponential pieces of d times the factor; with 400 of them the logarithm of a
// normal factor over ±7 standard deviations is met to 2e-4.
func (d Density) tabulate(from, to float64, logFactor func(x float64) float64) Density {
	const n = 400
	if !(from < to) {
		return Density{}
	}
	out := make([]piece, 0, n)
	at := func(x float64) float64 { return d.LogAt(x) + logFactor(x) }
	step := (to - from) / n
	// A hair inside the ends, so that the edge of a piece still belongs to it.
	hair := step * 1e-9
	last := at(from + hair)
	for i := range n {
		x := from + float64(i)*step
		next := at(x + step - hair)
		out = append(out, newPiece(x, x+step, last, (next-last)/step))
		last = next
	}
	return build(out...)
}

// tilt is the density times exp(rate*(x-about)), scaled to the returned logarithm of its mass.
func (d Density) tilt(rate, about float64) (tilted Density, logMass float64) {
	if d.normal {
		v := d.sd * d.sd
		return Normal(d.mean+rate*v, d.sd), rate*(d.mean-about) + rate*rate*v/2
	}
	out := make([]piece, len(d.pieces))
	for i, p := range d.pieces {
		out[i] = newPiece(p.from, p.to, p.at+rate*(p.from-about), p.slope+rate)
	}
	tilted = build(out...)
	return tilted, math.Log(tilted.mass)
}

// LogAt is the natural logarithm of the density at x, -Inf outside.
func (d Density) LogAt(x float64) float64 {
	if d.normal {
		z := (x - d.mean) / d.sd
		return -0.5*z*z - math.Log(d.sd) - 0.5*math.Log(2*math.Pi)
	}
	for i := range d.pieces {
		if p := &d.pieces[i]; x >= p.from && x <= p.to {
			return p.at + p.slope*(x-p.from)
		}
	}
	return math.Inf(-1)
}

// equal says whether two are the same to the last bit.
func (d Density) equal(o Density) bool {
	return d.normal == o.normal && d.mean == o.mean && d.sd == o.sd && d.mass == o.mass && slices.Equal(d.pieces, o.pieces)
}

// Mass is the integral.
func (d Density) Mass() float64 {
	if d.normal {
		return 1
	}
	return d.mass
}

// Quantile is where the fraction u of the mass lies below.
func (d Density) Quantile(u float64) float64 {
	if d.normal {
		return d.mean + d.sd*distuv.UnitNormal.Quantile(min(max(u, 1e-16), 1-1e-16))
	}
	left := u * d.mass
	for i := range d.pieces {
		if p := &d.pieces[i]; left <= p.mass || i == len(d.pieces)-1 {
			return p.quantile(left)
		}
		left -= d.pieces[i].mass
	}
	return math.NaN()
}

// quantile is where the mass from the piece's start reaches m.
func (p *piece) quantile(m float64) float64 {
	f := min(m/p.mass, 1)
	if p.growth == 0 {
		return p.from + f*(p.to-p.from)
	}
	return min(p.from+math.Log1p(f*p.growth)/p.slope, p.to)
}

// support is the range outside which the density is nought or, for a normal, below 1e-18 of its peak.
func (d Density) support() (from, to float64) {
	if d.normal {
		return d.mean - 9*d.sd, d.mean + 9*d.sd
	}
	if len(d.pieces) == 0 {
		return 0, 0
	}
	return d.pieces[0].from, d.pieces[len(d.pieces)-1].to
}

// spread is a standard deviation for a normal and the like for the rest: a third of the central 80 %.
func (d Density) spread() float64 {
	if d.normal {
		return d.sd
	}
	return (d.Quantile(0.9) - d.Quantile(0.1)) / 2.5631
}

// tilt is a free unknown's sampling density: its prior times exp(rate*(x-about)).
type tilt struct {
	Density
	rate, about float64
}

// tiltTo tilts a density by the rate that would move a normal of that spread to its conditional mean. A tail longer than
// a normal's would be blown up to its end by it: then by the rate at which the median lies at that mean.
func tiltTo(d Density, rate, about, spread float64) (t tilt, logMass float64) {
	at := func(rate float64) { t.rate, t.about = rate, about; t.Density, logMass = d.tilt(rate, about) }
	want := rate * spread * spread
	// beyond is how far the median lies past the wanted place.
	beyond := func() float64 { return (t.Quantile(0.5) - about - want) * math.Copysign(1, rate) }
	at(rate)
	if d.normal || beyond() <= spread/2 {
		return t, logMass
	}
	gentle, steep := 0.0, rate
	for range 20 {
		if at((gentle + steep) / 2); beyond() > 0 {
			steep = t.rate
		} else {
			gentle = t.rate
		}
	}
	at(gentle)
	return t, logMass
}
