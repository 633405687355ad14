package hierarchy

import (
	"fmt"
	"math"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// factor is one thing that scatters from board to board.
type factor struct {
	name   string
	column pair    // d(ln high, ln low) for one unit: a part's logarithm, or one scale of a timer term
	scale  float64 // of the prior of its spread
	part   bool    // prior half-t with freedom degrees of freedom; else half-normal
	square matrix  // its share of V when its spread is its scale
}

func newFactor(name string, column pair, scale float64, part bool) factor {
	return factor{name, column, scale, part, outer(column).times(scale * scale)}
}

// freedom of the half-t prior of a part's spread.
const freedom = 4

// widest is the largest spread of a part's logarithm that a lot can have: a factor of ten. A handful of boards that have
// little in common would leave the tail of the prior without an end.
const widest = math.Ln10

// timerShare is the part of a timer term's prior standard deviation that one lot is expected to show.
const timerShare = 0.5

// Model is a design's circuit linearised about a lot's centre.
type Model struct {
	onePulse bool
	factors  []factor
	parts    []fit.Part // in the circuit's order; the first factors are theirs
}

// NewModel linearises the design's circuit about the parts' values in ohm and farad, in the circuit's order;
// nil means the nominals.
func NewModel(d *fit.Design, values []float64) (*Model, error) {
	c, err := circuit.Of(d)
	if err != nil {
		return nil, err
	}
	at, err := c.Typical(d)
	if err != nil {
		return nil, err
	}
	copy(at[:len(c.Parts)], values)
	priors, err := c.Priors(d.Family)
	if err != nil {
		return nil, err
	}
	m := &Model{onePulse: c.OnePulse}
	for i, s := range c.Parts {
		p := *d.Part(s.Name)
		m.parts = append(m.parts, p)
		column, ok := slope(c, at, circuit.Slot(i), 1e-4*at[i])
		if !ok {
			return nil, fmt.Errorf("the %s circuit does not run with %s = %g", c.Name, p.Name, at[i])
		}
		for k := range column {
			column[k] *= at[i] // from 1/value to 1/ln
		}
		m.factors = append(m.factors, newFactor(p.Name, column, max(p.Minus, p.Plus, 1e-4)/math.Sqrt(3), true))
	}
	for _, q := range priors {
		sd := q.B
		if q.Form == circuit.Uniform {
			sd = (q.B - q.A) / math.Sqrt(12)
		}
		if column, ok := slope(c, at, q.Slot, 0.05*sd); ok {
			m.factors = append(m.factors, newFactor(q.Name, pair{column[0] * sd, column[1] * sd}, timerShare, false))
		}
	}
	return m, nil
}

// At25 takes out of a board's times what its parts' temperature coefficients did to them at that temperature in °C:
// the board as it would be at the reference temperature, to first order.
func (m *Model) At25(b Board, temperature float64) Board {
	for j, p := range m.parts {
		change := p.Tempco * (temperature - fit.ReferenceTemperature)
		b.High -= m.factors[j].column[0] * change
		b.Low -= m.factors[j].column[1] * change
	}
	return b
}

// slope is the central difference of the logarithms of the times over a slot.
func slope(c *circuit.Circuit, at circuit.Values, s circuit.Slot, step float64) (pair, bool) {
	var ends [2]pair
	for i, sign := range [2]float64{-1, 1} {
		v := at
		v[s] += sign * step
		high, low, ok := c.Times(&v)
		if !ok || !(step > 0) {
			return pair{}, false
		}
		ends[i] = pair{math.Log(high), math.Log(low)}
	}
	d := ends[1].minus(ends[0])
	return pair{d[0] / (2 * step), d[1] / (2 * step)}, true
}

// covariance is V for the factors' variances in units of their scales squared.
func (m *Model) covariance(x []float64) matrix {
	var v matrix
	for j := range m.factors {
		v = v.plus(m.factors[j].square.times(x[j]))
	}
	return v
}

// logPrior is the density of x = (spread/scale)², up to a constant.
func (f *factor) logPrior(x float64) float64 {
	if f.part {
		if f.scale*math.Sqrt(x) > widest {
			return math.Inf(-1)
		}
		return -0.5*(freedom+1)*math.Log1p(x/freedom) - 0.5*math.Log(x)
	}
	return -0.5*x - 0.5*math.Log(x)
}

// Slope is d(ln high, ln low)/d ln of a part; nought for a name that is none.
func (m *Model) Slope(part string) (high, low float64) {
	for _, f := range m.factors {
		if f.part && f.name == part {
			return f.column[0], f.column[1]
		}
	}
	return 0, 0
}
