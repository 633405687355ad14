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

// JCGM 100 H.1, end gauge: combined standard uncertainty 32 nm, effective degrees of freedom 16 (16.7 before the
// cut, recomputed 16.76), t99(16) = 2.92 and U99 = 93 nm. Inputs as in testdata/published/gum_examples.toml [h1].
func TestGuideH1(t *testing.T) {
	components := []float64{25.0, 9.7, 2.9, 16.6}
	ones := mat.NewDense(1, 4, []float64{1, 1, 1, 1})
	squares := mat.NewSymDense(4, nil)
	for i, u := range components {
		squares.SetSym(i, i, u*u)
	}
	v, err := Propagate(ones, squares)
	if err != nil {
		t.Fatal(err)
	}
	u := math.Sqrt(v.At(0, 0))
	digit(t, "u_c", u, 31.671, 0.0005)
	freedom := Effective(components, []float64{18, 25.6, 50, 2})
	digit(t, "nu_eff", freedom, 16.76, 0.005)
	k := Coverage(0.99, freedom)
	digit(t, "t99(16)", k, 2.92, 0.005)
	digit(t, "U99", k*u, 92.5, 0.05) // 93 in the Guide
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
	digit(t, "r(V, I)", Correlation(&u, 0, 1), -0.36, 0.005)
	digit(t, "r(V, phi)", Correlation(&u, 0, 2), 0.86, 0.005)
	digit(t, "r(I, phi)", Correlation(&u, 1, 2), -0.65, 0.005)
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
	digit(t, "r(R, X)", Correlation(out, 0, 1), -0.588, 0.0005)
	digit(t, "r(R, Z)", Correlation(out, 0, 2), -0.485, 0.0005)
	digit(t, "r(X, Z)", Correlation(out, 1, 2), 0.993, 0.0005)
}

// JCGM 100 G.4.1: y = b X1 X2 X3 with relative uncertainties 0.25, 0.57 and 0.82 % from 10, 5 and 15 observations.
func TestGuideG41(t *testing.T) {
	freedom := Effective([]float64{0.25, 0.57, 0.82}, []float64{9, 4, 14})
	digit(t, "nu_eff", freedom, 19.0, 0.05)
	digit(t, "t95(19)", Coverage(0.95, 19), 2.09, 0.005) // 18.999 as computed here, which a strict cut would make 18
	digit(t, "U95", Coverage(0.95, 19)*1.03, 2.2, 0.05)
}

// Table G.2 (computed with another library's quantiles, see student_t_g2.csv) and the normal limit of table G.1.
func TestCoverage(t *testing.T) {
	digit(t, "t95.45(1)", Coverage(0.9545, 1), 13.97, 0.005)
	digit(t, "t95.45(10)", Coverage(0.9545, 10), 2.28, 0.005)
	digit(t, "t99(50)", Coverage(0.99, 50), 2.68, 0.005)
	digit(t, "k95", Coverage(0.95, math.Inf(1)), 1.960, 0.0005)
	if _, err := Propagate(mat.NewDense(1, 2, nil), mat.NewSymDense(3, nil)); err == nil {
		t.Error("two sensitivities for three inputs were taken")
	}
}
