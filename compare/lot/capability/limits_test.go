package capability

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/compare/lot/chart"
)

// Mean and deviation by hand (2, 4, 4, 4, 5, 5, 7, 9: mean 5, squares 32, so sqrt(32/7)), and what lies outside limits that
// are not alike, by the tables of the normal distribution: beyond 1.5 and 2 deviations 6.68 and 2.28 %.
func TestOutsideOfUnlikeLimits(t *testing.T) {
	x := []float64{2, 4, 4, 4, 5, 5, 7, 9}
	sd := math.Sqrt(32. / 7)
	r, err := Of(x, 5-1.5*sd, 5+2*sd, chart.Sigma{Value: sd, Freedom: 7})
	if err != nil {
		t.Fatal(err)
	}
	expect.Within(t, "mean", r.Mean, 5, 1e-12)
	expect.Within(t, "deviation", r.Deviation, sd, 1e-12)
	expect.Within(t, "outside", r.Outside, 0.0668072+0.0227501, 1e-6)
	expect.Within(t, "Ppk", r.Ppk.Value, 0.5, 1e-12)
	// The limits of Pp by the tables of chi-squared with 7 degrees of freedom: 1.690 and 16.013.
	expect.Within(t, "Pp low", r.Pp.Low/r.Pp.Value, math.Sqrt(1.690/7), 1e-4)
	expect.Within(t, "Pp high", r.Pp.High/r.Pp.Value, math.Sqrt(16.013/7), 1e-4)
	// The interval of Ppk about it, z sqrt(1/(9 n) + Ppk²/(2 (n-1))) (NIST/SEMATECH e-Handbook 6.1.6).
	half := 1.959964 * math.Sqrt(1/(9*8.)+0.25/(2*7))
	expect.Within(t, "Ppk low", r.Ppk.Low, 0.5-half, 1e-6)
	expect.Within(t, "Ppk high", r.Ppk.High, 0.5+half, 1e-6)
	if _, err := Of(x, 0, 10, chart.Sigma{}); err != ErrFew {
		t.Error("no short-term deviation, and yet an index")
	}
}

// The statistic from its definition in another form, A² = -n - Σ (2i-1)/n (ln F(x_i) + ln(1 - F(x_(n+1-i)))) (NIST/SEMATECH
// e-Handbook 1.3.5.14), times Stephens's 1 + 0.75/n + 2.25/n², on values that are neither even nor symmetric; it does not
// depend on unit and origin, and eight values are enough.
func TestStatistic(t *testing.T) {
	x := []float64{1.3, 0.2, 2.9, 0.7, 1.1, 4.4, 1.9, 0.4}
	n, mean, square := 8.0, 0.0, 0.0
	for _, v := range x {
		mean += v / n
	}
	for _, v := range x {
		square += (v - mean) * (v - mean) / (n - 1)
	}
	normal := distuv.Normal{Mu: mean, Sigma: math.Sqrt(square)}
	rank := func(v float64) (i float64) { // from 1
		for _, w := range x {
			if w <= v {
				i++
			}
		}
		return i
	}
	want := -n
	for _, v := range x {
		i := rank(v)
		want -= ((2*i-1)*math.Log(normal.CDF(v)) + (2*(n-i)+1)*math.Log(normal.Survival(v))) / n
	}
	want *= 1 + 0.75/n + 2.25/(n*n)
	r := AndersonDarling(x)
	expect.Within(t, "statistic", r.Statistic, want, 1e-12)
	scaled := make([]float64, len(x))
	for i, v := range x {
		scaled[i] = 1e-9*v - 1e-7
	}
	expect.Within(t, "statistic in another unit", AndersonDarling(scaled).Statistic, want, 1e-6)
	if same := AndersonDarling(make([]float64, 9)); !math.IsNaN(same.P) || !math.IsNaN(same.Statistic) {
		t.Errorf("values that do not vary: %+v", same)
	}
	if !(r.P > 0 && r.P < 1) {
		t.Errorf("%+v", r)
	}
}
