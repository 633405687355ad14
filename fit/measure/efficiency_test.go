package measure_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// TestEfficiency prints the root-mean-square error of period, high and low time over the Cramér-Rao bound. The bound is
// that of every edge seen with independent normal noise of the variance named: jitter, and for ramps the inverse Fisher
// information of all samples on the slope. With a random step it is the generalised least-squares bound.
func TestEfficiency(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("OFFBEAT_EFFICIENCY"))
	if n == 0 {
		t.Skip("a study; set OFFBEAT_EFFICIENCY to the captures of each line")
	}
	fmt.Printf("%-44s %7s | %s\n", "train", "cycles", "error over bound: period, high, low")
	for _, c := range []struct {
		name        string
		kind        acquire.Kind
		white, step float64
		rise, noise float64
	}{
		{"transition list, white jitter", acquire.Transitions, 1, 0, 0, 0},
		{"transition list, random walk", acquire.Transitions, 0, 1, 0, 0},
		{"transition list, both", acquire.Transitions, 1, 0.3, 0, 0},
		{"samples, ramps of 2, amplitude noise 2 %", acquire.Samples, 0, 0, 2, 0.1},
		{"samples, ramps of 4, amplitude noise 2 %", acquire.Samples, 0, 0, 4, 0.1},
		{"samples, ramps of 8, amplitude noise 2 %", acquire.Samples, 0, 0, 8, 0.1},
		{"samples, ramps of 4, amplitude noise 0.4 %", acquire.Samples, 0, 0, 4, 0.02},
		{"samples, ramps of 4, white jitter", acquire.Samples, 1, 0, 4, 0.02},
	} {
		for _, cycles := range []float64{12.3, 100.3, 800.3} {
			w := measuretest.Wave{Kind: c.kind, High: 57.31, Low: 91.77, Cycles: cycles, White: c.white, HighStep: c.step, LowStep: c.step,
				Rise: c.rise, Fall: c.rise, Noise: c.noise}
			if c.kind == acquire.Samples {
				w.Step = 1
			}
			var e [3]float64
			edges := 0
			for seed := range uint64(n) {
				rnd := rand.New(rand.NewPCG(seed, 3))
				w.Phase = 200 * rnd.Float64()
				m, err := measure.Run(w.Capture(rnd), measure.Options{})
				if err != nil {
					t.Fatal(err)
				}
				e[0] += math.Pow(m.Period().Value-w.High-w.Low, 2) / float64(n)
				e[1] += math.Pow(m.High.Value-w.High, 2) / float64(n)
				e[2] += math.Pow(m.Low.Value-w.Low, 2) / float64(n)
				edges = m.High.Count + m.Low.Count + 1
			}
			white := c.white*c.white + c.noise*c.noise*c.rise/25 // σ² r / A²: r samples, each of slope A / r
			b := bounds(edges, white, c.step*c.step)
			fmt.Printf("%-44s %7.1f | %.2f %.2f %.2f\n", c.name, cycles, math.Sqrt(e[0])/b[0], math.Sqrt(e[1])/b[1], math.Sqrt(e[2])/b[2])
		}
	}
}

// bounds solves the normal equations of edges that alternate by high and low times, with white variance and a random step
// of variance walk in each interval; by the differences of neighbouring edges, whose covariance is tridiagonal.
func bounds(edges int, white, walk float64) [3]float64 {
	n := edges - 1
	white = max(white, 1e-12)
	var info [2][2]float64
	for col := range 2 {
		// Thomas algorithm for C x = column.
		x, u := make([]float64, n), make([]float64, n)
		d := 2*white + walk
		for i := range n {
			b := 0.0
			if i%2 == col {
				b = 1
			}
			if i == 0 {
				u[i], x[i] = -white/d, b/d
				continue
			}
			den := d + white*u[i-1]
			u[i], x[i] = -white/den, (b+white*x[i-1])/den
		}
		for i := n - 2; i >= 0; i-- {
			x[i] -= u[i] * x[i+1]
		}
		for i := range n {
			info[i%2][col] += x[i]
		}
	}
	det := info[0][0]*info[1][1] - info[0][1]*info[1][0]
	vh, vl, c := info[1][1]/det, info[0][0]/det, -info[0][1]/det
	return [3]float64{math.Sqrt(vh + vl + 2*c), math.Sqrt(vh), math.Sqrt(vl)}
}
