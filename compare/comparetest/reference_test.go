package comparetest_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/floats"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/comparetest"
	"offbeat/compare/reconcile"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
)

// The back-solve against plain averages over the prior (package comparetest, whose priors, odds and hypotheses are written
// apart): every cause's probability, every part's of being out of tolerance, and where the estimate and both ends of the
// interval lie, within 0.01 beyond three standard errors of the averages, on seventeen wirings, their families in turn, and
// with every cause for a truth. One board a wiring by default, on fewer draws; OFFBEAT_REFERENCE=N takes N (make reference).
func TestAgainstBruteForce(t *testing.T) {
	boards, most := 0, 0.01
	if n := os.Getenv("OFFBEAT_REFERENCE"); n != "" {
		if _, err := fmt.Sscan(n, &boards); err != nil {
			t.Fatalf("OFFBEAT_REFERENCE=%q is no number of boards", n)
		}
	}
	var all judged
	worstError := 0.
	seen, count, unjudged := map[string]int{}, 0, 0
	for i, w := range comparetest.Wirings {
		for k := range max(boards, 1) {
			if boards == 0 {
				if i == len(comparetest.Wirings)-1 {
					continue // two charged nodes: each draw takes ten times as long
				}
				k = quick[w.Name]
			}
			b := referenceBoard(t, w, i, k)
			got, err := reconcile.Run(&b.Design, []*fit.Measurement{&b.Measured})
			if err != nil {
				t.Fatalf("%s, board %d: %v", w.Name, k, err)
			}
			o := comparetest.Options{Seed: uint64(k)}
			if boards == 0 {
				o.Error, o.Draws, o.First, most = 0.0075, 1<<16, 1<<8, 0.006 // together as close as 0.01 beyond three times 0.006
			}
			r, err := judge(&b.Problem, got, o)
			if err != nil {
				t.Fatalf("%s, board %d: %v", w.Name, k, err)
			}
			if !(r.want.Effective >= comparetest.Enough) {
				t.Logf("%s, %s, board %d, truth %s %v: of %d draws %.3g count: the averages say nothing of it, not judged", w.Name, b.Design.Family, k, b.Truth.Cause, b.Truth.Parts, r.want.Draws, r.want.Effective)
				unjudged++
				continue
			}
			all.cause, all.part, all.ends, all.median = max(all.cause, r.cause), max(all.part, r.part), max(all.ends, r.ends), max(all.median, r.median)
			worstError = max(worstError, r.want.Worst)
			count++
			seen[b.Truth.Cause]++
			t.Logf("%s, %s, truth %s %v: causes apart by %.4f, out of tolerance by %.4f; %d draws", w.Name, b.Design.Family, b.Truth.Cause, b.Truth.Parts, r.cause, r.part, r.want.Draws)
			if !r.apart(most) {
				continue
			}
			t.Errorf("%s, %s, board %d, truth %s %v: causes differ by %.4f, out of tolerance by %.4f, ends of intervals by %.4f, medians by %.4f", w.Name, b.Design.Family, k,
				b.Truth.Cause, b.Truth.Parts, r.cause, r.part, r.ends, r.median)
			for _, line := range r.lines {
				t.Log("  ", line)
			}
		}
	}
	if 10*unjudged > count {
		t.Errorf("%d boards were not judged, and %d were; expected a tenth at most", unjudged, count)
	}
	t.Logf("%d boards of %d wirings (%d more not judged), true causes %v: largest difference beyond three standard errors (at most %.4f): causes %.4f, out of tolerance %.4f, ends of intervals %.4f, medians %.4f",
		count, len(comparetest.Wirings), unjudged, seen, worstError, all.cause, all.part, all.ends, all.median)
}

// quick are the boards, not the first, of the wirings whose first takes most draws: on fewer the averages are as sharp or sharper.
var quick = map[string]int{"astable-diode": 3, "astable-output": 1, "multivibrator": 1, "two diodes": 4, "diode across part of R2": 2, "comparator on one supply": 3}

// referenceBoard draws the k-th board of a wiring: families and true causes in turn.
func referenceBoard(t *testing.T, w *comparetest.Drawing, i, k int) comparetest.Board {
	t.Helper()
	rng := rand.New(rand.NewPCG(uint64(1000*i+k), 2026))
	family := w.Families[(i+k)%len(w.Families)]
	var wanted func(string, []string) bool
	if k%3 > 0 { // else by the odds
		name := comparetest.Order[(i+k)%len(comparetest.Order)]
		wanted = func(cause string, _ []string) bool { return cause == name }
	}
	b, err := comparetest.RandomBoard(rng, w, family, comparetest.Wide, false, wanted)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// judged is the reference's answer and how far a finding is from it, beyond three standard errors.
type judged struct {
	want                      *comparetest.Answer
	cause, part, ends, median float64
	lines                     []string
}

// apart says whether the two differ by more than is allowed. A median of some hundred effective samples is no better than
// their scatter, so that where it lies is held to 0.04.
func (r *judged) apart(most float64) bool {
	return max(r.cause, r.part, r.ends) > most || r.median > 0.04
}

// judge asks the reference.
func judge(p *comparetest.Problem, got *compare.Finding, o comparetest.Options) (r judged, err error) {
	for _, q := range got.Parts {
		o.Cuts = append(o.Cuts, [3]float64{q.Interval95[0], q.Value, q.Interval95[1]})
	}
	if top := &got.Causes[0]; top.Probability >= 0.5 && !slices.Contains([]string{comparetest.Nothing, comparetest.Shifted, comparetest.Resistors, comparetest.Unexplained}, top.Cause) {
		o.Likeliest = &comparetest.CauseAnswer{Cause: top.Cause, Parts: top.Parts}
	}
	if r.want, err = comparetest.Reference(p, o); err != nil {
		return r, err
	}
	compared := func(most *float64, name string, stated float64, want comparetest.Stated) {
		off := math.Abs(stated-want.Probability) - 3*want.Error
		*most = max(*most, off)
		if off > 0.003 || want.Probability > 0.05 {
			r.lines = append(r.lines, fmt.Sprintf("%s: %.4f, the reference says %.4f ± %.4f", name, stated, want.Probability, want.Error))
		}
	}
	known := map[string]bool{}
	for _, c := range r.want.Causes {
		known[sorted(c.Cause, c.Parts)] = true
		compared(&r.cause, c.Cause+fmt.Sprint(c.Parts), probability(got, c.Cause, c.Parts), c.Stated)
	}
	for _, c := range got.Causes {
		if !known[sorted(c.Cause, c.Parts)] {
			compared(&r.cause, c.Cause+fmt.Sprint(c.Parts), c.Probability, comparetest.Stated{})
		}
	}
	for k, q := range r.want.Parts {
		compared(&r.part, q.Name+" out of tolerance", got.Parts[k].OutOfTolerance, q.Out)
		for j, below := range []float64{0.025, 0.5, 0.975} {
			most := &r.ends
			if j == 1 {
				most = &r.median
			}
			if !got.Parts[k].Unsupported {
				compared(most, q.Name+" below "+fmt.Sprint(o.Cuts[k][j]), below, q.Below[j])
			}
		}
	}
	return r, nil
}

// probability finds an explanation's probability among a finding's causes.
func probability(f *compare.Finding, name string, parts []string) float64 {
	for _, k := range f.Causes {
		if sorted(k.Cause, k.Parts) == sorted(name, parts) {
			return k.Probability
		}
	}
	return 0
}

// sorted is a key that no order of the parts changes.
func sorted(name string, parts []string) string {
	return cause.Key(name, slices.Sorted(slices.Values(parts)))
}

// Times as sharp as captures give are out of reach of plain averages, but not of this identity: a wide normal likelihood is
// the average of sharp ones about times scattered by the rest of its variance. So the evidence with wide times, which the
// averages judge, is the mean evidence with sharp ones; which makes the probabilities agree, within four standard errors of
// that mean and 0.01. OFFBEAT_REFERENCE=N takes N boards, at most 4, of each of three wirings.
func TestSharpAveragesToWide(t *testing.T) {
	boards, _ := strconv.Atoi(os.Getenv("OFFBEAT_REFERENCE"))
	if boards == 0 {
		t.Skip("OFFBEAT_REFERENCE=N runs it")
	}
	const runs, blurred, sharp = 256, 0.03, 0.002
	scatter := math.Sqrt(blurred*blurred - sharp*sharp)
	for i, name := range []string{"astable", "two diodes", "capacitor to the supply"} {
		for k := range min(boards, 4) {
			b := referenceBoard(t, comparetest.Find(name), 50+i, k)
			rng := rand.New(rand.NewPCG(uint64(k), 77))
			evidence := func(lnHigh, lnLow, u float64) []float64 {
				m := b.Measured
				high, low := m.High.Value*math.Exp(lnHigh), m.Low.Value*math.Exp(lnLow)
				m.High.Value, m.High.Uncertainty, m.Low.Value, m.Low.Uncertainty, m.Covariance = high, u*high, low, u*low, 0
				_, s, err := reconcile.SolveWith(&b.Design, question.Observed([]*fit.Measurement{&m}))
				if err != nil {
					t.Fatal(err)
				}
				var out []float64
				for j := range s.Cases {
					out = append(out, s.Cases[j].Odds*math.Exp(s.Result.Outcomes[j].LogEvidence))
				}
				return out
			}
			wide := evidence(0, 0, blurred)
			draws := make([][]float64, runs)
			for r := range draws {
				draws[r] = evidence(scatter*rng.NormFloat64(), scatter*rng.NormFloat64(), sharp)
			}
			total, mean := floats.Sum(wide), 0.0
			for _, d := range draws {
				mean += floats.Sum(d) / runs
			}
			worst := 0.0
			for j := range wide {
				p, square := 0.0, 0.0
				for _, d := range draws {
					p += d[j] / mean / runs
				}
				for _, d := range draws {
					x := (d[j] - p*floats.Sum(d)) / mean
					square += x * x / runs
				}
				if off := math.Abs(wide[j]/total-p) - 4*math.Sqrt(square/runs); off > 0.01 {
					t.Errorf("%s, board %d, hypothesis %d: %.4f with wide times, %.4f ± %.4f on average of sharp ones", name, k, j, wide[j]/total, p, math.Sqrt(square/runs))
				} else {
					worst = max(worst, off)
				}
			}
			t.Logf("%s, board %d, truth %s: evidence %.4g with wide times, %.4g on average of sharp ones; probabilities differ by at most %.4f beyond four standard errors", name, k, b.Truth.Cause, total, mean, worst)
		}
	}
}
