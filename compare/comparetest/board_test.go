package comparetest

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/fittest"
)

// Each cause of each circuit can be asked for, and what is measured is the true network's times within the noise: over all
// boards the squared distance, in the covariance stated, averages the number of times.
func TestRandomBoards(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 4))
	distance, times := 0., 0.
	for _, circuit := range Circuits {
		for _, terms := range [][]Term{nil, bipolarLike()} {
			parts := randomDesign(rng, circuit, Every).Design.Parts
			for _, wanted := range AllCauses(circuit, parts, Every) {
				for range 4 {
					b := RandomBoard(rng, circuit, terms, Every, func(c Cause) bool { return c.Name == wanted.Name && len(c.Parts) == len(wanted.Parts) })
					if b.Truth.Cause.Name != wanted.Name {
						t.Fatalf("%s: asked for %v, got %v", circuit, wanted, b.Truth.Cause)
					}
					v, err := b.Problem.measured()
					if err != nil {
						t.Fatal(err)
					}
					if wanted.Name == Unexplained {
						continue
					}
					s := state{b.Truth.Network, b.Truth.LnClock, b.Truth.View}
					ln, ok := lnTimes(&s, v.times)
					if !ok {
						t.Fatalf("%s %v: the true board does not run", circuit, b.Truth.Cause)
					}
					d, e := v.ln[0]-ln[0], v.ln[1]-ln[1]
					if v.times == 1 {
						e = 0
					}
					distance += v.precision[0]*d*d + v.precision[1]*e*e + 2*v.precision[2]*d*e
					times += float64(v.times)
				}
			}
		}
	}
	// The mean of a chi-square of some 700 degrees of freedom over its number has standard deviation sqrt(2/700) = 0.053.
	if ratio := distance / times; math.Abs(ratio-1) > 0.2 {
		t.Errorf("squared distance of measured from true times is %.2f of what the stated covariance says, over %g times", ratio, times)
	}
}

// Without a wanted cause, causes come by their odds.
func TestCausesByOdds(t *testing.T) {
	rng := rand.New(rand.NewPCG(22, 4))
	expected, seen := 0., 0.
	const n = 300
	for range n {
		b := RandomBoard(rng, fittest.Monostable, nil, Every, nil)
		total := 0.
		for _, c := range b.Problem.Causes {
			total += c.Odds
		}
		expected += 1 / total
		if b.Truth.Cause.Name == Nothing {
			seen++
		}
	}
	// Binomial: standard deviation below sqrt(300)/2 = 9.
	if math.Abs(seen-expected) > 30 {
		t.Errorf("nothing wrong on %g of %d boards, expected %.0f", seen, n, expected)
	}
}

// The answer doesn't depend on the order of the causes, on resistances times k with capacitances over k, or on times
// and capacitances times k; and odds act as odds.
func TestReferenceLaws(t *testing.T) {
	rng := rand.New(rand.NewPCG(23, 4))
	b := RandomBoard(rng, fittest.Astable, nil, Every, func(c Cause) bool { return c.Name == Nothing })
	b.Problem.Design.Readings = nil
	p := b.Problem
	first := reference(t, &p)
	find := func(a *Answer, c Cause) CauseAnswer {
		for _, one := range a.Causes {
			if one.Name == c.Name && len(one.Parts) == len(c.Parts) && (len(c.Parts) == 0 || one.Parts[0] == c.Parts[0] && one.Parts[len(c.Parts)-1] == c.Parts[len(c.Parts)-1]) {
				return one
			}
		}
		t.Fatalf("%v is gone", c)
		return CauseAnswer{}
	}
	compare := func(law string, a *Answer, scale float64) {
		t.Helper()
		for _, c := range first.Causes {
			if law == "impedance" && c.Name == Stray {
				continue // its prior is in farad, whatever the board's impedance
			}
			d := find(a, c.Cause)
			if c.Probability < 1e-3 || d.Probability < 1e-3 {
				continue
			}
			// Both sides are sampled: 5 standard errors of their difference.
			if diff := math.Abs(d.LogEvidence - c.LogEvidence - math.Log(scale)); diff > 5*math.Hypot(c.Error/c.Probability, d.Error/d.Probability)+0.02 {
				t.Errorf("%s: %v has ln evidence %.4f and %.4f", law, c.Cause, c.LogEvidence, d.LogEvidence)
			}
		}
	}
	turned := p
	turned.Causes = nil
	for i := range p.Causes {
		turned.Causes = append(turned.Causes, p.Causes[len(p.Causes)-1-i])
	}
	compare("order", reference(t, &turned), 1)

	impedance := p
	impedance.Design.Parts = append(impedance.Design.Parts[:0:0], p.Design.Parts...)
	for i := range impedance.Design.Parts {
		part := &impedance.Design.Parts[i]
		part.Nominal *= map[string]float64{"R1": 10, "R2": 10, "C1": 0.1}[part.Name]
	}
	compare("impedance", reference(t, &impedance), 1)

	odds := p
	odds.Causes = append(odds.Causes[:0:0], p.Causes...)
	for i := range odds.Causes {
		if odds.Causes[i].Name == Clock {
			odds.Causes[i].Odds *= 7
		}
	}
	a := reference(t, &odds)
	before, after := find(first, Cause{Name: Clock}), find(a, Cause{Name: Clock})
	if before.Probability < 0.003 {
		t.Fatalf("the clock's probability is %g: this board no longer shows anything", before.Probability)
	}
	o := before.Probability / (1 - before.Probability)
	if want := 7 * o / (1 + 7*o); math.Abs(after.Probability-want) > 0.01 {
		t.Errorf("odds of the clock times 7: %.4f became %.4f, want %.4f", before.Probability, after.Probability, want)
	}
}

func reference(t *testing.T, p *Problem) *Answer {
	t.Helper()
	a, err := Reference(p, Options{Error: 0.002})
	if err != nil {
		t.Fatal(err)
	}
	if !a.Status.Converged {
		t.Fatalf("not converged: %+v", a.Status)
	}
	return a
}

func BenchmarkReference(b *testing.B) {
	for b.Loop() {
		board := RandomBoard(rand.New(rand.NewPCG(1, 1)), fittest.Astable, nil, Ordinary, nil)
		if _, err := Reference(&board.Problem, Options{Error: 0.002}); err != nil {
			b.Fatal(err)
		}
	}
}
