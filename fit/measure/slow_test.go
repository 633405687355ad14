package measure_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"offbeat/acquire"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
	"offbeat/fit/stability"
)

// beside is an oscillator of 3.6 kHz beside mains of 50 Hz that move its period by the relative size given.
func beside(rnd *rand.Rand, cycles, size float64) measuretest.Wave {
	const period = 1 / 3600.0
	w := measuretest.Wave{Kind: acquire.Transitions, High: 0.55 * period, Low: 0.45 * period, Cycles: cycles, Step: 1e-9, White: 2e-4 * period}
	w.Phase = (rnd.Float64() - 0.5) * period
	w.Hum = measuretest.Hum{Frequency: 50, High: [2]float64{size, size / 3}, Low: [2]float64{size, size / 3}, Phase: 2 * math.Pi * rnd.Float64()}
	return w
}

// Hum is found in records of two periods of the mains or more, with its frequency and how far it moves the period; where
// there is none, none is found; and a shorter record says that it can't tell.
func TestHum(t *testing.T) {
	for _, c := range []struct {
		cycles, size float64
		unseen       bool
	}{{10.3, 3e-3, true}, {130.3, 3e-3, true}, {160.3, 3e-3, false}, {1000.3, 3e-3, false}, {200.3, 0, false}, {1000.3, 0, false}, {20000.3, 3e-3, false}} {
		for i := range draws(2) {
			rnd := rand.New(rand.NewPCG(uint64(i), 5))
			w := beside(rnd, c.cycles, c.size)
			m, err := measure.Run(w.Capture(rnd), measure.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if m.Slow.HumUnseen != c.unseen {
				t.Errorf("%g cycles: hum unseen %v, want %v", c.cycles, m.Slow.HumUnseen, c.unseen)
			}
			found := c.size > 0 && !c.unseen && c.cycles < 14400 // four seconds
			if (m.Slow.Hum > 0) != found {
				t.Errorf("%g cycles, hum of %g: found at %g Hz", c.cycles, c.size, m.Slow.Hum)
			}
			// The line's place is known to a fiftieth of the record's own resolution, one cycle over its length.
			if want := c.size * math.Hypot(1, 1.0/3); found && (!(math.Abs(m.Slow.Hum-50) <= 0.02*3600/c.cycles) || !(math.Abs(m.Slow.Swing/want-1) <= 0.05)) {
				t.Errorf("%g cycles: hum of %.4f Hz that moves the period by %.4g, want 50 Hz, %.4g", c.cycles, m.Slow.Hum, m.Slow.Swing, want)
			}
			if e := m.Period().Value*3600 - 1; !c.unseen && !(math.Abs(e) <= 4*m.Period().Uncertainty*3600) {
				t.Errorf("%g cycles, hum of %g: period off by %.2g, stated %.2g", c.cycles, c.size, e, m.Period().Uncertainty*3600)
			}
		}
	}
}

// Hum is taken off, not lumped in with noise: what is left open is some ten times what the same record without hum leaves,
// its ends being less than a period from whole ones, and the second order of the hum, a²/2 of the period.
func TestHumIsTakenOff(t *testing.T) {
	const size = 3e-3
	w := beside(rand.New(rand.NewPCG(3, 5)), 200.3, size)
	m, err := measure.Run(w.Capture(rand.New(rand.NewPCG(3, 6))), measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	w.Hum = measuretest.Hum{}
	quiet, err := measure.Run(w.Capture(rand.New(rand.NewPCG(3, 6))), measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	second := size * size * (1 + 1.0/9) / 2 * (w.High + w.Low)
	if u, most := m.Period().Uncertainty, math.Hypot(10*quiet.Period().Uncertainty, 1.2*second); u > most {
		t.Errorf("period to %.2g beside hum, want at most %.2g", u, most)
	}
}

// The stated uncertainty of the mean period and the Allan deviation of the same record agree, where the noise adds up from period to
// period at least: the mean over N periods then has n/N of the Allan variance over n, or more. One record's deviation at its longest
// time is known by chance only (one or two degrees of freedom), so the mean over the captures of each class is held to the stated
// variance, with no allowance but four standard errors of that mean; what rounding of the edges adds is taken off.
func TestUncertaintyAgreesWithAllan(t *testing.T) {
	seen := 0
	for _, c := range classes() {
		if !strings.Contains(c.name, "large random walk") && !strings.HasSuffix(c.name, "list, random walk") && !wanders(c.name) {
			continue
		}
		var ratio []float64
		for _, cycles := range c.cycles {
			if cycles < 9 || cycles > 150 {
				continue
			}
			for i := range draws(6) {
				rnd := rand.New(rand.NewPCG(uint64(i), uint64(cycles)))
				w := c.draw(rnd, cycles)
				m, err := measure.Run(w.Capture(rnd), measure.Options{})
				if errors.Is(err, measure.ErrUnsteady) {
					continue
				}
				if err != nil {
					t.Fatalf("%s: %v", c.name, err)
				}
				points := stability.Family(&m.Series)
				if len(points) == 0 {
					continue
				}
				last, p := points[len(points)-1], m.Period()
				n := last.Time / p.Value
				// Allan variances over n periods: of white noise and rounding of the edges, and of what adds up.
				white := (3*w.White*w.White + w.Step*w.Step/4) / (n * n)
				adds := (w.HighStep*w.HighStep+w.LowStep*w.LowStep)/n + p.Value*p.Value*(w.Flicker*w.Flicker+w.Wander*w.Wander*n/3)
				if adds < 3*white {
					continue // the deviation at its longest time is that of the edges still
				}
				allows := (p.Value*p.Value*last.Allan*last.Allan - white) * n / float64(m.Cycles)
				ratio = append(ratio, allows/(p.Uncertainty*p.Uncertainty))
			}
		}
		mean, scatter := stat.MeanStdDev(ratio, nil)
		if seen += len(ratio); mean > 1+2.8*scatter/math.Sqrt(float64(len(ratio))) || mean > 1.5 {
			t.Errorf("%s: the Allan deviation at its longest time allows %.2f of the stated variance of the mean, on the average of %d", c.name, mean, len(ratio))
		}
		t.Logf("%s: %.2f ± %.2f of %d", c.name, mean, scatter/math.Sqrt(float64(len(ratio))), len(ratio))
	}
	if seen < 30 {
		t.Errorf("only %d records have an Allan deviation", seen)
	}
}

// A record half a mains period long sees hum as a period that wanders, and says no less than what it sees.
func TestHumUnseenIsSeenAsWander(t *testing.T) {
	var q tally
	for i := range draws(24) {
		rnd := rand.New(rand.NewPCG(uint64(i), 7))
		w := beside(rnd, 40.3, 3e-3)
		m, err := measure.Run(w.Capture(rnd), measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		q.add(m.Period().Value-w.High-w.Low, m.Period().Uncertainty, m.Freedom.Period)
		if !m.Slow.HumUnseen {
			t.Fatal("a record of 11 ms does not say that it can't see hum")
		}
	}
	if q.rms() > 2 {
		t.Errorf("error over stated uncertainty has root mean square %.1f", q.rms())
	}
}
