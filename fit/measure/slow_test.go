package measure_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

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
		for i := range 6 {
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
			if want := c.size * math.Hypot(1, 1.0/3); found && (math.Abs(m.Slow.Hum-50) > 0.02*3600/c.cycles || math.Abs(m.Slow.Swing/want-1) > 0.05) {
				t.Errorf("%g cycles: hum of %.4f Hz that moves the period by %.4g, want 50 Hz, %.4g", c.cycles, m.Slow.Hum, m.Slow.Swing, want)
			}
			if e := m.Period().Value*3600 - 1; !c.unseen && math.Abs(e) > 4*m.Period().Uncertainty*3600 {
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

// The stated uncertainty of the mean period and the Allan deviation of the same record never contradict each other,
// whatever the noise. White edge noise makes a deviation that falls as 1/n with the periods n that are averaged; what at the
// longest time is more than the one at the shortest would let be adds up from period to period at least, so that the mean
// over N periods has n/N of its square. The deviation is known by chance only, with one degree of freedom at least (χ² above
// 10.8 once in a thousand), and edges are rounded.
func TestUncertaintyAgreesWithAllan(t *testing.T) {
	for _, c := range classes() {
		for _, cycles := range c.cycles {
			if cycles < 9 || cycles > 150 {
				continue
			}
			for i := range 6 {
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
				if len(points) == 0 || m.Slow.Hum > 0 { // the series is as recorded, hum and all
					continue
				}
				first, last := points[0], points[len(points)-1]
				p := m.Period()
				n, all := last.Time/p.Value, float64(m.Cycles)
				seen := p.Value*p.Value*(last.Allan*last.Allan/10.8-2*first.Allan*first.Allan/(n*n)) - 2*w.Step*w.Step/(n*n)
				if least := math.Sqrt(max(seen, 0) * n / all); p.Uncertainty < least {
					t.Errorf("%s, %g cycles: period to %.2g, the Allan deviation of %.2g at %.0f periods allows no less than %.2g", c.name, cycles, p.Uncertainty, last.Allan, n, least)
				}
			}
		}
	}
}

// A record half a mains period long sees hum as a period that wanders, and says no less than what it sees.
func TestHumUnseenIsSeenAsWander(t *testing.T) {
	var q tally
	for i := range 40 {
		rnd := rand.New(rand.NewPCG(uint64(i), 7))
		w := beside(rnd, 40.3, 3e-3)
		m, err := measure.Run(w.Capture(rnd), measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		q.add(m.Period().Value-w.High-w.Low, m.Period().Uncertainty)
		if !m.Slow.HumUnseen {
			t.Fatal("a record of 11 ms does not say that it can't see hum")
		}
	}
	if q.rms() > 2 {
		t.Errorf("error over stated uncertainty has root mean square %.1f", q.rms())
	}
}
