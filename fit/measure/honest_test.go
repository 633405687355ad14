package measure_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// class is one kind of capture: draw makes a random member of it.
type class struct {
	name   string
	cycles []float64
	draw   func(rnd *rand.Rand, cycles float64) measuretest.Wave
}

// logUniform draws between lo and hi.
func logUniform(rnd *rand.Rand, lo, hi float64) float64 {
	return lo * math.Pow(hi/lo, rnd.Float64())
}

// base is a train of unit sample interval: 20 to 300 samples in each pulse, nothing commensurate.
func base(rnd *rand.Rand, cycles float64) measuretest.Wave {
	w := measuretest.Wave{Step: 1, High: logUniform(rnd, 20, 300), Low: logUniform(rnd, 20, 300), Cycles: cycles}
	w.Lower = rnd.Float64()
	w.Upper = w.Lower + 3 + 3*rnd.Float64()
	w.Phase = (rnd.Float64() - 0.5) * (w.High + w.Low)
	return w
}

// classes are the captures that a bench sees.
func classes() []class {
	some := []float64{3.3, 6.4, 15.3, 60.7, 400.3}
	few := []float64{3.3, 6.4, 15.3, 60.7}
	mod := func(f func(w *measuretest.Wave, rnd *rand.Rand)) func(*rand.Rand, float64) measuretest.Wave {
		return func(rnd *rand.Rand, cycles float64) measuretest.Wave {
			w := base(rnd, cycles)
			f(&w, rnd)
			return w
		}
	}
	eight := func(w *measuretest.Wave) { w.Code = 8.0 / 256 }
	return []class{
		{"fast edges, no noise", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {})},
		{"fast edges, 8 bit, amplitude noise", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			eight(w)
			w.Noise = logUniform(rnd, 0.02, 0.2)
			w.Rise, w.Fall = 0.1*rnd.Float64(), 0.1*rnd.Float64()
		})},
		{"fast edges, small white jitter", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) { w.White = logUniform(rnd, 0.003, 0.1) })},
		{"fast edges, large white jitter", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) { w.White = logUniform(rnd, 0.2, 2) })},
		{"fast edges, small random walk", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.HighStep, w.LowStep = logUniform(rnd, 0.001, 0.1), logUniform(rnd, 0.001, 0.1)
		})},
		{"fast edges, large random walk", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.HighStep, w.LowStep = logUniform(rnd, 0.1, 2), logUniform(rnd, 0.1, 2)
		})},
		{"fast edges, both noises", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.White = logUniform(rnd, 0.01, 1)
			w.HighStep, w.LowStep = logUniform(rnd, 0.01, 1), logUniform(rnd, 0.01, 1)
		})},
		{"fast edges, commensurate period", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			p := math.Round(w.High + w.Low)
			w.Low = p - w.High
		})},
		{"fast edges, nearly commensurate", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			p := math.Round(w.High+w.Low) + (rnd.Float64()-0.5)*4/w.Cycles
			w.Low = p - w.High
		})},
		{"one sample on the slope", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			eight(w)
			w.Noise = logUniform(rnd, 0.01, 0.1)
			w.Rise, w.Fall = 0.3+1.7*rnd.Float64(), 0.3+1.7*rnd.Float64()
		})},
		{"slow ramps, 8 bit, noise", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			eight(w)
			w.Noise = logUniform(rnd, 0.01, 0.2)
			w.Rise, w.Fall = logUniform(rnd, 2, 8), logUniform(rnd, 2, 8)
		})},
		{"slow ramps, 8 bit, no noise", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			eight(w)
			w.Rise, w.Fall = logUniform(rnd, 2, 8), logUniform(rnd, 2, 8)
		})},
		{"exponential edges, 8 bit, noise", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			eight(w)
			w.Shape = measuretest.Exponential
			w.Noise = logUniform(rnd, 0.02, 0.2)
			w.Rise, w.Fall = logUniform(rnd, 0.2, 3), logUniform(rnd, 0.2, 3)
		})},
		{"slow ramps, noise and jitter", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			eight(w)
			w.Noise = logUniform(rnd, 0.01, 0.2)
			w.Rise, w.Fall = logUniform(rnd, 2, 8), logUniform(rnd, 2, 8)
			w.White = logUniform(rnd, 0.01, 0.5)
			w.HighStep, w.LowStep = logUniform(rnd, 0.01, 0.5), logUniform(rnd, 0.01, 0.5)
		})},
		{"sampled logic, no noise", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) { w.Kind = acquire.Logic })},
		{"sampled logic, jitter", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Logic
			w.White = logUniform(rnd, 0.01, 1)
			w.HighStep, w.LowStep = logUniform(rnd, 0.01, 0.5), logUniform(rnd, 0.01, 0.5)
		})},
		{"transition list, quantum", few, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Transitions
			w.Step = logUniform(rnd, 0.01, 1)
		})},
		{"transition list, jitter", few, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Transitions
			w.Step = 0.01
			w.White = logUniform(rnd, 0.01, 1)
			w.HighStep, w.LowStep = logUniform(rnd, 0.01, 1), logUniform(rnd, 0.01, 1)
		})},
	}
}

// tally of normalised errors.
type tally struct {
	n, within int
	square    float64
}

func (t *tally) add(e, u float64) {
	z := e / u
	t.n++
	t.square += z * z
	if math.Abs(z) <= 2 {
		t.within++
	}
}

func (t tally) rms() float64   { return math.Sqrt(t.square / float64(t.n)) }
func (t tally) cover() float64 { return float64(t.within) / float64(t.n) }

// quantities are high, low, period and duty.
func normalised(m *fit.Measurement, w measuretest.Wave, t *[4]tally) {
	p, d := m.Period(), m.Duty()
	t[0].add(m.High.Value-w.High, m.High.Uncertainty)
	t[1].add(m.Low.Value-w.Low, m.Low.Uncertainty)
	t[2].add(p.Value-w.High-w.Low, p.Uncertainty)
	t[3].add(d.Value-w.High/(w.High+w.Low), d.Uncertainty)
}

// study runs n captures of each class and cycle count up to longest, and reports each line.
func study(t *testing.T, n int, longest float64, line func(name string, cycles float64, q [4]tally)) {
	t.Helper()
	for _, c := range classes() {
		if only := os.Getenv("OFFBEAT_STUDY_CLASS"); !strings.Contains(c.name, only) {
			continue
		}
		for _, cycles := range c.cycles {
			if cycles > longest {
				continue
			}
			var q [4]tally
			for i := range n {
				rnd := rand.New(rand.NewPCG(uint64(i), uint64(cycles*10)))
				w := c.draw(rnd, cycles)
				m, err := measure.Run(w.Capture(rnd), measure.Options{})
				if err != nil {
					t.Fatalf("%s: %v (%+v)", c.name, err, w)
				}
				normalised(m, w, &q)
			}
			line(c.name, cycles, q)
		}
	}
}

// TestHonest: over all classes the error over the stated uncertainty has a root mean square of 0.8 to 1.2, as
// the issue asks, and few captures lie outside two standard uncertainties.
func TestHonest(t *testing.T) {
	var all tally
	study(t, 5, 100, func(_ string, _ float64, q [4]tally) {
		for _, x := range q {
			all.n += x.n
			all.square += x.square
			all.within += x.within
		}
	})
	if r := all.rms(); r < 0.8 || r > 1.2 {
		t.Errorf("error over stated uncertainty has root mean square %.3f over %d values, want 0.8 to 1.2", r, all.n)
	}
	if c := all.cover(); c < 0.93 {
		t.Errorf("%.4f of the values lie within two standard uncertainties, want at least 0.93", c)
	}
}

// TestStudy prints root mean square and coverage of every class; it takes minutes.
func TestStudy(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("OFFBEAT_STUDY"))
	if n == 0 {
		t.Skip("a long study; set OFFBEAT_STUDY to the captures of each class")
	}
	fmt.Printf("%-36s %7s | %-23s | %-27s\n", "class", "cycles", "rms high low period duty", "within 2u")
	var all tally
	study(t, n, math.Inf(1), func(name string, cycles float64, q [4]tally) {
		fmt.Printf("%-36s %7.1f |", name, cycles)
		for _, x := range q {
			fmt.Printf(" %5.2f", x.rms())
		}
		fmt.Print(" |")
		for _, x := range q {
			fmt.Printf(" %5.3f", x.cover())
			all.n += x.n
			all.square += x.square
			all.within += x.within
		}
		fmt.Println()
	})
	fmt.Printf("all: rms %.3f, within 2u %.4f of %d\n", all.rms(), all.cover(), all.n)
}
