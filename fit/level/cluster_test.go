package level

import (
	"math"
	"slices"
	"testing"
)

// One value scatters by nothing, wherever it lies in the range that is looked at; of two values as many, the lower is the mode.
func TestClusterOfOneValue(t *testing.T) {
	for i := range 64 {
		x := -1 + 2*(float64(i)+0.5)/64 + 0.01
		c := newCluster(slices.Repeat([]float64{x}, 40), -1, 1.1, 0, 0)
		if !(math.Abs(c.mean-x) <= 1e-15) || c.spread != 0 || !(c.uncertainty <= 1e-15) || c.n != 40 || len(c.about) != 40 {
			t.Errorf("40 samples of %g: %d have the mean %g, spread %g, uncertainty %g", x, c.n, c.mean, c.spread, c.uncertainty)
		}
	}
	if c := newCluster([]float64{0, 0, 0, 1, 1, 1, 2}, 0, 2, 0, 0); c.mean != 0 || c.n != 3 {
		t.Errorf("%+v", c)
	}
}

// The spread of a side is 1.4826 times the median distance from its mode (a normal's standard deviation), but by the quarter that lies
// nearest where that is a state beside slopes: a third of it and less. All of it is told by where the samples lie, in shares of the range.
func TestSpreadOfASide(t *testing.T) {
	for name, c := range map[string]struct {
		quarter, half float64 // distances from the mode that a quarter and half of the samples lie within
		want          float64
	}{
		"a normal one":    {0.3186 * 0.1, 0.6745 * 0.1, 0.1},
		"some on slopes":  {0.3186 * 0.1, 1.6 * 0.6745 * 0.1, 0.16},
		"more on slopes":  {0.3186 * 0.1, 2.7 * 0.6745 * 0.1, 0.27},
		"most on slopes":  {0.3186 * 0.1, 3.3 * 0.6745 * 0.1, 0.1},
		"a state of lone": {0.3186 * 0.1, 6 * 0.6745 * 0.1, 0.1},
	} {
		const n = 4000
		s := slices.Repeat([]float64{0}, 400) // the mode
		for i := 400; i < n; i++ {
			k := float64(i) / n
			switch {
			case k < 0.25:
				s = append(s, c.quarter*(k-0.1)/0.15)
			case k < 0.5:
				s = append(s, c.quarter+(c.half-c.quarter)*(k-0.25)/0.25)
			default:
				s = append(s, c.half+(1-c.half)*(k-0.5)/0.5)
			}
		}
		if got := newCluster(s, 0, 1, 0, 0); !(math.Abs(got.spread-c.want) <= 1.4826*1.1/128) { // a bin
			t.Errorf("%s: spread %.4f, want %.4f", name, got.spread, c.want)
		}
	}
}

// A ramp has more than a fifth of its samples in the middle half of its swing, and not so many about its levels; each limit to the sample.
func TestRampsToTheSample(t *testing.T) {
	for _, c := range []struct {
		dwell, near, core int // of 1000 samples: at the levels, beyond a sixteenth of them, in the middle half
		want              bool
	}{{240, 559, 201, true}, {240, 560, 200, false}, {250, 549, 201, true}, {252, 547, 201, false}, {400, 200, 400, true}, {500, 100, 400, false}} {
		var v []float64
		for i := range c.dwell {
			v = append(v, []float64{-0.06, 0, 0.06, 0.94, 1, 1.06}[i%6])
		}
		for i := range c.near {
			v = append(v, []float64{-0.08, -0.3, 0.08, 0.16, 0.24, 0.76, 0.84, 0.92, 1.08, 1.3}[i%10])
		}
		for i := range c.core {
			v = append(v, 0.25+0.5*(float64(i)+0.5)/float64(c.core))
		}
		for i := range v {
			v[i] = 2 + 4*v[i]
		}
		if got := ramps(slices.Sorted(slices.Values(v)), 2, 6); got != c.want {
			t.Errorf("%d about the levels, %d in the middle of 1000 are a ramp: %v", c.dwell, c.core, got)
		}
	}
}

// The samples just outside what a mean is taken of are as many as lie on slopes inside: they move it, and are what it is uncertain by.
func TestSlopesBesideACluster(t *testing.T) {
	const n, bin = 1000, 1.0 / 128
	mode, reach := 64.5*bin, 1.5*bin
	var s []float64
	for k, count := range []int{3, 4, n, 10, 5} { // the outermost farther off
		s = append(s, slices.Repeat([]float64{mode + 1.5*reach*float64(k-2)}, count)...)
	}
	each := reach / 2 / n
	c := newCluster(s, 0, 1, 0, 0)
	if !(math.Abs(c.mean-mode+6*each) <= 1e-9*each) || !(math.Abs(c.uncertainty-each*math.Sqrt(36+14)) <= 1e-9*each) {
		t.Errorf("off by %.4g, want %.4g; uncertainty %.4g, want %.4g", mode-c.mean, 6*each, c.uncertainty, each*math.Sqrt(50))
	}
}

// A level that is clipped throughout stands so far off that the widest band about the middle leaves out all that is seen of the other.
func TestClippedStandsOff(t *testing.T) {
	for _, c := range [][2]float64{{1.9, 2.05}, {1.95, 2.1}} {
		seen := append(slices.Repeat([]float64{2}, 1000), c[0], c[1])
		reach := 0.1 / 0.15 * 1.01
		if e, ok := Find(append(slices.Repeat([]float64{math.Inf(1)}, 500), seen...)); !ok || !(math.Abs(e.High-c[1]-reach) <= 1e-9) {
			t.Errorf("above: %g, want %g", e.High, c[1]+reach)
		}
		if e, ok := Find(append(slices.Repeat([]float64{math.Inf(-1)}, 500), seen...)); !ok || !(math.Abs(e.Low-c[0]+reach) <= 1e-9) {
			t.Errorf("below: %g, want %g", e.Low, c[0]-reach)
		}
	}
}
