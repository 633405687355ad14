package comparetest

import (
	"math"
	"math/rand/v2"
	"slices"

	"offbeat/fit"
	"offbeat/fit/fittest"
)

// drawInTolerance draws a value uniform within the tolerance about nominal.
func drawInTolerance(rng *rand.Rand, p fit.Part, nominal float64) float64 {
	return nominal * (1 - p.Minus + rng.Float64()*(p.Plus+p.Minus))
}

// drawShifted draws a value beyond one of the limits, either with probability one half.
func drawShifted(rng *rand.Rand, p fit.Part) float64 {
	e := math.Exp(excess * rng.ExpFloat64())
	if rng.IntN(2) == 0 {
		return p.Low() / e
	}
	return p.High() * e
}

// drawOther draws another fitted value: three tickets for each decade slip, one for each E24 value out of tolerance.
func drawOther(rng *rand.Rand, p fit.Part) float64 {
	var tickets []float64
	for range 3 {
		tickets = append(tickets, 10*p.Nominal, p.Nominal/10)
	}
	decade := 1e-15
	for decade*10 <= p.Nominal*(1+atLimit) {
		decade *= 10
	}
	for _, e := range e24 {
		ratio := e * decade / p.Nominal
		if ratio > (1+p.Plus)*(1+atLimit) || ratio < (1-p.Minus)*(1-atLimit) {
			tickets = append(tickets, e*decade)
		}
	}
	return drawInTolerance(rng, p, tickets[rng.IntN(len(tickets))])
}

// drawTerm draws a second-order term, by rejection where it is a cut normal.
func drawTerm(rng *rand.Rand, t Term) float64 {
	if t.SD == 0 {
		return t.Low + rng.Float64()*(t.High-t.Low)
	}
	for {
		x := t.Mean + t.SD*rng.NormFloat64()
		if !(t.High > t.Low) || x >= t.Low && x <= t.High {
			return x
		}
	}
}

// drawState draws a board from the prior of a cause. Of an unexplained board only the parts, terms and supply mean something.
func drawState(rng *rand.Rand, p *Problem, c Cause) state {
	d := &p.Design
	s := state{n: fittest.Network{Circuit: d.Circuit, Upper: 2. / 3, Lower: 1. / 3}}
	for i, place := range d.Parts {
		part := sitsAt(d, c, place.Name)
		v := drawInTolerance(rng, part, part.Nominal)
		if slices.Contains(c.Parts, part.Name) {
			switch c.Name {
			case Shifted:
				v = drawShifted(rng, part)
			case Aged:
				v = part.Low() / math.Exp(excess*rng.ExpFloat64())
			case OtherValue:
				v = drawOther(rng, part)
			}
		}
		partSetters[d.Parts[i].Name](&s, math.Log(v))
	}
	s.n.Supply = defaultSupply
	if d.Supply.Value > 0 {
		s.n.Supply = d.Supply.Value + d.Supply.Half*(2*rng.Float64()-1) + d.Supply.Standard*rng.NormFloat64()
	}
	s.n.OutputHigh, s.n.Reference = s.n.Supply, s.n.Supply/2
	for _, row := range termTable {
		for _, t := range p.Terms {
			if t.Name == row.name {
				row.set(&s, drawTerm(rng, t))
			}
		}
	}
	s.lnClock = p.Measured.Clock * (2*rng.Float64() - 1)
	switch c.Name {
	case Contact:
		s.n.Contact = charging(&s.n) * contactLow * math.Pow(1/contactLow, rng.Float64())
	case Stray:
		s.n.Stray = leastStray * math.Pow(mostStray/leastStray, rng.Float64())
	case WrongSignal:
		u := rng.Float64()
		for _, w := range views(d.Circuit) {
			if s.view = w.view; u < w.weight {
				break
			}
			u -= w.weight
		}
	case Leakage, Aged:
		s.n.Leak = charging(&s.n) * leakLow * math.Pow(leakHigh/leakLow, rng.Float64())
	case Thresholds:
		ratio := s.n.Lower / s.n.Upper
		s.n.Upper = controlLow + rng.Float64()*(controlHigh-controlLow)
		s.n.Lower = s.n.Upper * ratio
	case Discharge:
		s.n.Weak = s.n.R2 * weakLow * math.Pow(weakHigh/weakLow, rng.Float64())
	case Clock:
		s.lnClock = clockSpread * rng.NormFloat64()
	}
	return s
}
