package reconcile

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/comparetest"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// termNames are the reference's names of the second-order slots.
var termNames = map[circuit.Slot]string{
	circuit.Upper: "upper", circuit.Half: "lower_of_upper", circuit.SwitchVoltage: "saturation", circuit.SwitchResistance: "on_resistance",
	circuit.DelayFall: "delay_fall", circuit.DelayRise: "delay_rise", circuit.Bias: "bias", circuit.DiodeDrop: "diode",
	circuit.OutputDrop: "output_high_drop", circuit.OutputLow: "output_low", circuit.BaseEmitter: "base_emitter", circuit.Breakdown: "breakdown",
}

// circuitsOf lists the reference's circuits that come in a family.
func circuitsOf(t *testing.T, family string) []string {
	t.Helper()
	var out []string
	for _, name := range comparetest.Circuits {
		c, err := circuit.Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := c.Priors(family); err == nil {
			out = append(out, name)
		}
	}
	return out
}

// terms hands the family's priors to the reference as numbers.
func terms(t *testing.T, name, family string) []comparetest.Term {
	t.Helper()
	c, err := circuit.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	priors, err := c.Priors(family)
	if err != nil {
		t.Fatal(err)
	}
	var out []comparetest.Term
	for _, p := range priors {
		term := comparetest.Term{Name: termNames[p.Slot], Low: p.A, High: p.B}
		if p.Form == circuit.Normal {
			term = comparetest.Term{Name: termNames[p.Slot], Mean: p.A, SD: p.B}
		}
		out = append(out, term)
	}
	return out
}

// oddsKeys are the causes' keys in [odds].
var oddsKeys = map[string]string{
	comparetest.OtherValue: "other_value", comparetest.Shifted: "shifted", comparetest.Exchanged: "exchanged", comparetest.Leakage: "leakage",
	comparetest.Thresholds: "thresholds", comparetest.Discharge: "discharge", comparetest.Clock: "clock", comparetest.Unexplained: "unexplained",
	comparetest.Aged: "aged", comparetest.Contact: "contact", comparetest.Stray: "stray", comparetest.WrongSignal: "wrong_signal",
}

// setOdds writes the problem's odds into its design.
func setOdds(p *comparetest.Problem) {
	odds := map[string]float64{}
	for _, c := range cause.All() {
		if c.Name != cause.Nothing {
			odds[c.Key] = 0
		}
	}
	for _, c := range p.Causes {
		switch {
		case c.Name == comparetest.Nothing:
		case len(c.Parts) == 2 && c.Name == comparetest.Shifted:
			odds["two_shifted"] = c.Odds
		case len(c.Parts) == 1:
			odds[oddsKeys[c.Name]+"."+c.Parts[0]] = c.Odds
		default:
			odds[oddsKeys[c.Name]] = c.Odds
		}
	}
	p.Design.Odds = odds
}

// probability finds an explanation among a finding's causes.
func probability(f *compare.Finding, c comparetest.Cause) float64 {
	for _, k := range f.Causes {
		parts := slices.Clone(c.Parts)
		slices.Sort(parts)
		theirs := slices.Clone(k.Parts)
		slices.Sort(theirs)
		if k.Cause == c.Name && (len(c.Parts) == 0 || strings.Join(parts, "+") == strings.Join(theirs, "+")) {
			return k.Probability
		}
	}
	return 0
}

// The back-solve against the brute-force reference, an independent code: every stated probability within 0.01
// beyond three standard errors of the reference, over boards whose true causes cover all. A few boards a
// circuit and family by default; OFFBEAT_REFERENCE=N takes N boards a family (make reference).
func TestAgainstBruteForce(t *testing.T) {
	boards := 6
	if n := os.Getenv("OFFBEAT_REFERENCE"); n != "" {
		if _, err := fmt.Sscan(n, &boards); err != nil {
			t.Fatalf("OFFBEAT_REFERENCE=%q is no number of boards", n)
		}
	}
	// Boards that the back-solve once had wrong: a free part's prior tilted to the end of its tail.
	stubborn := map[string][]int{fit.Bipolar: {44}}
	for _, family := range []string{fit.Ideal, fit.Bipolar} {
		t.Run(family, func(t *testing.T) {
			var worst, worstPart float64
			seen := map[string]int{}
			var spent time.Duration
			numbers := numbers(boards, stubborn[family])
			for i := range boards / 3 {
				numbers = append(numbers, others+i)
			}
			for _, i := range numbers {
				p, truth := referenceBoard(t, family, i)
				seen[truth]++
				start := time.Now()
				got, err := Run(&p.Design, []*fit.Measurement{&p.Measured})
				if err != nil {
					t.Fatalf("board %d: %v", i, err)
				}
				spent += time.Since(start)
				r, err := arbitrated(p, got, uint64(i))
				if err != nil {
					t.Fatal(err)
				}
				worst, worstPart = max(worst, r.cause), max(worstPart, r.part)
				if !r.apart() {
					continue
				}
				t.Errorf("board %d (%s, %s): causes differ by %.4f, out of tolerance by %.4f", i, p.Design.Circuit, truth, r.cause, r.part)
				for _, c := range r.want.Causes {
					t.Logf("  %s %v: %.4f, the reference says %.4f ± %.4f", c.Name, c.Parts, probability(got, c.Cause), c.Probability, c.Error)
				}
			}
			t.Logf("%d boards, true causes %v: largest difference beyond three standard errors: causes %.4f, out of tolerance %.4f; %v a board", len(numbers), seen, worst, worstPart, spent/time.Duration(len(numbers)))
		})
	}
}

// numbers is 0 … n-1 and those of more that are not among them.
func numbers(n int, more []int) []int {
	var out []int
	for i := range n {
		out = append(out, i)
	}
	for _, i := range more {
		if i >= n {
			out = append(out, i)
		}
	}
	return out
}

// reply is one answer of the reference and how far a finding is from it.
type reply struct {
	want        *comparetest.Answer
	cause, part float64
}

// apart says whether the two differ by more than is allowed.
func (r reply) apart() bool { return r.cause > 0.01 || r.part > 0.01 }

// arbitrated is the reference's answer. An importance sampler can miss where a cause's evidence lies, and then states nought
// for certain: where the two differ, two more seeds speak, and the middle one counts.
func arbitrated(p *comparetest.Problem, got *compare.Finding, seed uint64) (reply, error) {
	var all []reply
	for k := range uint64(3) {
		r, err := compared(p, got, seed+1000*k)
		if err != nil || k == 0 && !r.apart() {
			return r, err
		}
		all = append(all, r)
	}
	slices.SortFunc(all, func(a, b reply) int { return cmp.Compare(max(a.cause, a.part), max(b.cause, b.part)) })
	return all[1], nil
}

// compared asks the reference and gives the largest difference of a cause's probability and of a part's probability
// of being out of tolerance, each beyond three standard errors of the reference.
func compared(p *comparetest.Problem, got *compare.Finding, seed uint64) (r reply, err error) {
	want, err := comparetest.Reference(p, comparetest.Options{Error: 0.002, Seed: seed, Samples: 1 << 17})
	if err != nil {
		return r, err
	}
	r.want = want
	for _, c := range want.Causes {
		r.cause = max(r.cause, math.Abs(probability(got, c.Cause)-c.Probability)-3*c.Error)
	}
	for k, q := range want.Parts {
		r.part = max(r.part, math.Abs(got.Parts[k].OutOfTolerance-q.OutOfTolerance)-3*q.Error)
	}
	return r, nil
}

// others is the number from which on boards are of the circuits without a timer.
const others = 1000

// referenceBoard draws the i-th board: circuits and true causes in turn.
func referenceBoard(t *testing.T, family string, i int) (*comparetest.Problem, string) {
	t.Helper()
	rng := rand.New(rand.NewPCG(uint64(i), 2026))
	names := circuitsOf(t, family)
	timers, rest := names[:4], names[4:]
	if names = timers; i >= others {
		names = rest
	}
	name := names[i%len(names)]
	causes := []string{comparetest.Nothing, comparetest.Shifted, comparetest.OtherValue, comparetest.Exchanged, comparetest.Leakage, comparetest.Thresholds, comparetest.Discharge, comparetest.Clock, comparetest.Unexplained,
		comparetest.Aged, comparetest.Contact, comparetest.Stray, comparetest.WrongSignal}
	wanted := causes[(i/len(names))%len(causes)]
	if !comparetest.Possible(name, wanted) {
		wanted = comparetest.Shifted
	}
	b := comparetest.RandomBoard(rng, name, terms(t, name, family), comparetest.Every, func(c comparetest.Cause) bool { return c.Name == wanted })
	return pose(&b, family), cause.Key(b.Truth.Cause.Name, b.Truth.Cause.Parts)
}

// pose makes a drawn board a question that both codes read alike.
func pose(b *comparetest.Board, family string) *comparetest.Problem {
	p := &b.Problem
	p.Design.Family, p.Design.History = family, fit.New
	// The reference takes a control-pin reading in volts on the unknown supply; here it is a ratio to the stated
	// one, so boards with such a reading are left to the tests of package cause.
	p.Design.Readings = slices.DeleteFunc(p.Design.Readings, func(r fit.Reading) bool { return r.Name == "control" })
	setOdds(p)
	return p
}
