package stability

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Law is one kind of noise by the slope of its Allan deviation: Deviation × (averaging time in s)^Power (NIST SP 1065, 3.2
// and 5.2: white phase noise, white, flicker and random-walk frequency noise; a drift d in 1/s has d/√2 and power 1).
type Law struct {
	Power     float64 // -1 white edge noise, -1/2 random-walk period noise, 0 flicker, 1/2 wandering period, 1 drift
	Deviation float64
}

// powers are those of the Allan variance.
var powers = []float64{-2, -1, 0, 1, 2}

// worth is by how much a further law must raise twice the logarithm of the likelihood (common practice: three standard
// deviations of one parameter).
const worth = 9

// fewPoints are too few for a shape.
const fewPoints = 3

// Laws finds the fewest laws that together make the Allan deviations, each with its share: of all sets of laws the likeliest,
// the squares being χ² by their degrees of freedom. Points without value are passed over; nil where fewer than three are left.
func Laws(points []Point) []Law {
	var best []Law
	least := math.Inf(1)
	for set := 1; set < 1<<len(powers); set++ {
		if laws, score := lawsOf(points, set); score < least {
			best, least = laws, score
		}
	}
	return best
}

// lawsOf fits the laws of a set, by least squares with the weights that the fit itself gives; infinite where one is negative.
func lawsOf(points []Point, set int) (laws []Law, score float64) {
	for k, p := range powers {
		if set>>k&1 == 1 {
			laws = append(laws, Law{Power: p})
		}
	}
	var seen []Point
	for _, p := range points {
		if p.Allan > 0 {
			seen = append(seen, p)
		}
	}
	if len(seen) < fewPoints || len(laws) > len(seen) {
		return nil, math.Inf(1)
	}
	unit := seen[0].Time // powers of times about one keep their digits
	model := make([]float64, len(seen))
	for i, p := range seen {
		model[i] = p.Allan * p.Allan
	}
	const rounds = 8
	for range rounds {
		a, y := mat.NewDense(len(seen), len(laws), nil), mat.NewVecDense(len(seen), nil)
		for i, p := range seen {
			w := math.Sqrt(p.Freedom) / model[i]
			for k, l := range laws {
				a.Set(i, k, w*math.Pow(p.Time/unit, l.Power))
			}
			y.SetVec(i, w*p.Allan*p.Allan)
		}
		var x mat.VecDense
		if err := x.SolveVec(a, y); err != nil {
			return nil, math.Inf(1)
		}
		for i := range model {
			model[i] = 0
		}
		for k := range laws {
			if laws[k].Deviation = x.AtVec(k); !(laws[k].Deviation > 0) {
				return nil, math.Inf(1)
			}
			for i, p := range seen {
				model[i] += laws[k].Deviation * math.Pow(p.Time/unit, laws[k].Power)
			}
		}
	}
	for i, p := range seen {
		score += p.Freedom * (math.Log(model[i]) + p.Allan*p.Allan/model[i])
	}
	for k, l := range laws {
		laws[k] = Law{Power: l.Power / 2, Deviation: math.Sqrt(l.Deviation * math.Pow(unit, -l.Power))}
	}
	return laws, score + worth*float64(len(laws))
}
