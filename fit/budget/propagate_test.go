package budget

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

func digit(t *testing.T, what string, got, want, half float64) {
	t.Helper()
	if !(math.Abs(got-want) <= half) {
		t.Errorf("%s: got %v, the Guide has %v", what, got, want)
	}
}

// JCGM 100 H.1, end gauge: combined standard uncertainty 32 nm. Inputs as in testdata/published/gum_examples.toml [h1].
func TestGuideH1(t *testing.T) {
	components := []float64{25.0, 9.7, 2.9, 16.6}
	squares := mat.NewSymDense(4, nil)
	var rows []Row
	for i, u := range components {
		squares.SetSym(i, i, u*u)
		rows = append(rows, Shift("", "B", "normal", u, 1, 0))
	}
	v, err := Propagate(mat.NewDense(1, 4, []float64{1, 1, 1, 1}), squares)
	if err != nil {
		t.Fatal(err)
	}
	digit(t, "u_c", math.Sqrt(v.At(0, 0)), 31.671, 0.0005)
	high, _, _ := Sum(rows)
	digit(t, "u_c as rows", math.Sqrt(high), 31.671, 0.0005)
}

// correlation is that of two of the quantities of a covariance (JCGM 100 5.2.2, equation 14).
func correlation(u mat.Symmetric, i, j int) float64 {
	return u.At(i, j) / math.Sqrt(u.At(i, i)*u.At(j, j))
}

// JCGM 100 H.2, resistance, reactance and impedance from correlated voltage, current and phase: the raw data of
// table H.2, the results of tables H.3 and H.4.
func TestGuideH2(t *testing.T) {
	data := mat.NewDense(5, 3, []float64{
		5.007, 19.663e-3, 1.0456,
		4.994, 19.639e-3, 1.0438,
		5.005, 19.640e-3, 1.0468,
		4.990, 19.685e-3, 1.0428,
		4.999, 19.678e-3, 1.0433,
	})
	var u mat.SymDense
	stat.CovarianceMatrix(&u, data, nil)
	u.ScaleSym(1./5, &u) // of the means
	digit(t, "r(V, I)", correlation(&u, 0, 1), -0.36, 0.005)
	digit(t, "r(V, phi)", correlation(&u, 0, 2), 0.86, 0.005)
	digit(t, "r(I, phi)", correlation(&u, 1, 2), -0.65, 0.005)
	mean := func(j int) float64 { return stat.Mean(mat.Col(nil, j, data), nil) }
	v, i, phi := mean(0), mean(1), mean(2)
	z := v / i
	c := mat.NewDense(3, 3, []float64{
		math.Cos(phi) / i, -z * math.Cos(phi) / i, -z * math.Sin(phi),
		math.Sin(phi) / i, -z * math.Sin(phi) / i, z * math.Cos(phi),
		1 / i, -z / i, 0,
	})
	out, err := Propagate(c, &u)
	if err != nil {
		t.Fatal(err)
	}
	digit(t, "R", z*math.Cos(phi), 127.732, 0.0005)
	digit(t, "X", z*math.Sin(phi), 219.847, 0.0006)
	digit(t, "Z", z, 254.260, 0.0005)
	digit(t, "u(R)", math.Sqrt(out.At(0, 0)), 0.071, 0.0005)
	digit(t, "u(X)", math.Sqrt(out.At(1, 1)), 0.295, 0.001) // 0.29558 from the raw data
	digit(t, "u(Z)", math.Sqrt(out.At(2, 2)), 0.236, 0.0005)
	digit(t, "r(R, X)", correlation(out, 0, 1), -0.588, 0.0005)
	digit(t, "r(R, Z)", correlation(out, 0, 2), -0.485, 0.0005)
	digit(t, "r(X, Z)", correlation(out, 1, 2), 0.993, 0.0005)
}

// Correlated input quantities add as JCGM 100 5.2.2 (equation 13) has them: rows give what Propagate gives of the same
// sensitivities, on a clock factor apart, scaled and added.
func TestRowsAgainstPropagate(t *testing.T) {
	u, sensitivity := []float64{0.3, 0.7, 1.1}, mat.NewDense(2, 3, []float64{2, -1, 0.5, 3, 4, -0.25})
	inputs := mat.NewSymDense(3, nil)
	var rows []Row
	for i, s := range u {
		inputs.SetSym(i, i, s*s)
		rows = append(rows, Shift("row", "A", "normal", s, sensitivity.At(0, i), sensitivity.At(1, i)))
	}
	want, err := Propagate(sensitivity, inputs)
	if err != nil {
		t.Fatal(err)
	}
	clock := Shift("clock", "B", "normal", 5, 1, 1)
	clock.Clock = true
	same := func(what string, rows []Row, k float64) {
		t.Helper()
		high, both, low := Sum(rows)
		digit(t, what+", high", high, k*want.At(0, 0), 1e-12)
		digit(t, what+", both", both, k*want.At(0, 1), 1e-12)
		digit(t, what+", low", low, k*want.At(1, 1), 1e-12)
	}
	same("rows", append(rows, clock), 1)
	same("added", []Row{rows[0].Plus(rows[1]).Plus(rows[2])}, 1)
	same("scaled", []Row{rows[0].Scale(3), rows[1].Scale(3), rows[2].Scale(3)}, 3)

	terms := Terms(append(rows[1:2:2], clock, Row{High: -1, Low: -1, Both: -1}))
	digit(t, "high", terms[0].High, 0.7, 1e-12)
	digit(t, "low", terms[0].Low, 4*0.7, 1e-12)
	digit(t, "period", terms[0].Period, (4-1)*0.7, 1e-12)
	if c := terms[1]; !c.Clock || c.Period != 10 || c.Name != "clock" || c.Kind != "B" || c.Distribution != "normal" {
		t.Errorf("%+v", c)
	}
	if c := terms[2]; c.High != 0 || c.Low != 0 || c.Period != 0 {
		t.Errorf("a variance that rounding made negative gives %+v", c)
	}
	if _, err := Propagate(mat.NewDense(1, 2, nil), inputs); err == nil {
		t.Error("two sensitivities for three inputs were taken")
	}
}
