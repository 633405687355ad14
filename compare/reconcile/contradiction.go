package reconcile

import (
	"context"
	"fmt"
	"math"
	"slices"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// slips are factors by which a wrong unit of time puts all times off, and alike is how near to one counts, in natural logarithms: with a
// prefix too small the design's times are those of stray capacitance and delays, too.
var slips = []float64{1e-6, 1e-3, 1e3, 1e6}

const alike = 0.5

// oddities says which of a measurement's times no board has, and where a unit of time is the likely reason.
func oddities(b *cause.Board, f *compare.Finding) []string {
	var out []string
	m := f.Measured
	if c := b.Circuit; c.Ratio != nil && m.Low != nil {
		if r := m.High.Value / m.Low.Value; r <= c.Ratio.Least || r >= c.Ratio.Most {
			turn := "the channel is inverted (--invert)"
			if b.Inverted {
				turn = "it should not be inverted (leave --invert out)"
			}
			out = append(out, c.Ratio.Why+", "+turn+", or the capture is of another node")
		}
	}
	if k := Slipped(f); k > 0 {
		out = append(out, slipText(k, b.TimeUnit))
	}
	return out
}

// Slipped is the power of a thousand that the times are about of those of the design, as where a prefix of a unit is wrong; 0: none.
func Slipped(f *compare.Finding) float64 {
	m, p := f.Measured, f.Predicted
	if m.High == nil || p.High == nil {
		return 0
	}
	for _, k := range slips {
		if math.Abs(math.Log(m.High.Value/p.High.Nominal/k)) < alike && (m.Low == nil || p.Low == nil || math.Abs(math.Log(m.Low.Value/p.Low.Nominal/k)) < alike) {
			return k
		}
	}
	return 0
}

func slipText(k float64, unit string) string {
	return fmt.Sprintf("the times are about %g times those of the design: the unit of the capture's time column (%s), or a prefix in the design's values (n, µ; k, M), is the likely reason", k, cause.TimeUnitFlag(unit, k))
}

// TargetSlip says where a target is a power of ten of what the design's own parts make, to a quarter: nobody asks that of a circuit.
// The nominals, in the order of compare.Quantities, are nought where they have no meaning.
func TargetSlip(d *fit.Design, nominal [5]float64) string {
	for _, t := range d.Targets {
		n := nominal[compare.PlaceOf(t.Quantity)]
		if !(t.Low > 0) || !(n > 0) || math.IsInf(t.High, 0) || t.Quantity == "duty_factor" {
			continue
		}
		power := math.Log10(math.Sqrt(t.Low*t.High) / n)
		if k := math.Round(power); k != 0 && math.Abs(power-k) < math.Log10(1.25) {
			return fmt.Sprintf("The target's %s is about %g times what the design's own parts make: a prefix or a decade is likely wrong, in the target or in a part's value.", compare.QuantityOf(t.Quantity).Name, math.Pow(10, k))
		}
	}
	return ""
}

// Undersampled says what is wrong, and what to expect, where samples as far apart as interval, in s, cannot show the
// design's pulses. Empty: they can, or the design keeps no time.
func Undersampled(d *fit.Design, interval float64) (what, expect string) {
	c, err := circuit.Of(d)
	if err != nil {
		return "", ""
	}
	v, err := c.Typical(d)
	if err != nil {
		return "", ""
	}
	high, low, ok := c.Times(&v)
	if !c.OnePulse {
		high = min(high, low)
	}
	if !ok || high >= 2*interval {
		return "", ""
	}
	return fmt.Sprintf("the samples are %s apart and the design's shortest pulse is %s: below two samples a pulse another frequency shows, or no steady one",
			quantity.Format(interval, quantity.Second), quantity.Format(high, quantity.Second)),
		fmt.Sprintf("the output at ten samples a pulse, %.0f a second or more", cause.Rate(high))
}

// doubtful is the probability of "unexplained" from which it is asked whether one piece of evidence is at odds with
// the rest, and reconciled that below which leaving it out has answered it.
const (
	doubtful   = 0.5
	reconciled = 0.3
)

// piece is one piece of evidence that can be left out.
type piece struct {
	name string // with its verb
	drop func(d *fit.Design, obs []question.Observation) (*fit.Design, []question.Observation)
}

// pieces lists the direct readings and, where there are several settings, the captures of each.
func pieces(d *fit.Design, set []question.Setting) []piece {
	var out []piece
	for i, r := range d.Readings {
		out = append(out, piece{"the reading of " + r.Name + " contradicts", func(d *fit.Design, obs []question.Observation) (*fit.Design, []question.Observation) {
			e := *d
			e.Readings = slices.Delete(slices.Clone(d.Readings), i, i+1)
			return &e, obs
		}})
	}
	if slices.ContainsFunc(set, func(s question.Setting) bool { return len(s.Waves) > 0 }) {
		out = append(out, piece{"the capacitor's waveform contradicts", func(d *fit.Design, obs []question.Observation) (*fit.Design, []question.Observation) {
			bare := slices.Clone(obs)
			for i := range bare {
				bare[i].Waveform = nil
			}
			return d, bare
		}})
	}
	if len(set) < 2 {
		return out
	}
	for i := range set {
		captures := set[i].Captures
		out = append(out, piece{set[i].Name() + " contradict", func(d *fit.Design, obs []question.Observation) (*fit.Design, []question.Observation) {
			return d, slices.DeleteFunc(slices.Clone(obs), func(o question.Observation) bool { return slices.Contains(captures, o.Measurement) })
		}})
	}
	return out
}

// contradictions finds the pieces of evidence without which a listed cause explains the rest. It looks only where no
// cause explains everything.
func (s *solved) contradictions(f *compare.Finding, d *fit.Design, obs []question.Observation, set []question.Setting) []string {
	if !s.result.Status.Impossible && unexplained(f.Causes) < doubtful {
		return nil
	}
	var out []string
	for _, p := range pieces(d, set) {
		less, seen := p.drop(d, obs)
		rest, err := without(s.Problem.Context, less, seen)
		if err != nil || rest.result.Status.Impossible {
			continue
		}
		causes := rest.causes(asked{})
		if unexplained(causes) < reconciled {
			out = append(out, fmt.Sprintf("%s the rest: that left out, the likeliest is %s (%s); check it first", p.name, causes[0].Detail, quantity.Probability(causes[0].Probability)))
		}
	}
	return out
}

func unexplained(causes []compare.Cause) float64 {
	for _, c := range causes {
		if c.Cause == cause.Unexplained {
			return c.Probability
		}
	}
	return 0
}

// without solves what is left of the evidence.
func without(ctx context.Context, d *fit.Design, obs []question.Observation) (*solved, error) {
	b, err := cause.NewBoard(d)
	if err != nil {
		return nil, err
	}
	set, _, err := question.Settings(b.Circuit, obs)
	if err != nil {
		return nil, err
	}
	q, err := question.Of(b, set, question.Facts(obs))
	if err != nil {
		return nil, err
	}
	q.Problem.Context = ctx
	r, err := q.Solve()
	return &solved{Question: *q, result: r}, err
}
