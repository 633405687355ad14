package comparetest

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit"
)

// getters give each parameter of a drawn board back in its own coordinate.
var getters = map[string]func(s *state) float64{
	"R1":               func(s *state) float64 { return math.Log(s.n.R1) },
	"R2":               func(s *state) float64 { return math.Log(s.n.R2) },
	"C1":               func(s *state) float64 { return math.Log(s.n.C) },
	"C2":               func(s *state) float64 { return math.Log(s.n.C2) },
	"R3":               func(s *state) float64 { return math.Log(s.n.R2 * s.n.Feedback / (1 - s.n.Feedback)) },
	"supply":           func(s *state) float64 { return s.n.Supply },
	"upper":            func(s *state) float64 { return s.n.Upper },
	"lower_of_upper":   func(s *state) float64 { return s.n.Lower / s.n.Upper },
	"saturation":       func(s *state) float64 { return s.n.Saturation },
	"on_resistance":    func(s *state) float64 { return s.n.OnResistance },
	"delay":            func(s *state) float64 { return s.n.DelayFall },
	"bias":             func(s *state) float64 { return s.n.Bias },
	"diode":            func(s *state) float64 { return s.n.Diode },
	"output_high_drop": func(s *state) float64 { return s.n.Supply - s.n.OutputHigh },
	"output_low":       func(s *state) float64 { return s.n.OutputLow },
	"leakage": func(s *state) float64 {
		if s.n.Circuit == "astable" {
			return math.Log(s.n.Leak / (s.n.R1 + s.n.R2))
		}
		return math.Log(s.n.Leak / s.n.R1)
	},
	"contact":   func(s *state) float64 { return math.Log(s.n.Contact / charging(&s.n)) },
	"stray":     func(s *state) float64 { return math.Log(s.n.Stray) },
	"control":   func(s *state) float64 { return s.n.Upper },
	"discharge": func(s *state) float64 { return math.Log(s.n.Weak / s.n.R2) },
	"clock":     func(s *state) float64 { return s.lnClock },
}

// below is a table's mass below x.
func (t *table) below(x float64) float64 {
	c := t.cell(x)
	if c < 0 {
		if x < t.edge[0] {
			return 0
		}
		return 1
	}
	return t.sum[c] + t.mass[c]*(x-t.edge[c])/(t.edge[c+1]-t.edge[c])
}

// The densities of prior.go and hypothesis.go against the random draws of draw.go, which share no code: the greatest distance between the
// two cumulative distributions (Kolmogorov), for each parameter of each cause. A density must also integrate to 1.
func TestDensitiesAgainstDraws(t *testing.T) {
	const n = 6000
	rng := rand.New(rand.NewPCG(3, 3))
	for _, circuit := range Circuits {
		p := randomDesign(rng, circuit, Every)
		p.Terms = bipolarLike()
		p.Design.Supply.Half = 0.05 * p.Design.Supply.Value
		p.Measured.High = fit.Estimate{Value: 1, Uncertainty: 0.01}
		p.Measured.Low = fit.Estimate{Value: 1, Uncertainty: 0.01}
		v, err := p.measured()
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range p.Causes {
			if c.Name == Unexplained {
				continue // its parts and terms are those of nothing wrong
			}
			ways, err := p.hypotheses(c, v)
			if err != nil {
				t.Fatal(err)
			}
			drawn := map[string][]float64{}
			for range n {
				s := drawState(rng, &p, c)
				for _, parameter := range ways[0].parameters {
					drawn[parameter.name] = append(drawn[parameter.name], getters[parameter.name](&s))
				}
			}
			for i, parameter := range ways[0].parameters {
				cumulative, total := cumulative(ways, i)
				if math.Abs(total-1) > 1e-6 {
					t.Errorf("%s %v %s: the density integrates to %.9f", circuit, c, parameter.name, total)
				}
				x := drawn[parameter.name]
				sort.Float64s(x)
				distance := 0.
				for k, at := range x {
					f := cumulative(at)
					distance = max(distance, math.Abs(f-float64(k)/n), math.Abs(f-float64(k+1)/n))
				}
				// 2.4/sqrt(n) is passed by chance once in 50 000 times; there are some 600 comparisons.
				if distance > 2.4/math.Sqrt(n) {
					t.Errorf("%s %v %s: draws and density are %.4f apart", circuit, c, parameter.name, distance)
				}
			}
		}
	}
}

// Every parameter ends up on the board as what the prior form says it is: the getters undo the setters, whatever the others are.
func TestParametersReachTheBoard(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 3))
	for _, circuit := range Circuits {
		p := randomDesign(rng, circuit, Every)
		p.Terms = bipolarLike()
		p.Design.Supply.Half = 0.05 * p.Design.Supply.Value
		p.Measured.High = fit.Estimate{Value: 1, Uncertainty: 0.01}
		p.Measured.Low = fit.Estimate{Value: 1, Uncertainty: 0.01}
		v, err := p.measured()
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range p.Causes {
			ways, err := p.hypotheses(c, v)
			if err != nil {
				t.Fatal(err)
			}
			for _, h := range ways {
				s := newSampler(h, &v, nil, rng)
				for i := range s.x {
					s.x[i], _ = s.first[i].quantile(rng.Float64())
				}
				board := h.state(s.x)
				for i, parameter := range h.parameters {
					if got := getters[parameter.name](&board); math.Abs(got-s.x[i]) > 1e-9*(1e-6+math.Abs(s.x[i])) {
						t.Errorf("%s %v %s: %g on the board, want %g", circuit, c, parameter.name, got, s.x[i])
					}
				}
				if lower := board.n.Lower / board.n.Upper; c.Name == Thresholds && len(p.Terms) == 0 && lower != 0.5 {
					t.Errorf("%s %v: lower threshold %g of the upper, want half", circuit, c, lower)
				}
			}
		}
	}
}

// cumulative is the mixture over the ways of parameter i's cumulative distribution, and its total mass.
func cumulative(ways []*hypothesis, i int) (f func(x float64) float64, total float64) {
	var tables []table
	for _, w := range ways {
		t, mass := tabulate(w.parameters[i].density)
		tables = append(tables, t)
		total += w.weight * mass
	}
	return func(x float64) float64 {
		sum := 0.
		for k, w := range ways {
			sum += w.weight * tables[k].below(x)
		}
		return sum
	}, total
}

// The E24 values against the published table.
func TestE24(t *testing.T) {
	var want []float64
	for _, row := range expect.Rows(t, "iec60063_series.csv") {
		if row[0] == "E24" {
			want = append(want, expect.Number(t, row[2]))
		}
	}
	if !slices.Equal(want, e24) {
		t.Errorf("got %v, published %v", e24, want)
	}
}

// The candidates for a few parts, counted by hand from the E24 row.
func TestCandidates(t *testing.T) {
	for _, c := range []struct {
		nominal, tolerance float64
		others             int // of E24, without the slips
		lowest             float64
	}{
		{10e3, 0.05, 23, 11e3},  // its own decade starts at 10k
		{10e3, 0.1, 22, 12e3},   // 11k is at the limit, and so inside
		{47e3, 0.2, 19, 10e3},   // 39k 43k 47k 51k 56k lie in 37.6k..56.4k
		{1e-7, 0.1, 22, 1.2e-7}, // 100n: the decade is 100n..910n although log10 of it may round either way
		{4.99e3, 0.01, 24, 1e3}, // not an E24 value itself
		{91e3, 0.01, 23, 10e3},
	} {
		all := candidates(fit.Part{Nominal: c.nominal, Minus: c.tolerance, Plus: c.tolerance})
		sum, e24s := 0., 0
		lowest := math.Inf(1)
		for _, one := range all {
			sum += one.weight
			if one.weight < 2*all[0].weight {
				e24s++
				lowest = min(lowest, one.value)
			}
		}
		if e24s != c.others || len(all) != e24s+2 {
			t.Errorf("%g ± %g: %d of E24, want %d, in %v", c.nominal, c.tolerance, e24s, c.others, all)
		}
		if math.Abs(lowest/c.lowest-1) > 1e-9 {
			t.Errorf("%g ± %g: lowest %g, want %g", c.nominal, c.tolerance, lowest, c.lowest)
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Errorf("%g: weights sum to %g", c.nominal, sum)
		}
		if slips := all[len(all)-1].weight / all[0].weight; math.Abs(slips-3) > 1e-9 {
			t.Errorf("%g: a decade slip weighs %g, want 3", c.nominal, slips)
		}
	}
}

// A reading's likelihood integrates to 1 over what is read.
func TestReadingLikelihood(t *testing.T) {
	for _, r := range []fit.Reading{{Value: 10, Half: 0.5}, {Value: 10, Standard: 0.2}} {
		sum := 0.
		for v := 5.0005; v < 15; v += 0.001 {
			sum += 0.001 * likelihood(r, v)
		}
		if math.Abs(sum-1) > 1e-3 {
			t.Errorf("%+v: integral %g", r, sum)
		}
	}
}
