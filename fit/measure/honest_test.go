package measure_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

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
	// At least 2, 3, 5, 10, 100 and 1000 whole cycles.
	some := []float64{3.3, 4.3, 6.4, 11.3, 101.3, 1001.3}
	mod := func(f func(w *measuretest.Wave, rnd *rand.Rand)) func(*rand.Rand, float64) measuretest.Wave {
		return func(rnd *rand.Rand, cycles float64) measuretest.Wave {
			w := base(rnd, cycles)
			f(&w, rnd)
			return w
		}
	}
	eight := func(w *measuretest.Wave) { w.Code = 8.0 / 256 }
	// An oscillator of 3.6 kHz beside the mains: records of half a millisecond to a quarter of a second.
	beside := []float64{10.3, 40.3, 200.3, 1000.3}
	hum := func(kind acquire.Kind, f func(w *measuretest.Wave, rnd *rand.Rand)) func(*rand.Rand, float64) measuretest.Wave {
		return mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			scale := 1 / 3600.0 / (w.High + w.Low)
			w.Kind = kind
			w.High, w.Low, w.Phase, w.Step = w.High*scale, w.Low*scale, w.Phase*scale, scale
			if kind == acquire.Transitions {
				w.Step /= 100
			}
			w.White = scale * logUniform(rnd, 0.01, 0.3)
			w.Hum = measuretest.Hum{Frequency: 50 * (1 + 0.002*rnd.NormFloat64()), Phase: 2 * math.Pi * rnd.Float64()}
			size := logUniform(rnd, 1e-4, 1e-2)
			w.Hum.High = [2]float64{size, size * 0.5 * rnd.NormFloat64()}
			w.Hum.Low = w.Hum.High
			f(w, rnd)
		})
	}
	return []class{
		{"fast edges, no noise", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {})},
		{"fast edges, 8 bit, amplitude noise", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			eight(w)
			w.Noise = logUniform(rnd, 0.02, 0.2)
			w.Rise, w.Fall = 0.1*rnd.Float64(), 0.1*rnd.Float64()
		})},
		{"fast edges, 12 bit, amplitude noise", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Code = 8.0 / 4096
			w.Noise = logUniform(rnd, 0.002, 0.2)
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
		{"slow ramps, 12 bit, noise", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Code = 8.0 / 4096
			w.Noise = logUniform(rnd, 0.002, 0.2)
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
		{"sampled logic, white jitter", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Logic
			w.White = logUniform(rnd, 0.01, 1)
		})},
		{"sampled logic, random walk", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Logic
			w.HighStep, w.LowStep = logUniform(rnd, 0.01, 0.5), logUniform(rnd, 0.01, 0.5)
		})},
		{"sampled logic, both noises", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Logic
			w.White = logUniform(rnd, 0.01, 1)
			w.HighStep, w.LowStep = logUniform(rnd, 0.01, 0.5), logUniform(rnd, 0.01, 0.5)
		})},
		{"transition list, quantum", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Transitions
			w.Step = logUniform(rnd, 0.01, 1)
		})},
		{"transition list, white jitter", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Transitions
			w.Step = 0.01
			w.White = logUniform(rnd, 0.01, 1)
		})},
		{"transition list, random walk", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Transitions
			w.Step = 0.01
			w.HighStep, w.LowStep = logUniform(rnd, 0.01, 1), logUniform(rnd, 0.01, 1)
		})},
		{"transition list, both noises", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Transitions
			w.Step = 0.01
			w.White = logUniform(rnd, 0.01, 1)
			w.HighStep, w.LowStep = logUniform(rnd, 0.01, 1), logUniform(rnd, 0.01, 1)
		})},
		{"slow ramps of 1.5 samples, walk", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			eight(w)
			w.Noise = logUniform(rnd, 0.01, 0.1)
			w.Rise, w.Fall = 1.5, 1.5
			w.HighStep, w.LowStep = logUniform(rnd, 0.01, 1), logUniform(rnd, 0.01, 1)
		})},
		{"sampled logic, hum", beside, hum(acquire.Logic, func(w *measuretest.Wave, rnd *rand.Rand) {})},
		{"transition list, hum", beside, hum(acquire.Transitions, func(w *measuretest.Wave, rnd *rand.Rand) {})},
		{"transition list, hum of one half", beside, hum(acquire.Transitions, func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Hum.Low = [2]float64{}
			w.Hum.Frequency *= 60.0 / 50
		})},
		{"transition list, flicker", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Transitions
			w.Step = 0.01
			w.White = logUniform(rnd, 0.01, 1)
			w.Flicker = logUniform(rnd, 1e-5, 1e-2)
		})},
		{"sampled logic, flicker", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Logic
			w.Flicker = logUniform(rnd, 1e-5, 1e-2)
		})},
		{"transition list, random-walk frequency", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Kind = acquire.Transitions
			w.Step = 0.01
			w.White = logUniform(rnd, 0.01, 1)
			w.Wander = logUniform(rnd, 1e-5, 1e-2) / math.Sqrt(w.Cycles)
		})},
		{"fast edges, random-walk frequency", some, mod(func(w *measuretest.Wave, rnd *rand.Rand) {
			w.Wander = logUniform(rnd, 1e-5, 1e-2) / math.Sqrt(w.Cycles)
		})},
	}
}

// tally of normalised errors, as deviates of the normal distribution: an error is as far out as its chance by Student's distribution
// with the degrees of freedom that are stated beside the uncertainty. raw is the sum of squares of the errors over the uncertainty alone.
type tally struct {
	n, within           int
	square, fourth, raw float64
}

func (t *tally) add(e, u, freedom float64) {
	if e == 0 && u == 0 {
		return
	}
	z := math.Abs(e / u)
	t.raw += z * z
	if freedom > 0 {
		z = -distuv.UnitNormal.Quantile(max(distuv.StudentsT{Sigma: 1, Nu: freedom}.CDF(-z), math.SmallestNonzeroFloat64))
	}
	t.n++
	t.square += z * z
	t.fourth += z * z * z * z
	if z <= 2 {
		t.within++
	}
}

func (t *tally) merge(o tally) {
	t.n += o.n
	t.within += o.within
	t.square += o.square
	t.raw += o.raw
	t.fourth += o.fourth
}

func (t tally) rms() float64   { return math.Sqrt(t.square / float64(t.n)) }
func (t tally) cover() float64 { return float64(t.within) / float64(t.n) }

// within tells whether the root mean square may lie between lo and hi: its square has the standard error of a mean of
// squares, as they scatter; alike is how many of the values stand for one, since they come of the same captures. Of 60
// looks one at three standard errors is wrong by chance in fifteen tries; four are given.
func (t tally) between(lo, hi float64, alike float64) bool { return t.inside(lo, hi, alike, 4) }

// inside is the same to so many standard errors. Captures that are always the same ones have had their luck: two will do for a quarter
// as many, and see as small a fault.
func (t tally) inside(lo, hi, alike, errors float64) bool {
	n := float64(t.n)
	mean := t.square / n
	slack := errors * math.Sqrt(max(t.fourth/n-mean*mean, 0)/n*alike)
	return mean+slack >= lo*lo && mean-slack <= hi*hi
}

// normalised adds the errors of high, low, period and duty, over their uncertainties.
func normalised(m *fit.Measurement, w measuretest.Wave, t *[4]tally) {
	p, d := m.Period(), m.Duty()
	t[0].add(m.High.Value-w.High, m.High.Uncertainty, m.Freedom.High)
	t[1].add(m.Low.Value-w.Low, m.Low.Uncertainty, m.Freedom.Low)
	t[2].add(p.Value-w.High-w.Low, p.Uncertainty, m.Freedom.Period)
	t[3].add(d.Value-w.High/(w.High+w.Low), d.Uncertainty, m.Freedom.Duty)
}

// seeds is where the study's seeds begin: OFFBEAT_STUDY_SEED, so that a study can run on others than what was tuned.
func seeds() uint64 {
	n, _ := strconv.ParseUint(os.Getenv("OFFBEAT_STUDY_SEED"), 10, 64)
	return n
}

// study runs n captures of each class and number of cycles from shortest to longest, and reports each line. A record that starts and
// ends in a pulse has one or two whole cycles less than its length.
func study(t *testing.T, some []class, n int, shortest, longest float64, line func(name string, cycles float64, q [4]tally)) {
	t.Helper()
	for _, c := range some {
		if only := os.Getenv("OFFBEAT_STUDY_CLASS"); !strings.Contains(c.name, only) {
			continue
		}
		for _, cycles := range c.cycles {
			if cycles < shortest || cycles > longest {
				continue
			}
			var q [4]tally
			refused := 0
			for i := range n {
				rnd := rand.New(rand.NewPCG(seeds()+uint64(i), uint64(cycles*10)))
				w := c.draw(rnd, cycles)
				var capture *acquire.Capture
				capture, w.High, w.Low = w.Draw(rnd)
				m, err := measure.Run(capture, measure.Options{})
				if errors.Is(err, measure.ErrUnsteady) { // jitter of a tenth of a pulse is no steady train to everybody
					refused++
					continue
				}
				if err != nil {
					t.Fatalf("%s: %v (%+v)", c.name, err, w)
				}
				normalised(m, w, &q)
			}
			if refused > n/10 {
				t.Errorf("%s, %g cycles: %d of %d refused as unsteady", c.name, cycles, refused, n)
			}
			line(c.name, cycles, q)
		}
	}
}

// honesty gathers a study by class: high time, low time and duty factor together, and the period.
type honesty struct {
	names []string
	of    map[string]*[3]tally // times and duty factor, period, period of the long records
	all   tally
}

func (h *honesty) add(name string, cycles float64, q [4]tally) {
	if strings.Contains(name, "hum") && cycles < humShows {
		return // the record says that it can't see hum
	}
	if h.of == nil {
		h.of = map[string]*[3]tally{}
	}
	if h.of[name] == nil {
		h.names = append(h.names, name)
		h.of[name] = new([3]tally)
	}
	for i, x := range q {
		if !wanders(name) {
			h.all.merge(x)
		}
		k := 0
		if i == 2 {
			k = 1
		}
		h.of[name][k].merge(x)
	}
	if cycles >= enough {
		h.of[name][2].merge(q[2])
	}
}

// enough is how many cycles tell white noise from a walk, in the classes that told names.
const enough = 100

// humShows is how many cycles of 3.6 kHz hold two periods of the mains.
const humShows = 144

// wanders tells whether a class has noise that no averaging lessens. Its stated uncertainty is that of the next record's mean
// too, so that the mean over the record may lie far within.
func wanders(name string) bool {
	return strings.Contains(name, "flicker") || strings.Contains(name, "random-walk frequency")
}

// told are the classes whose noise a record of 100 cycles shows: white alone, a walk, and both. Not among them are exponential edges
// of a fifth to three samples: the steep ones show their cells, and the period's uncertainty is some twice what it need be.
var told = []string{
	"fast edges, large white jitter", "transition list, white jitter", "slow ramps, 12 bit, noise",
	"fast edges, large random walk", "transition list, random walk", "sampled logic, random walk",
	"fast edges, both noises", "transition list, both noises", "sampled logic, both noises", "slow ramps, noise and jitter",
	"slow ramps of 1.5 samples, walk", "transition list, hum", "transition list, hum of one half",
}

// check: the error over the stated uncertainty has a root mean square of 0.8 to 1.2 over all, as the issue asks, and for
// the times and the duty factor in each class.
//
// The period's is as near where a record of 100 cycles or more shows its noise. An error of the period by white noise
// shrinks with the cycles to the power 3/2, by a random walk with their square root. Fewer cycles hardly tell the two
// apart, and a walk below the sample interval hides in the rounding for some hundred cycles: no stated uncertainty is
// right for both then, so it is the mean over both, too wide for one and too narrow for the other, and fit.Walk says so.
// That leaves out the short records, jitter and walks below a sample, and edges without any noise, whose error is that
// of the lattice.
func (h *honesty) check(t *testing.T) {
	t.Helper()
	for _, name := range h.names {
		times, period := h.of[name][0], h.of[name][1]
		if wanders(name) {
			if !times.between(0, 1.5, 3) || !period.between(0, 1.5, 1) {
				t.Errorf("%s: error over stated uncertainty has root mean square %.2f for the times and %.2f for the period, want at most 1.5", name, times.rms(), period.rms())
			}
			continue
		}
		wide := 0.75
		if strings.Contains(name, "exponential") {
			wide = 0.55 // of few cycles the places of the crossings and the curve between samples are doubted more than they err
		}
		if !times.between(wide, 1.2, 3) {
			t.Errorf("%s: error of the times over their stated uncertainty has root mean square %.2f over %d values, want %g to 1.2", name, times.rms(), times.n, wide)
		}
		if c := times.cover(); c < 0.92-2/math.Sqrt(float64(times.n)) {
			t.Errorf("%s: %.3f of the times lie within two standard uncertainties", name, c)
		}
		least := 0.4
		if strings.Contains(name, "no noise") {
			least = 0.2 // nothing tells a short record that it has no walk
		}
		if period.square > 0 && !strings.Contains(name, "commensurate") && !period.between(least, 1.5, 1) {
			t.Errorf("%s: error of the period over its stated uncertainty has root mean square %.2f over %d values, want %g to 1.5", name, period.rms(), period.n, least)
		}
		if long := h.of[name][2]; long.n > 0 && slices.Contains(told, name) && !long.between(0.8, 1.2, 1) {
			t.Errorf("%s, %d cycles or more: error of the period over its stated uncertainty has root mean square %.2f over %d values, want 0.8 to 1.2", name, enough, long.rms(), long.n)
		}
	}
	if !h.all.between(0.8, 1.2, 3) {
		t.Errorf("error over stated uncertainty has root mean square %.3f over %d values, want 0.8 to 1.2", h.all.rms(), h.all.n)
	}
	if c := h.all.cover(); c < 0.93 {
		t.Errorf("%.4f of the values lie within two standard uncertainties, want at least 0.93", c)
	}
}

// TestHonest is a short study: captures of 2 to 10 cycles of every class.
func TestHonest(t *testing.T) {
	var h honesty
	study(t, classes(), 8, 0, 20, h.add)
	h.check(t)
}

// TestHonestPeriod is a short study of the classes whose noise 100 cycles show, white, walking and both, each kind
// together: one class alone has too few captures for it.
func TestHonestPeriod(t *testing.T) {
	kinds := map[string]*tally{"white": {}, "walk": {}, "both": {}}
	var still, moving []class
	for _, c := range classes() {
		if slices.Contains(told, c.name) && !strings.HasSuffix(c.name, "bit, noise") { // their noise is known beforehand
			if strings.HasSuffix(c.name, "white jitter") {
				still = append(still, c)
			} else {
				moving = append(moving, c)
			}
		}
	}
	add := func(name string, _ float64, q [4]tally) {
		switch {
		case strings.Contains(name, "walk"):
			kinds["walk"].merge(q[2])
		case strings.Contains(name, "both") || strings.Contains(name, "and jitter"):
			kinds["both"].merge(q[2])
		default:
			kinds["white"].merge(q[2])
		}
	}
	study(t, still, 30, enough, 200, add)
	study(t, moving, 8, enough, 200, add)
	for name, k := range kinds {
		t.Logf("%s: %.2f of %d", name, k.rms(), k.n)
		errors := 2.0
		if name == "white" {
			errors = 4 // of thirty of each
		}
		if !k.inside(0.8, 1.2, 1, errors) {
			t.Errorf("%s: error of the period over its stated uncertainty has root mean square %.2f over %d captures of 100 cycles, want 0.8 to 1.2", name, k.rms(), k.n)
		}
	}
}

// TestHonestLong is a record too long to be kept cycle by cycle: its first cycles alone do not show a walk that rules the
// whole, nor that there is none.
func TestHonestLong(t *testing.T) {
	var some []class
	for _, c := range classes() {
		if strings.HasPrefix(c.name, "transition list") && slices.Contains(told, c.name) && !strings.Contains(c.name, "one half") {
			c.cycles = []float64{5001.3}
			some = append(some, c)
		}
	}
	study(t, some, 6, 0, math.Inf(1), func(name string, _ float64, q [4]tally) {
		t.Logf("%s: %.2f of %d", name, q[2].rms(), q[2].n)
		if !q[2].inside(0.8, 1.2, 1, 2) {
			t.Errorf("%s: error of the period over its stated uncertainty has root mean square %.2f over %d captures of 5000 cycles, want 0.8 to 1.2", name, q[2].rms(), q[2].n)
		}
	})
}

// TestStudy prints root mean square and coverage of every class, and checks each with many captures; it takes minutes.
func TestStudy(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("OFFBEAT_STUDY"))
	if n == 0 {
		t.Skip("a long study; set OFFBEAT_STUDY to the captures of each class")
	}
	fmt.Printf("%-36s %7s | %-23s | %-23s | %s\n", "class", "cycles", "rms high low period duty", "within 2u", "period's, as normal")
	var h honesty
	longest := math.Inf(1)
	if x, err := strconv.ParseFloat(os.Getenv("OFFBEAT_STUDY_CYCLES"), 64); err == nil {
		longest = x
	}
	study(t, classes(), n, 0, longest, func(name string, cycles float64, q [4]tally) {
		h.add(name, cycles, q)
		fmt.Printf("%-36s %7.1f |", name, cycles)
		for _, x := range q {
			fmt.Printf(" %5.2f", x.rms())
		}
		fmt.Print(" |")
		for _, x := range q {
			fmt.Printf(" %5.3f", x.cover())
		}
		fmt.Printf(" | %5.2f", math.Sqrt(q[2].raw/float64(q[2].n)))
		fmt.Println()
	})
	fmt.Printf("\n%-36s | rms, within 2u: times and duty factor; period; period from %d cycles\n", "class, all cycles", enough)
	for _, name := range h.names {
		c := h.of[name]
		fmt.Printf("%-36s | %5.2f %5.3f; %5.2f %5.3f; %5.2f %5.3f\n", name, c[0].rms(), c[0].cover(), c[1].rms(), c[1].cover(), c[2].rms(), c[2].cover())
	}
	fmt.Printf("all: rms %.3f, within 2u %.4f of %d\n", h.all.rms(), h.all.cover(), h.all.n)
	h.check(t)
}
