package verdict

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit"
)

func measurement(period, u float64) *fit.Measurement {
	return &fit.Measurement{High: fit.Estimate{Value: period / 2, Uncertainty: u / math.Sqrt2, Count: 50}, Low: fit.Estimate{Value: period / 2, Uncertainty: u / math.Sqrt2, Count: 50}}
}

func TestDecide(t *testing.T) {
	target := []fit.Target{{Quantity: "period", Value: 1, Low: 0.97, High: 1.03}}
	for _, c := range []struct {
		period, u float64
		want      string
	}{
		{1.00, 0.001, Pass},
		{1.027, 0.001, Pass},
		{1.029, 0.001, Undecided}, // inside the limit, but by less than 2u
		{1.031, 0.001, Undecided},
		{1.033, 0.001, Fail},
		{0.969, 0.001, Undecided},
		{0.967, 0.001, Fail},
		{1.00, 0.02, Undecided}, // the guard bands leave nothing to pass in
		{1.50, 0.02, Fail},
	} {
		v, err := Decide(target, measurement(c.period, c.u), false)
		if err != nil {
			t.Fatal(err)
		}
		if v.Result != c.want {
			t.Errorf("period %v ± %v: %s, want %s", c.period, c.u, v.Result, c.want)
		}
	}
	v, err := Decide(nil, measurement(1, 0.1), false)
	if err != nil || v.Result != None {
		t.Errorf("without a target: %v, %v", v, err)
	}
}

// On the guarded limits themselves the decision is made, as the rule says it: by at least w;
// all values are exact in binary, the guard band is twice an eighth.
func TestOnTheGuardedLimits(t *testing.T) {
	limits := fit.Target{Quantity: "period", Low: 1, High: 3}
	for value, want := range map[float64]string{1.25: Pass, 2.75: Pass, 0.75: Fail, 3.25: Fail} {
		at := func(x float64) string { return judge(limits, fit.Estimate{Value: x, Uncertainty: 0.125}, 0).Result }
		if got := at(value); got != want {
			t.Errorf("%g: %s, want %s", value, got, want)
		}
		within := map[string]float64{Pass: -1, Fail: 1}[want] * math.Copysign(1, value-2)
		if got := at(value - within*1e-9); got != Undecided {
			t.Errorf("just short of %g: %s", value, got)
		}
		if got := at(value + within*1e-9); got != want {
			t.Errorf("just beyond %g: %s, want %s", value, got, want)
		}
	}
}

// JCGM 106 / ILAC-G8: measured on the guarded acceptance limit with w = U = 2u, the item is outside with a
// chance of 1 - Phi(2) = 0.0228; measured just on the tolerance limit, of 0.5.
func TestFalseAcceptance(t *testing.T) {
	target := []fit.Target{{Quantity: "period", Value: 1, Low: 0, High: 1.03}}
	check := func(period, want float64) {
		t.Helper()
		v, err := Decide(target, measurement(period, 0.001), false)
		if err != nil {
			t.Fatal(err)
		}
		if got := 1 - v.Each[0].ProbabilityIn; !(math.Abs(got-want) <= 1e-4) {
			t.Errorf("measured at %v: outside with probability %.5f, want %.5f", period, got, want)
		}
	}
	check(1.028, 0.02275)
	check(1.03, 0.5)
}

// Over many true values and measurement errors no more than 2.3 % of boards whose truth sits on the limit pass.
func TestGuardBandHolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	target := []fit.Target{{Quantity: "period", Value: 1, Low: 0.97, High: 1.03}}
	passed := 0
	const n = 20000
	for range n {
		v, err := Decide(target, measurement(1.03+0.001*rng.NormFloat64(), 0.001), false)
		if err != nil {
			t.Fatal(err)
		}
		if v.Result == Pass {
			passed++
		}
	}
	if share := float64(passed) / n; share > 0.0228+4*math.Sqrt(0.0228/n) || share < 0.0228-4*math.Sqrt(0.0228/n) {
		t.Errorf("%.4f of boards on the limit pass, want 0.0228", share)
	}
}

// Exactly known, on the limit and beyond it: a value on a limit is in, one beside it is out, and every one of the five quantities
// is judged by its own value.
func TestExact(t *testing.T) {
	m := &fit.Measurement{High: fit.Estimate{Value: 2, Count: 50}, Low: fit.Estimate{Value: 6, Count: 50}}
	for name, value := range map[string]float64{"high_time": 2, "low_time": 6, "period": 8, "frequency": 0.125, "duty_factor": 0.25} {
		for _, c := range []struct {
			low, high, in float64
			want          string
		}{
			{value, 2 * value, 1, Pass}, {value / 2, value, 1, Pass}, {value / 2, 2 * value, 1, Pass},
			{value * 1.001, 2 * value, 0, Fail}, {value / 2, value * 0.999, 0, Fail},
		} {
			v, err := Decide([]fit.Target{{Quantity: name, Low: c.low, High: c.high}}, m, false)
			if err != nil {
				t.Fatal(err)
			}
			if q := v.Each[0]; !(math.Abs(q.Value-value) <= 1e-12) || q.ProbabilityIn != c.in || v.Result != c.want && value != c.low && value != c.high {
				t.Errorf("%s %v in %v … %v: %s, in with %v, want %s, %v", name, q.Value, c.low, c.high, v.Result, q.ProbabilityIn, c.want, c.in)
			}
		}
	}
	if v, err := Decide([]fit.Target{{Quantity: "high_time", Low: 1, High: 3}}, m, true); err != nil || v.Result != Pass {
		t.Errorf("a monostable's pulse: %+v, %v", v, err)
	}
}

func TestWorstDecides(t *testing.T) {
	targets := []fit.Target{{Quantity: "period", Value: 1, Low: 0.97, High: 1.03}, {Quantity: "duty_factor", Value: 0.6, Low: 0.58, High: 0.62}}
	v, err := Decide(targets, measurement(1, 0.001), false)
	if err != nil || v.Result != Fail || v.Quantity != "duty_factor" || len(v.Each) != 2 {
		t.Errorf("got %+v, %v; want fail on duty_factor", v, err)
	}
	targets[0], targets[1] = targets[1], targets[0]
	if v, err = Decide(targets, measurement(1, 0.001), false); err != nil || v.Result != Fail || v.Quantity != "duty_factor" {
		t.Errorf("the other way round: %+v, %v", v, err)
	}
	same := []fit.Target{{Quantity: "period", Low: 0.9, High: 1.1}, {Quantity: "frequency", Low: 0.9, High: 1.1}}
	if v, err = Decide(same, measurement(1, 0.001), false); err != nil || v.Quantity != "period" || v.Rule != Rule {
		t.Errorf("of two that pass the first is named: %+v, %v", v, err)
	}
	few := measurement(1, 0.001)
	few.Freedom.Period = 2
	if v, err = Decide(same, few, false); err != nil || v.Rule != FewRule || v.Each[0].Freedom != 2 || v.Each[0].GuardBand < 3e-3 {
		t.Errorf("few cycles: %+v, %v", v, err)
	}
	if _, err := Decide(targets, measurement(1, 0.001), true); err == nil {
		t.Error("a monostable was judged by its period")
	}
	if _, err := Decide([]fit.Target{{Quantity: "loudness"}}, measurement(1, 0.1), false); err == nil {
		t.Error("an unknown quantity was judged")
	}
}

// TestPublishedConformance: the examples of JCGM 106 7.3.3 and 7.4, their Student's versions and ILAC-G8's guard band, in
// testdata/published/conformance_jcgm106.toml, recomputed there by another library.
func TestPublishedConformance(t *testing.T) {
	type example struct {
		Inputs     struct{ Lower, Upper, Estimate, U *float64 }
		Pc         float64
		Pc_student map[string]float64
	}
	var published struct {
		Upper      example `toml:"c7_3_3_ex1"`
		Lower      example `toml:"c7_3_3_ex2"`
		Both       example `toml:"c7_4"`
		Ilac_g8    struct{ Rows []map[string]any }
		Non_binary struct{ Y, Pc_normal, Pc_student_9 []float64 }
	}
	expect.Values(t, "conformance_jcgm106.toml", &published)
	for _, x := range []example{published.Upper, published.Lower, published.Both} {
		limits := fit.Target{Low: math.Inf(-1), High: math.Inf(1)}
		if x.Inputs.Lower != nil {
			limits.Low = *x.Inputs.Lower
		}
		if x.Inputs.Upper != nil {
			limits.High = *x.Inputs.Upper
		}
		e := fit.Estimate{Value: *x.Inputs.Estimate, Uncertainty: *x.Inputs.U}
		expect.Within(t, "conformance probability", inside(limits, e, 0), x.Pc, 1e-6)
		if len(x.Pc_student) != 5 {
			t.Fatalf("%d values of Student's", len(x.Pc_student))
		}
		for name, want := range x.Pc_student {
			nu, err := strconv.ParseFloat(strings.TrimPrefix(name, "nu"), 64)
			if err != nil {
				t.Fatal(err)
			}
			expect.Within(t, "conformance probability, "+name, inside(limits, e, nu), want, 1e-6)
		}
	}
	for i, y := range published.Non_binary.Y {
		e := fit.Estimate{Value: y, Uncertainty: 1}
		limits := fit.Target{Low: math.Inf(-1), High: 10}
		expect.Within(t, "normal", inside(limits, e, 0), published.Non_binary.Pc_normal[i], 1e-6)
		expect.Within(t, "Student's, 9", inside(limits, e, 9), published.Non_binary.Pc_student_9[i], 1e-6)
	}
	for _, row := range published.Ilac_g8.Rows {
		if row["name"] == "guarded w = U" {
			// What 2u would give, and what the factor for that many degrees of freedom does.
			for name, nu := range map[string]float64{"t5": 5, "t10": 10, "t30": 30} {
				e := fit.Estimate{Value: 10 - 2, Uncertainty: 1}
				limits := fit.Target{Low: math.Inf(-1), High: 10}
				expect.Within(t, name, 1-inside(limits, e, nu), row[name].(float64), 1e-6)
				e.Value = 10 - factor(nu)
				expect.Within(t, name+" with its factor", 1-inside(limits, e, nu), row["pfa"].(float64), 1e-6)
			}
		}
	}
}

// TestVerdictAgreesWithProbability: whatever value, uncertainty, limits and degrees of freedom, a pass has at most 2.3 % outside
// on either side, a fail at most 2.3 % inside, and what is undecided has neither.
func TestVerdictAgreesWithProbability(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 4))
	least := 0.5 * math.Erfc(coverage/math.Sqrt2)
	for range 5000 {
		limits := fit.Target{Quantity: "period", Low: 0.9 + 0.1*rnd.Float64(), High: 1 + 0.1*rnd.Float64()}
		e := fit.Estimate{Value: 0.8 + 0.4*rnd.Float64(), Uncertainty: 0.1 * rnd.ExpFloat64()}
		freedom := 0.0
		if rnd.IntN(2) == 0 {
			freedom = 1 + 20*rnd.ExpFloat64()
		}
		q := judge(limits, e, freedom)
		below, above := inside(fit.Target{Low: math.Inf(-1), High: limits.Low}, e, freedom), inside(fit.Target{Low: limits.High, High: math.Inf(1)}, e, freedom)
		pass, fail := below <= least+1e-9 && above <= least+1e-9, below >= 1-least-1e-9 || above >= 1-least-1e-9
		if (q.Result == Pass) != pass && !(math.Abs(max(below, above)-least) <= 1e-9) || (q.Result == Fail) != fail && !(math.Abs(max(below, above)-1+least) <= 1e-9) ||
			q.Result == Pass && q.ProbabilityIn < 1-2*least-1e-9 || q.Result == Fail && q.ProbabilityIn > least+1e-9 {
			t.Fatalf("%+v, %.4f below, %.4f above", q, below, above)
		}
	}
}
