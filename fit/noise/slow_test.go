package noise

import (
	"math"
	"strconv"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit/cell"
	"offbeat/fit/stability"
	"offbeat/fit/train"
	"offbeat/fit/transition"
)

// powerLaw is the deterministic series of the recipe behind power_law_noise.csv: fractional periods of one kind of noise.
// Kasdin and Walter's filters (IEEE Frequency Control Symposium 1992) of order 0, 1, 2 for white, flicker and random-walk
// noise, of the frequency (FM) or of the phase (PM), driven by the generator of NIST SP 1065.
func powerLaw(kind string) []float64 {
	order := map[byte]float64{'W': 0, 'F': 1, 'R': 2}[kind[0]]
	n := 1024
	phase := kind[len(kind)-2:] == "PM"
	if phase {
		n++
	}
	drive, seed := make([]float64, n+1), uint64(1234567890)
	uniform := func() float64 {
		u := float64(seed) / 2147483647
		seed = 16807 * seed % 2147483647
		return u
	}
	for i := 0; i < n; i += 2 {
		a, b := uniform(), uniform()
		r := math.Sqrt(-2 * math.Log(a))
		drive[i], drive[i+1] = r*math.Cos(2*math.Pi*b), r*math.Sin(2*math.Pi*b)
	}
	h := make([]float64, n)
	h[0] = 1
	for k := 1; k < n; k++ {
		h[k] = h[k-1] * (float64(k) - 1 + order/2) / float64(k)
	}
	out := make([]float64, n)
	for i := range out {
		for j := range i + 1 {
			out[i] += h[j] * drive[i-j]
		}
	}
	if !phase {
		return out
	}
	for i := range n - 1 {
		out[i] = out[i+1] - out[i]
	}
	return out[:n-1]
}

// The series and the Allan deviation are those of the published recipe, to 1e-9; then each is made the periods of a train of
// 1024, one part in a thousand, and noise of each kind is taken for what it is: white noise of the edges and of the periods
// averages, flicker and a random walk do not, and the uncertainty of the mean is no less than half the deviation at the
// longest time of the table.
func TestPowerLawNoise(t *testing.T) {
	const size = 1e-3
	longest := map[string]float64{}
	for _, row := range expect.Rows(t, "power_law_noise.csv") {
		m, err := strconv.Atoi(row[1])
		if err != nil {
			t.Fatal(err)
		}
		y := powerLaw(row[0])
		want := expect.Number(t, row[3])
		if got := stability.Of(stability.Overlapping, y, m).Value; !(math.Abs(got/want-1) <= 1e-9) {
			t.Errorf("%s at %d: overlapping Allan deviation %.10g, want %.10g", row[0], m, got, want)
		}
		longest[row[0]] = want
	}
	for kind, slow := range map[string]bool{"WPM": false, "WFM": false, "FFM": true, "RWFM": true} {
		tr := train.New(true, false)
		var e []transition.Edge
		x := 10.0
		for _, y := range powerLaw(kind) {
			p := 1 + size*y
			e = append(e, transition.Edge{X: x, Cell: 1e-6, Slope: 1, Rise: true}, transition.Edge{X: x + 0.4*p, Cell: 1e-6, Slope: 1})
			x += p
		}
		tr.Add(e)
		tr.End()
		r, err := Estimate(tr.Record(), Known{Lattice: cell.Lattice{Cell: 1e-6, Sharpness: [2]float64{1, 1}}})
		if err != nil {
			t.Fatal(err)
		}
		p := r.Slow.Flicker + r.Slow.Wander
		if slow && p < 0.9 || !slow && p > 0.2 {
			t.Errorf("%s: flicker or a wandering period with probability %.3f", kind, p)
		}
		u := math.Sqrt(period(r.Rows...))
		t.Logf("%s: flicker %.3f, wander %.3f, mean to %.2g, deviation at the longest time %.2g", kind, r.Slow.Flicker, r.Slow.Wander, u, size*longest[kind])
		if slow && u < size*longest[kind]/2 {
			t.Errorf("%s: mean to %.2g, the Allan deviation at the longest time is %.2g", kind, u, size*longest[kind])
		}
	}
}

// The covariances of slow noise at a distance give its Allan variance: second differences over n periods of a process whose
// generalised covariance is G have the variance 6 G(0) - 8 G(n) + 2 G(2n), and that is 2 n² times it.
func TestSlowCovariances(t *testing.T) {
	for q, k := range kinds {
		for _, n := range []float64{1, 7, 100} {
			g := k.covariance
			if got, want := (6*g(0)-8*g(n)+2*g(2*n))/(2*n*n), k.allan(n); !(math.Abs(got/want-1) <= 1e-6) {
				t.Errorf("kind %d over %g periods: Allan variance %g by the covariance, %g stated", q, n, got, want)
			}
		}
	}
}
