// Package verdict decides pass, fail or undecided against a target, with a guard band.
package verdict

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/compare"
	"offbeat/fit"
)

// Results, the worst last.
const (
	None      = "no target"
	Pass      = "pass"
	Undecided = "undecided"
	Fail      = "fail"
)

// coverage is the factor k of the guard band w = k u where the uncertainty is well known: with it a value measured exactly on
// the acceptance limit is outside the target with a chance of 2.3 % (ILAC-G8:09/2019, guard band w = U). Where it rests on few
// cycles k is Student's factor for the same chance (JCGM 100 G.3).
const coverage = 2

// Rule names the decision rule in words; FewRule that of a measurement whose uncertainty rests on few cycles.
const (
	Rule    = "ILAC-G8:09/2019 guard band w = U = 2u: pass when the value lies inside the target's limits by at least w, fail when it lies outside by at least w, else undecided"
	FewRule = "ILAC-G8:09/2019 guard band w = U = k u, with Student's k for 95.45 % since the uncertainty rests on few cycles: pass when the value lies inside the target's limits by at least w, fail when it lies outside by at least w, else undecided"
)

// Decide judges every quantity of the target; the whole result is the worst of them.
// The measurement lacks a quantity (a single pulse has no frequency): an error that names it.
func Decide(targets []fit.Target, m *fit.Measurement, onePulse bool) (compare.Verdict, error) {
	if len(targets) == 0 {
		return compare.Verdict{Result: None}, nil
	}
	v := compare.Verdict{Result: Pass, Rule: Rule}
	for _, t := range targets {
		e, freedom, err := quantity(t.Quantity, m, onePulse)
		if err != nil {
			return v, err
		}
		q := judge(t, e, freedom)
		if freedom > 0 {
			v.Rule = FewRule
		}
		v.Each = append(v.Each, q)
		if v.Quantity == "" || worse(q.Result, v.Result) {
			v.Result, v.Quantity = q.Result, q.Quantity
		}
	}
	return v, nil
}

// quantity gives one of the five by its name, and the degrees of freedom of its uncertainty.
func quantity(name string, m *fit.Measurement, onePulse bool) (fit.Estimate, float64, error) {
	if onePulse && name != "high_time" {
		return fit.Estimate{}, 0, fmt.Errorf("target %s: a monostable has a high time alone; expected [target] high_time", name)
	}
	switch name {
	case "high_time":
		return m.WithClock(m.High), m.Freedom.High, nil
	case "low_time":
		return m.WithClock(m.Low), m.Freedom.Low, nil
	case "period":
		return m.Period(), m.Freedom.Period, nil
	case "frequency":
		return m.Frequency(), m.Freedom.Period, nil
	case "duty_factor":
		return m.Duty(), m.Freedom.Duty, nil
	}
	return fit.Estimate{}, 0, fmt.Errorf("unknown target %q; expected frequency, period, high_time, low_time or duty_factor", name)
}

func judge(t fit.Target, e fit.Estimate, freedom float64) compare.QuantityVerdict {
	w := factor(freedom) * e.Uncertainty
	q := compare.QuantityVerdict{Quantity: t.Quantity, Result: Undecided, Value: e.Value, Uncertainty: e.Uncertainty, Freedom: freedom, Limits: [2]float64{t.Low, t.High}, GuardBand: w}
	if e.Value >= t.Low+w && e.Value <= t.High-w {
		q.Result = Pass
	}
	if e.Value <= t.Low-w || e.Value >= t.High+w {
		q.Result = Fail
	}
	q.ProbabilityIn = inside(t, e, freedom)
	return q
}

// factor is k of the guard band.
func factor(freedom float64) float64 {
	if freedom == 0 {
		return coverage
	}
	return distuv.StudentsT{Sigma: 1, Nu: freedom}.Quantile(distuv.UnitNormal.CDF(coverage))
}

// inside is the probability that the true value lies in the limits (JCGM 106 8.2), the measurement normal, or Student's where
// its uncertainty is known with so many degrees of freedom (JCGM 101 6.4.9).
func inside(t fit.Target, e fit.Estimate, freedom float64) float64 {
	if e.Uncertainty == 0 {
		if e.Value >= t.Low && e.Value <= t.High {
			return 1
		}
		return 0
	}
	var d interface{ CDF(float64) float64 } = distuv.Normal{Mu: e.Value, Sigma: e.Uncertainty}
	if freedom > 0 {
		d = distuv.StudentsT{Mu: e.Value, Sigma: e.Uncertainty, Nu: freedom}
	}
	return math.Max(0, d.CDF(t.High)-d.CDF(t.Low))
}

var rank = map[string]int{Pass: 1, Undecided: 2, Fail: 3}

func worse(a, b string) bool { return rank[a] > rank[b] }
