package comparetest

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit"
	"offbeat/fit/fittest"
)

// bipolarLike are second-order priors of the size that the data sheets of bipolar timers give; for these tests only.
func bipolarLike() []Term {
	return []Term{
		{Name: "upper", Mean: 0.667, SD: 0.012, Low: 0.55, High: 0.8},
		{Name: "lower_of_upper", Mean: 0.5, SD: 0.008, Low: 0.4, High: 0.6},
		{Name: "saturation", Low: 0.02, High: 0.2},
		{Name: "on_resistance", Low: 5, High: 40},
		{Name: "delay", Low: 1e-7, High: 1e-6},
		{Name: "bias", Low: 0, High: 0.1e-6},
		{Name: "diode", Low: 0.5, High: 0.7},
		{Name: "output_high_drop", Low: 0, High: 0.8},
		{Name: "output_low", Low: 0, High: 0.3},
	}
}

// missed is the density of times that nothing explains, by how far their logarithms lie from the nominal prediction.
func missed(times int, by ...float64) float64 {
	sum := 0.
	for _, s := range misfits {
		one := 1.
		for _, x := range by[:times] {
			one *= gauss(x/s) / s
		}
		sum += one / float64(len(misfits))
	}
	return sum
}

// plainProbabilities is the first other route: it averages the likelihood over boards drawn from the prior of each cause, with no
// proposal and no hypothesis.go, in batches from which the standard errors come.
func plainProbabilities(rng *rand.Rand, p *Problem, draws int) (probability, standard []float64) {
	const batches = 10
	v, _ := p.measured()
	nominal, _ := lnTimes(nominalState(p), v.times)
	batch := make([][]float64, batches)
	for b := range batch {
		batch[b] = make([]float64, len(p.Causes))
		for i, c := range p.Causes {
			for range draws / batches {
				s := drawState(rng, p, c)
				ln, ok := lnTimes(&s, v.times)
				l := 0.
				switch {
				case c.Name == Unexplained:
					l = missed(v.times, v.ln[0]-nominal[0], v.ln[1]-nominal[1])
				case ok:
					l = v.density(ln[0], ln[1])
				}
				for _, r := range p.Design.Readings {
					if l == 0 {
						break
					}
					switch r.Name {
					case "supply":
						l *= likelihood(r, s.n.Supply)
					case "control":
						l *= likelihood(r, s.n.Upper*s.n.Supply)
					default:
						l *= likelihood(r, (&Truth{Network: s.n}).Value(r.Name))
					}
				}
				batch[b][i] += c.Odds * l
			}
		}
	}
	normalise := func(all []float64) []float64 {
		sum := 0.
		for _, x := range all {
			sum += x
		}
		out := make([]float64, len(all))
		for i, x := range all {
			out[i] = x / sum
		}
		return out
	}
	total := make([]float64, len(p.Causes))
	for b := range batch {
		for i, x := range batch[b] {
			total[i] += x
		}
	}
	probability = normalise(total)
	standard = make([]float64, len(total))
	for b := range batch {
		for i, x := range normalise(batch[b]) {
			standard[i] += sq(x - probability[i])
		}
	}
	for i := range standard {
		standard[i] = math.Sqrt(standard[i] / (batches * (batches - 1)))
	}
	return probability, standard
}

// nominalState is the board with nominal parts and the terms at their means.
func nominalState(p *Problem) *state {
	s := state{n: fittest.Network{Circuit: p.Design.Circuit, Upper: 2. / 3, Lower: 1. / 3,
		Supply: p.Design.Supply.Value, OutputHigh: p.Design.Supply.Value, Reference: p.Design.Supply.Value / 2}}
	for _, part := range p.Design.Parts {
		partSetters[part.Name](&s, math.Log(part.Nominal))
	}
	for _, row := range termTable {
		for _, t := range p.Terms {
			if t.Name == row.name {
				row.set(&s, t.mean())
			}
		}
	}
	return &s
}

// Plain averaging can only meet a likelihood that isn't much narrower than the priors, so the boards' times are given 1 % here.
// Nothing in the reference depends on that size but its proposal.
func TestReferenceAgainstPlainAveraging(t *testing.T) {
	boards, draws := 8, 20_000
	if long() {
		boards, draws = 100, 1_000_000
	}
	sum, n := 0., 0
	for i := range boards {
		rng := rand.New(rand.NewPCG(uint64(i), 77))
		terms := [][]Term{nil, bipolarLike()}[i/4%2]
		b := RandomBoard(rng, Circuits[i%4], terms, Ordinary, nil)
		p := &b.Problem
		p.Measured.High.Uncertainty = 0.01 * p.Measured.High.Value
		p.Measured.Low.Uncertainty = 0.01 * p.Measured.Low.Value
		p.Measured.Covariance = 0.3 * p.Measured.High.Uncertainty * p.Measured.Low.Uncertainty
		if i%3 == 0 {
			at := b.Truth.Network.Upper * b.Truth.Network.Supply
			p.Design.Readings = append(p.Design.Readings, fit.Reading{Name: "control", Value: at, Standard: 0.02 * at})
		}
		a, err := Reference(p, Options{Error: 0.002})
		if err != nil {
			t.Fatal(err)
		}
		plain, standard := plainProbabilities(rng, p, draws)
		for k, c := range a.Causes {
			e := math.Hypot(standard[k], c.Error)
			if e < 1e-4 {
				e = math.Hypot(e, 1e-4)
			}
			z := (c.Probability - plain[k]) / e
			sum += z * z
			n++
			// 5 standard errors; the errors themselves have 7 to 9 degrees of freedom, so this is about 1 in 1000.
			if math.Abs(z) > 5 && math.Abs(c.Probability-plain[k]) > 0.002 {
				t.Errorf("board %d %s %v: reference %.4f ± %.4f, plain averaging %.4f ± %.4f", i, p.Design.Circuit, c.Cause,
					c.Probability, c.Error, plain[k], standard[k])
			}
		}
	}
	t.Logf("%d probabilities, root mean square difference %.2f standard errors", n, math.Sqrt(sum/float64(n)))
	if rms := math.Sqrt(sum / float64(n)); rms > 1.6 {
		t.Errorf("root mean square difference of %.2f standard errors, want about 1", rms)
	}
}

// Two seeds of the reference differ by no more than their stated errors say.
func TestReferenceErrorIsHonest(t *testing.T) {
	boards := 3
	if long() {
		boards = 200
	}
	sum, n := 0., 0
	for i := range boards {
		rng := rand.New(rand.NewPCG(uint64(i), 78))
		b := RandomBoard(rng, Circuits[(i+i/4)%4], [][]Term{nil, bipolarLike()}[i%2], Every, nil)
		first, err := Reference(&b.Problem, Options{Error: 0.002, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		second, _ := Reference(&b.Problem, Options{Error: 0.002, Seed: 2})
		if !first.Status.Converged {
			t.Logf("board %d %s %v: not converged, %+v", i, b.Problem.Design.Circuit, b.Truth.Cause, first.Status)
		}
		for k, c := range first.Causes {
			if e := math.Hypot(c.Error, second.Causes[k].Error); e > 1e-4 {
				z := (c.Probability - second.Causes[k].Probability) / e
				sum += z * z
				n++
				if math.Abs(z) > 5 {
					t.Errorf("board %d %s %v: %.4f ± %.4f and %.4f ± %.4f", i, b.Problem.Design.Circuit, c.Cause, c.Probability, c.Error,
						second.Causes[k].Probability, second.Causes[k].Error)
				}
			}
		}
	}
	rms := math.Sqrt(sum / float64(n))
	t.Logf("%d probabilities, root mean square difference %.2f standard errors", n, rms)
	if n < 5 || rms > 1.7 {
		t.Errorf("root mean square difference of %.2f standard errors over %d, want about 1", rms, n)
	}
}
