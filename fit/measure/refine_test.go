package measure_test

import (
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// slow is a train with eight samples on each slope, as sampled.
func slow(seed uint64) (measuretest.Wave, []float64) {
	w := measuretest.Wave{High: 157.31, Low: 91.77, Cycles: 60.3, Step: 1, Rise: 8, Fall: 8, Noise: 0.1, Phase: -40}
	return w, readAll(w.Capture(rand.New(rand.NewPCG(seed, 1))))
}

func measured(t *testing.T, c *acquire.Capture, opt measure.Options) *fit.Measurement {
	t.Helper()
	m, err := measure.Run(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Slow edges are placed alike on a grid and by a column of times, and wherever the blocks are cut.
func TestSlowEdgesByTimes(t *testing.T) {
	_, v := slow(1)
	times := make([]float64, len(v))
	for i := range times {
		times[i] = -0.3 + 1e-3*float64(i)
	}
	grid := measured(t, samples(v), measure.Options{})
	column := measured(t, measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: acquire.Samples, Step: 1e-3}, times, v), measure.Options{})
	near(t, "high time", column.High.Value, grid.High.Value, 1e-11)
	near(t, "low time", column.Low.Value, grid.Low.Value, 1e-11)
	near(t, "uncertainty of the high time", column.High.Uncertainty, grid.High.Uncertainty, 1e-4*grid.High.Uncertainty)
	at := 0
	odd := acquire.NewCapture(acquire.Capture{Source: "lamp", Kind: acquire.Samples, Step: 1e-3, Channels: make([]acquire.Channel, 1)}, func(b *acquire.Block) error {
		b.N = min(37, len(v)-at)
		if b.N == 0 {
			return io.EOF
		}
		b.First, b.Value = int64(at), [][]float64{v[at : at+b.N]}
		at += b.N
		return nil
	})
	near(t, "high time in short blocks", measured(t, odd, measure.Options{}).High.Value, grid.High.Value, 1e-11)
}

// Swapping the levels swaps high and low time and nothing else.
func TestSlowEdgesMirrored(t *testing.T) {
	_, v := slow(2)
	up := measured(t, samples(v), measure.Options{})
	for i := range v {
		v[i] = 5 - v[i]
	}
	down := measured(t, samples(v), measure.Options{})
	// The runs begin with different edges, so one interval at the ends differs: a little of the uncertainty.
	near(t, "high time", down.Low.Value, up.High.Value, 0.3*up.High.Uncertainty)
	near(t, "low time", down.High.Value, up.Low.Value, 0.3*up.Low.Uncertainty)
}

// Faults on a slope break a pulse or leave it as interpolated; they do not bend the times.
func TestSlowEdgesWithFaults(t *testing.T) {
	w, v := slow(3)
	clean := measured(t, samples(v), measure.Options{})
	for name, spoil := range map[string]func(v []float64){
		"unknown samples beside a slope": func(v []float64) { v[120], v[121] = math.NaN(), math.NaN() },
		"a clipped sample on a level":    func(v []float64) { v[1000] = math.Inf(1) },
		"a spike":                        func(v []float64) { v[700] += 2 },
		"levels 4 % higher half way": func(v []float64) {
			for i := len(v) / 2; i < len(v); i++ {
				v[i] += 0.2
			}
		},
	} {
		s := slices.Clone(v)
		spoil(s)
		m := measured(t, samples(s), measure.Options{})
		near(t, name+": period", m.Period().Value, 1e-3*(w.High+w.Low), 4*clean.Period().Uncertainty+1e-6)
		// 4 % of the amplitude on a slope of 8 samples is 0.3 samples at either end of half the pulses.
		limit := 5 * clean.High.Uncertainty
		if name == "levels 4 % higher half way" {
			limit = 0.35e-3
		}
		near(t, name+": high time", m.High.Value, 1e-3*w.High, limit)
	}
}

// One pulse of a monostable with slow edges is known as well as its two crossings.
func TestSlowSinglePulses(t *testing.T) {
	w, v := slow(4)
	m := measured(t, samples(v), measure.Options{SinglePulse: true})
	near(t, "high time", m.High.Value, 1e-3*w.High, 4*m.High.Uncertainty)
	// σ² r / A² an edge: 0.1² 8 / 25; two edges, 60 pulses, and a third more for what is not known.
	most := 1e-3 * math.Sqrt(2*0.1*0.1*8/25/60) * 1.33
	if m.High.Uncertainty > most {
		t.Errorf("uncertainty %.3g, want at most %.3g", m.High.Uncertainty, most)
	}
}

// Levels that the first window of 65536 samples shows otherwise than the rest of the record: the times are those of the
// crossings half way between the levels of their own time. Here the high level falls by 2 % for the last two thirds;
// crossings by the first level would make the highs 2 × 0.01 × 16 × 2/3 samples too short.
func TestLevelsOfTheWholeRecord(t *testing.T) {
	w := measuretest.Wave{High: 157.31, Low: 91.77, Cycles: 790, Step: 1, Rise: 16, Fall: 16, Phase: -40, Upper: 5.1}
	first := readAll(w.Capture(rand.New(rand.NewPCG(1, 1))))
	w.Upper = 5
	v := readAll(w.Capture(rand.New(rand.NewPCG(1, 1))))
	copy(v[:1<<16], first)
	m := measured(t, samples(v), measure.Options{})
	near(t, "high time", m.High.Value, 1e-3*w.High, 0.02e-3)
}

// Edges of half a sample, with noise, in 400 cycles: many have no sample on the slope, and so seem to cross in the middle
// between two. That is no sign that they crowd there, so the form of the edges is known to the 0.01 samples that the
// square root of 400 leaves of half a sample, and some.
func TestEdgesWithoutASample(t *testing.T) {
	w := measuretest.Wave{High: 57.31, Low: 91.77, Cycles: 400, Step: 1, Rise: 0.5, Fall: 0.5, Noise: 0.1, Phase: -40}
	m := measured(t, w.Capture(rand.New(rand.NewPCG(1, 1))), measure.Options{})
	for _, b := range m.Budget {
		if b.Name == "curvature of the edges" && !(b.High < 0.02) {
			t.Errorf("curvature of the edges counts for %.3f samples", b.High)
		}
	}
}

// The issue of two or three cycles: whole highs that are equal to the last digit, lows that are not. They are timed by the
// same parts, so the highs cannot be known far better.
func TestHighsEqualByChance(t *testing.T) {
	times := []float64{0, 40.00, 181.04, 205.44, 346.48, 370.98, 512.02, 536.30}
	states := []float64{0, 1, 0, 1, 0, 1, 0, 1}
	c := measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: acquire.Transitions, Step: 0.01}, times, states)
	m := measured(t, c, measure.Options{})
	// The lows are 24.40, 24.50 and 24.28: mean 24.393 with a standard deviation of 0.11 / sqrt(3).
	near(t, "low time", m.Low.Value, 24.393, 0.02)
	if m.Low.Uncertainty < 0.03 || m.High.Uncertainty < 0.3*m.Low.Uncertainty {
		t.Errorf("uncertainty of the high time %.4f, of the low time %.4f", m.High.Uncertainty, m.Low.Uncertainty)
	}
	// And where all agree, a part in ten thousand is left to what two cycles may hide.
	times = []float64{0, 40.00, 181.04, 205.44, 346.48, 370.88}
	c = measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: acquire.Transitions, Step: 0.01}, times, states[:6])
	m = measured(t, c, measure.Options{})
	if u := m.High.Uncertainty / m.High.Value; u < 5e-5 || u > 2e-4 {
		t.Errorf("relative uncertainty of two equal high times %.2g", u)
	}
}

// Edges of forms that are in the list of profiles and not, with little noise and with more: the error of the times is what is stated,
// and where a profile fits, that is little. Values against the time in time constants; the truth is the crossing of one half.
func TestFormsOfEdges(t *testing.T) {
	for _, c := range []struct {
		name  string
		at    func(x float64) float64
		half  float64 // where it crosses one half
		noise float64 // of the amplitude
		most  float64 // uncertainty of the high time in samples, 0: any
	}{
		{"two equal lags", func(x float64) float64 { return 1 - (1+x)*math.Exp(-x) }, 1.6783469900166605, 0.003, 0.05},
		{"three lags", func(x float64) float64 { return 1 - (1+x+x*x/2)*math.Exp(-x) }, 2.6740603137235606, 0.003, 0},
		{"two unequal lags", func(x float64) float64 { return 1 - (math.Exp(-x)-0.3*math.Exp(-x/0.3))/0.7 }, 1.021782753074253, 0.03, 0},
		{"a ramp that ends in a lag", func(x float64) float64 {
			return min(x, 1-0.4*math.Exp(-max(x-0.6, 0)/0.4))
		}, 0.5, 0.03, 0},
	} {
		var z [4]tally
		u, n := 0.0, uint64(draws(12))
		for seed := range n {
			rnd := rand.New(rand.NewPCG(seed, 77))
			w := measuretest.Wave{High: 200 + 200*rnd.Float64(), Low: 200 + 200*rnd.Float64()}
			tau, phase := [2]float64{logUniform(rnd, 2, 25), logUniform(rnd, 2, 25)}, 100*rnd.Float64()
			v := make([]float64, int(12*(w.High+w.Low)))
			for i := range v {
				x := math.Mod(float64(i)-phase+w.High+w.Low, w.High+w.Low)
				y := 1.0 // of the pulse before, that falls, of this one, and of the rise after
				for k, at := range []float64{-w.Low, 0, w.High, w.High + w.Low} {
					y += float64(2*(k%2)-1) * c.at(max((x-at)/tau[1-k%2]+c.half, 0))
				}
				v[i] = math.Round((3.3*(y+c.noise*rnd.NormFloat64()))/0.013) * 0.013
			}
			m, err := measure.Run(measuretest.FromRows(acquire.Capture{Source: "form", Kind: acquire.Samples, Step: 1}, nil, v), measure.Options{})
			if err != nil {
				t.Fatal(err)
			}
			normalised(m, w, &z)
			u += m.High.Uncertainty / float64(n)
		}
		t.Logf("%s: %.2f %.2f %.2f, high time to %.3f", c.name, z[0].rms(), z[1].rms(), z[2].rms(), u)
		if z[0].rms() > 1.4 || z[1].rms() > 1.4 || c.most > 0 && u > c.most {
			t.Errorf("%s: error of the times over their uncertainty %.2f and %.2f, which is %.3f samples", c.name, z[0].rms(), z[1].rms(), u)
		}
	}
}
