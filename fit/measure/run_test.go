package measure_test

import (
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// lamp is a train of 40 and 60 samples at 0 and 5 V, the edges between samples.
func lamp(cycles int) []float64 {
	var v []float64
	for i := range cycles*100 + 37 {
		level := 0.0
		if (i+70)%100 < 40 {
			level = 5
		}
		v = append(v, level)
	}
	return v
}

func samples(v []float64) *acquire.Capture {
	return measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: acquire.Samples, Step: 1e-3}, nil, v)
}

func run(t *testing.T, v []float64) *fit.Measurement {
	t.Helper()
	m, err := measure.Run(samples(v), measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func near(t *testing.T, name string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.9g, want %.9g ± %.2g", name, got, want, tolerance)
	}
}

func fill(v []float64, x float64) {
	for i := range v {
		v[i] = x
	}
}

func TestFaultsAreCountedAndDoNotBias(t *testing.T) {
	for _, c := range []struct {
		name   string
		break_ func(v []float64)
		want   fit.Faults
	}{
		{"sound", func(v []float64) {}, fit.Faults{Partial: 2}},
		{"glitch in a low", func(v []float64) { v[1090] = 5; v[1091] = 5 }, fit.Faults{Partial: 2, Glitches: 1}},
		{"glitch in a high", func(v []float64) { v[1045] = 0 }, fit.Faults{Partial: 2, Glitches: 1}},
		{"missing pulse", func(v []float64) { clear(v[1020:1080]) }, fit.Faults{Partial: 2, Dropped: 1}},
		{"runt", func(v []float64) { v[1090], v[1091], v[1092] = 1, 2.7, 1 }, fit.Faults{Partial: 2, Runts: 1}},
		{"a few unknown samples", func(v []float64) { v[1050], v[1051], v[1057] = math.NaN(), math.NaN(), math.NaN() }, fit.Faults{Partial: 2}},
		{"many unknown samples", func(v []float64) { fill(v[1050:1056], math.NaN()) }, fit.Faults{Partial: 2, Unknown: 1}},
		{"bounce at an edge", func(v []float64) { v[1031], v[1032] = 0, 5 }, fit.Faults{Partial: 2, Glitches: 1}},
		{"settling at the start", func(v []float64) { v[0], v[1], v[2] = 0, 5, 0 }, fit.Faults{Partial: 2, Glitches: 1}},
	} {
		v := lamp(30)
		if c.name == "settling at the start" {
			v = v[30:]
		}
		c.break_(v)
		m := run(t, v)
		if m.Faults != c.want {
			t.Errorf("%s: faults %+v, want %+v", c.name, m.Faults, c.want)
		}
		near(t, c.name+": high time", m.High.Value, 40e-3, 1e-9)
		near(t, c.name+": low time", m.Low.Value, 60e-3, 1e-9)
	}
}

// Clipped marks are a level, and the edge beside one lies somewhere between the two samples.
func TestClippedSamples(t *testing.T) {
	v := lamp(30)
	for i, x := range v {
		if x == 5 && i%3 > 0 {
			v[i] = math.Inf(1)
		}
	}
	m := run(t, v)
	near(t, "high time", m.High.Value, 40e-3, 0.51e-3)
	near(t, "period", m.Period().Value, 100e-3, 1e-4)
	for i, x := range v {
		if x == 5 {
			v[i] = math.Inf(1)
		}
	}
	m = run(t, v)
	near(t, "high time of a train clipped throughout", m.High.Value, 40e-3, 0.51e-3)
}

// Levels that change for good while reading, and a first window that shows noise alone.
func TestLevelsAreRevised(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	var v []float64
	for range 100_000 {
		v = append(v, 0.01*rnd.NormFloat64())
	}
	v = append(v, lamp(400)...)
	for _, x := range lamp(1500) {
		v = append(v, 2+3*x)
	}
	m := run(t, v)
	near(t, "high level", m.Levels.High, 17, 0.05)
	near(t, "low level", m.Levels.Low, 2, 0.05)
	near(t, "high time", m.High.Value, 40e-3, 1e-6)
	if len(m.Notes) == 0 {
		t.Error("a change of levels is not noted")
	}
}

func TestErrorsSayWhatWasMet(t *testing.T) {
	flat := make([]float64, 5000)
	unknown := make([]float64, 500)
	for i := range unknown {
		unknown[i] = math.NaN()
	}
	noise := make([]float64, 90_000)
	rnd := rand.New(rand.NewPCG(1, 2))
	for i := range noise {
		noise[i] = rnd.NormFloat64()
	}
	for _, c := range []struct {
		name string
		v    []float64
		is   error
		says string
	}{
		{"flat", flat, measure.ErrFlat, "flat"},
		{"noise", noise, measure.ErrFlat, "flat"},
		{"unknown", unknown, acquire.ErrEmpty, "unknown"},
		{"empty", nil, acquire.ErrEmpty, "no rows"},
		{"one cycle", lamp(30)[20:140], measure.ErrFew, "whole cycles"},
		{"one edge", lamp(30)[20:60], measure.ErrFew, "whole cycles"},
	} {
		_, err := measure.Run(samples(c.v), measure.Options{})
		var place *acquire.Error
		if !errors.Is(err, c.is) || !errors.As(err, &place) {
			t.Errorf("%s: error %v, want one with a place that wraps %v", c.name, err, c.is)
			continue
		}
		if place.File != "lamp" || place.Expect == "" || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: message %q", c.name, err)
		}
	}
}

// A break of the input is passed on as it is.
func TestReadErrorIsPassedOn(t *testing.T) {
	broken := &acquire.Error{File: "lamp", Line: 7, What: "no number", Err: acquire.ErrSyntax}
	calls := 0
	c := acquire.NewCapture(acquire.Capture{Source: "lamp", Step: 1}, func(b *acquire.Block) error {
		if calls++; calls > 3 {
			return broken
		}
		b.N, b.Value = 100, [][]float64{lamp(1)[:100]}
		return nil
	})
	if _, err := measure.Run(c, measure.Options{}); err != broken {
		t.Errorf("error %v, want the reader's own", err)
	}
}

// Pulses of a monostable, triggered at odd times: the high time is fitted from whole pulses, one is enough.
func TestSinglePulse(t *testing.T) {
	var v []float64
	for _, low := range []int{30, 500, 70, 210, 1000, 33} {
		v = append(v, make([]float64, low)...)
		for range 90 {
			v = append(v, 3.3)
		}
	}
	v = append(v, make([]float64, 20)...)
	m, err := measure.Run(samples(v), measure.Options{SinglePulse: true})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "high time", m.High.Value, 90e-3, 1e-9)
	if m.High.Count != 6 || m.Low.Count != 5 || m.Faults.Dropped != 0 {
		t.Errorf("%d highs, %d lows, %d dropped; want 6, 5, 0", m.High.Count, m.Low.Count, m.Faults.Dropped)
	}
	m, err = measure.Run(samples(v[:200]), measure.Options{SinglePulse: true})
	if err != nil || m.High.Count != 1 || m.Low.Count != 0 {
		t.Errorf("one pulse: %v, %+v", err, m)
	}
	near(t, "high time of one pulse", m.High.Value, 90e-3, 1e-9)
	// One pulse has two edges, each rounded to a sample: step²/12 twice.
	near(t, "its uncertainty", m.High.Uncertainty, 1e-3*math.Sqrt(1.0/6), 1e-6)
}

// A fixed reference level crosses a slow edge elsewhere: on ramps of 20 samples, at 1 V of 0 to 5 V, highs are
// 0.6 ramps longer than at half way.
func TestFixedLevel(t *testing.T) {
	w := measuretest.Wave{High: 100, Low: 150, Cycles: 40, Step: 1, Rise: 20, Fall: 20, Phase: 31}
	m, err := measure.Run(w.Capture(rand.New(rand.NewPCG(1, 1))), measure.Options{Level: 1, LevelSet: true})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "high time", m.High.Value, 100+0.6*20, 1e-6)
	near(t, "reference", m.Levels.Reference, 1, 0)
}

// The clock's term is common to all times, kept apart from the rest, and cancels in the duty factor.
func TestClockIsKeptApart(t *testing.T) {
	plain := run(t, lamp(30))
	m, err := measure.Run(samples(lamp(30)), measure.Options{ClockLimit: 1e-3})
	if err != nil {
		t.Fatal(err)
	}
	if m.High.Uncertainty != plain.High.Uncertainty || m.Duty() != plain.Duty() {
		t.Error("the clock entered the uncertainty of the high time or the duty factor")
	}
	p := plain.Period().Uncertainty
	near(t, "uncertainty of the period", m.Period().Uncertainty, math.Hypot(p, 0.1*1e-3/math.Sqrt(3)), 1e-12)
}

// The same capture gives the same bits.
func TestRepeatable(t *testing.T) {
	w := measuretest.Wave{High: 57.3, Low: 91.1, Cycles: 40, Step: 1, White: 0.2, HighStep: 0.1, Phase: 31}
	a, err := measure.Run(w.Capture(rand.New(rand.NewPCG(1, 1))), measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, _ := measure.Run(w.Capture(rand.New(rand.NewPCG(1, 1))), measure.Options{})
	if a.High != b.High || a.Low != b.Low || a.Covariance != b.Covariance {
		t.Error("two runs over the same capture differ")
	}
}

// Times in seconds on their own column, at odd intervals, measure the same as a grid.
func TestTimeColumn(t *testing.T) {
	v := lamp(30)
	times := make([]float64, len(v))
	for i := range times {
		times[i] = -0.7 + 1e-3*float64(i)
	}
	c := measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: acquire.Samples, Step: 1e-3}, times, v)
	m, err := measure.Run(c, measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	g := run(t, v)
	near(t, "high time", m.High.Value, g.High.Value, 1e-12)
	near(t, "its uncertainty", m.High.Uncertainty, g.High.Uncertainty, 1e-9)
	near(t, "start of the first whole cycle", m.Series.Start[0], g.Series.Start[0]-0.7, 1e-9)
}

// Ten times as many cycles as are kept singly: averaging them does not lose the answer.
func TestLongCapture(t *testing.T) {
	w := measuretest.Wave{Kind: acquire.Transitions, High: 57.3, Low: 91.1, Cycles: 20_000.3, White: 0.3, HighStep: 0.05, LowStep: 0.05, Phase: 31}
	var z tally
	for seed := range uint64(12) {
		m, err := measure.Run(w.Capture(rand.New(rand.NewPCG(seed, 1))), measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if m.Cycles < 19_998 || len(m.Series.Start) > 4096 {
			t.Fatalf("%d cycles, %d kept", m.Cycles, len(m.Series.Start))
		}
		z.add(m.Period().Value-148.4, m.Period().Uncertainty, 0)
		z.add(m.High.Value-57.3, m.High.Uncertainty, 0)
	}
	if z.rms() < 0.7 || z.rms() > 1.35 { // 24 normal values: 0.7 to 1.3 at two sigma, and a little for the noise of the noise
		t.Errorf("error over stated uncertainty has root mean square %.2f", z.rms())
	}
}

func TestReadsToTheEnd(t *testing.T) {
	c := samples(lamp(30))
	if _, err := measure.Run(c, measure.Options{}); err != nil {
		t.Fatal(err)
	}
	if err := c.Read(new(acquire.Block)); err != io.EOF {
		t.Errorf("after Run the capture reads %v, want io.EOF", err)
	}
}

// TestFinerThanTheRounding: pulses of 40 and 60 ms, on a grid that only rounded times tell, are refused where the
// rounding is wider than the shorter one, and only there.
func TestFinerThanTheRounding(t *testing.T) {
	for _, c := range []struct {
		resolution float64
		regressed  bool
		refused    bool
	}{{0.030, true, false}, {0.041, true, true}, {0.050, true, true}, {0.061, true, true}, {0.061, false, false}} {
		meta := acquire.Capture{Source: "lamp", Kind: acquire.Samples, Step: 1e-3, TimeResolution: c.resolution, Regressed: c.regressed}
		_, err := measure.Run(measuretest.FromRows(meta, nil, lamp(30)), measure.Options{})
		if c.refused != errors.Is(err, acquire.ErrTime) || !c.refused && err != nil {
			t.Errorf("rounded to %g s, by regression %v: %v", c.resolution, c.regressed, err)
		}
	}
}

// A period of all but exactly 200 samples: every 25th sample meets the plateaus alone, from which an 8-bit record's steps
// cannot be seen, and with them how far the reference level may be off.
func TestThinningKeepsOutOfStep(t *testing.T) {
	w := measuretest.Wave{Step: 1, High: 79.50222143368661, Low: 120.49492856226388, Cycles: 1001.3, Phase: 37.42937941111186,
		Lower: 0.9391908641258775, Upper: 4.35652045819241, Rise: 2.6838652515740984, Fall: 2.4912367222496785, Code: 8.0 / 256}
	m, err := measure.Run(w.Capture(rand.New(rand.NewPCG(54, 10013))), measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if d := math.Abs(m.High.Value - w.High); d > 3*m.High.Uncertainty {
		t.Errorf("high time %.5f ± %.5f, off by %.5f", m.High.Value, m.High.Uncertainty, d)
	}
}
