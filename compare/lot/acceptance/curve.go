package acceptance

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Probability is the chance that the plan accepts a lot whose fraction p is nonconforming: binomial
// (ISO 2859-1 type B). A lot that is inspected whole accepts for certain up to Ac nonconforming in it.
func (p Plan) Probability(fraction float64) float64 {
	if p.All {
		if math.Round(fraction*float64(p.LotSize)) <= float64(p.Accept) {
			return 1
		}
		return 0
	}
	if fraction <= 0 || p.Size <= p.Accept {
		return 1
	}
	if fraction >= 1 {
		return 0
	}
	return distuv.Binomial{N: float64(p.Size), P: fraction}.CDF(float64(p.Accept))
}

// Curve is an operating characteristic.
type Curve struct {
	Fraction    []float64 // nonconforming in the lot, 0 to 1
	Probability []float64 // of acceptance
}

// accepter is either kind of plan.
type accepter interface {
	Probability(fraction float64) float64
}

// Quality is the fraction nonconforming at which the plan accepts with the given probability.
func Quality(p accepter, probability float64) float64 {
	low, high := 0.0, 1.0
	for range 60 {
		mid := (low + high) / 2
		if p.Probability(mid) > probability {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// Characteristic is the curve from no nonconforming item to where the plan hardly ever accepts, in even steps.
func Characteristic(p accepter, points int) Curve {
	end := Quality(p, 0.002)
	var c Curve
	for i := range points {
		f := end * float64(i) / float64(points-1)
		c.Fraction = append(c.Fraction, f)
		c.Probability = append(c.Probability, p.Probability(f))
	}
	return c
}

// Risks are the usual two points of a curve, as fractions nonconforming.
type Risks struct {
	Producer float64 // accepted with 95 %: the producer's risk is 5 %
	Consumer float64 // accepted with 10 %: the consumer's risk is 10 %
}

// RisksOf reads the two points.
func RisksOf(p accepter) Risks { return Risks{Quality(p, 0.95), Quality(p, 0.10)} }
