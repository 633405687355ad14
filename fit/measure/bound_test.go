package measure_test

import (
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure/measuretest"

	"gonum.org/v1/gonum/mat"
)

// edgeBound is the Cramér-Rao bound of period, high and low time where each edge is seen with independent normal noise. It
// solves the normal equations of edges that alternate by high and low times, with white variance and a random step of
// variance walk in each interval, by the differences of neighbouring edges, whose covariance is tridiagonal.
func edgeBound(edges int, white, walk float64) [3]float64 {
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
	return standard(info[1][1]/det, info[0][0]/det, -info[0][1]/det)
}

// standard turns the covariance of high and low into standard deviations of period, high and low.
func standard(high, low, both float64) [3]float64 {
	return [3]float64{math.Sqrt(high + low + 2*both), math.Sqrt(high), math.Sqrt(low)}
}

// sampleBound is the Cramér-Rao bound of period, high and low time for samples of a periodic train with white amplitude
// noise, by brute force: the whole record is simulated with each of the seven unknowns (phase, high, low, both levels,
// rise and fall) a little larger and smaller; the inverse of the information matrix is averaged over the phase.
func sampleBound(w measuretest.Wave) [3]float64 {
	const phases = 8
	var high, low, both float64
	noise := w.Noise
	w.Noise, w.Code = 0, 0
	if w.Lower == 0 && w.Upper == 0 {
		w.Upper = 5
	}
	length := w.Cycles * (w.High + w.Low)
	rows := int(length / w.Step)
	for i := range phases {
		w.Phase = -(float64(i) + 0.37) / phases * 7 * (w.High + w.Low) / 10
		record := func(move int, by float64) []float64 {
			m := w
			*[]*float64{&m.Phase, &m.High, &m.Low, &m.Lower, &m.Upper, &m.Rise, &m.Fall}[move] += by
			m.Cycles = (length + w.Step) / (m.High + m.Low)
			return readAll(m.Capture(rand.New(rand.NewPCG(1, 1))))[:rows]
		}
		const unknowns, h = 7, 1e-5
		slope := make([][]float64, unknowns)
		for k := range slope {
			// The moves of times are scaled so that the last edge moves as little as the first.
			by := h
			if k == 1 || k == 2 {
				by = h / w.Cycles
			}
			up, down := record(k, by), record(k, -by)
			for j := range up {
				up[j] = (up[j] - down[j]) / (2 * by)
			}
			slope[k] = up
		}
		info := mat.NewSymDense(unknowns, nil)
		for k := range slope {
			for l := k; l < unknowns; l++ {
				sum := 0.0
				for j, x := range slope[k] {
					sum += x * slope[l][j]
				}
				info.SetSym(k, l, sum/(noise*noise))
			}
		}
		var chol mat.Cholesky
		var v mat.SymDense
		if !chol.Factorize(info) || chol.InverseTo(&v) != nil {
			return [3]float64{math.NaN(), math.NaN(), math.NaN()}
		}
		high += v.At(1, 1) / phases
		low += v.At(2, 2) / phases
		both += v.At(1, 2) / phases
	}
	return standard(high, low, both)
}

func readAll(c *acquire.Capture) (v []float64) {
	var b acquire.Block
	for c.Read(&b) != io.EOF {
		v = append(v, b.Value[0]...)
	}
	return v
}

// The bound of edges agrees with the generalised least squares of a dense covariance matrix, inverted.
func TestEdgeBound(t *testing.T) {
	const n, white, walk = 21, 0.7, 0.3 // intervals
	c := mat.NewSymDense(n, nil)
	x := mat.NewDense(n, 2, nil)
	for i := range n {
		c.SetSym(i, i, 2*white+walk)
		if i > 0 {
			c.SetSym(i, i-1, -white)
		}
		x.Set(i, i%2, 1)
	}
	var inverse, half, info, v mat.Dense
	if err := inverse.Inverse(c); err != nil {
		t.Fatal(err)
	}
	half.Mul(x.T(), &inverse)
	info.Mul(&half, x)
	if err := v.Inverse(&info); err != nil {
		t.Fatal(err)
	}
	want := standard(v.At(0, 0), v.At(1, 1), v.At(0, 1))
	for i, b := range edgeBound(n+1, white, walk) {
		near(t, "bound", b, want[i], 1e-9)
	}
}

// On ramps the bound of all samples is that of edges each known to σ² r / A² (r samples, each of slope A / r), and a
// little more for the high time, whose levels are unknown. The bound of edges counts whole edges, so the phase makes up
// to one cycle of 20.
func TestSampleBound(t *testing.T) {
	w := measuretest.Wave{High: 57.31, Low: 91.77, Cycles: 20, Step: 1, Rise: 4, Fall: 4, Noise: 0.1}
	all, edges := sampleBound(w), edgeBound(40, 0.1*0.1*4/25, 0)
	for i, most := range []float64{1.1, 1.1, 1.1} {
		if q := all[i] / edges[i]; q < 0.9 || q > most {
			t.Errorf("bound %d: %.3g by samples, %.3g by edges", i, all[i], edges[i])
		}
	}
}
