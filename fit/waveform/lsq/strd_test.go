package lsq

import (
	"math"
	"testing"

	"offbeat/acquire/acquiretest/expect"
)

// The models as NIST states them (summary.csv). positive: all parameters are, by the model's meaning.
var models = []struct {
	name     string
	positive bool
	f        func(b []float64, x float64) float64
	p, sd    float64 // relative tolerances of parameters and of their standard deviations
}{
	{"Misra1a", true, rise, 1e-6, 1e-6},
	{"BoxBOD", false, rise, 1e-6, 1e-6},
	{"Chwirut1", false, chwirut, 1e-6, 1e-6},
	{"Chwirut2", false, chwirut, 1e-6, 1e-6},
	{"DanWood", false, func(b []float64, x float64) float64 { return b[0] * math.Pow(x, b[1]) }, 1e-6, 1e-6},
	// The residuals of Lanczos1 are below double precision, so that its standard deviations are rounding noise: not tested.
	{"Lanczos1", false, lanczos, 1e-6, math.Inf(1)},
	{"Lanczos3", false, lanczos, 1e-6, 1e-6},
	{"MGH10", true, func(b []float64, x float64) float64 { return b[0] * math.Exp(b[1]/(x+b[2])) }, 1e-6, 1e-6},
	{"MGH17", false, func(b []float64, x float64) float64 {
		return b[0] + b[1]*math.Exp(-x*b[3]) + b[2]*math.Exp(-x*b[4])
	}, 1e-6, 1e-6},
	{"Rat43", false, func(b []float64, x float64) float64 {
		return b[0] / math.Pow(1+math.Exp(b[1]-b[2]*x), 1/b[3])
	}, 1e-6, 1e-6},
	{"Thurber", false, func(b []float64, x float64) float64 {
		return (b[0] + x*(b[1]+x*(b[2]+x*b[3]))) / (1 + x*(b[4]+x*(b[5]+x*b[6])))
	}, 1e-6, 1e-6},
}

func rise(b []float64, x float64) float64    { return b[0] * (1 - math.Exp(-b[1]*x)) }
func chwirut(b []float64, x float64) float64 { return math.Exp(-b[0]*x) / (b[1] + b[2]*x) }
func lanczos(b []float64, x float64) float64 {
	return b[0]*math.Exp(-b[1]*x) + b[2]*math.Exp(-b[3]*x) + b[4]*math.Exp(-b[5]*x)
}

// NIST StRD nonlinear regression sets: certified parameters and standard deviations to six digits, from both starts.
func TestStRD(t *testing.T) {
	certified := expect.Rows(t, "nist_strd/nonlinear/"+"certified"+".csv")
	for _, m := range models {
		var x, y []float64
		for _, row := range expect.Rows(t, "nist_strd/nonlinear/"+m.name+".csv") {
			x, y = append(x, expect.Number(t, row[0])), append(y, expect.Number(t, row[1]))
		}
		var start [2][]float64
		var want, sd []float64
		for _, row := range certified {
			if row[0] == m.name {
				start[0], start[1] = append(start[0], expect.Number(t, row[2])), append(start[1], expect.Number(t, row[3]))
				want, sd = append(want, expect.Number(t, row[4])), append(sd, expect.Number(t, row[5]))
			}
		}
		pr := Problem{Size: len(x), Residual: func(p, r []float64) {
			for i := range x {
				r[i] = y[i] - m.f(p, x[i])
			}
		}}
		if m.positive {
			for range want {
				pr.Positive = append(pr.Positive, true)
			}
		}
		for s := range start {
			r, err := Fit(pr, start[s], Settings{Iterations: 20000})
			if err != nil {
				t.Errorf("%s, start %d: %v", m.name, s+1, err)
				continue
			}
			for k := range want {
				if e := math.Abs(r.P[k]/want[k] - 1); !(e < m.p) {
					t.Errorf("%s, start %d: b%d = %.10g, certified %.10g (%v after %d)", m.name, s+1, k+1, r.P[k], want[k], r.Status, r.Iterations)
				}
				if e := math.Abs(math.Sqrt(r.Covariance[k][k])/sd[k] - 1); !(e < m.sd) {
					t.Errorf("%s, start %d: sd(b%d) = %.8g, certified %.8g", m.name, s+1, k+1, math.Sqrt(r.Covariance[k][k]), sd[k])
				}
			}
			t.Logf("%s, start %d: %v after %d iterations", m.name, s+1, r.Status, r.Iterations)
		}
	}
}
