package measure

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/level"
	"offbeat/fit/measure/measuretest"
	"offbeat/fit/steady"
	"offbeat/fit/train"
	"offbeat/fit/transition"
)

// rescaled is the capture of the same samples at another interval, or edges at so many times their time, and of other levels; timed
// gives each sample its time.
func rescaled(w measuretest.Wave, times, gain, offset float64, timed bool) *acquire.Capture {
	rnd := rand.New(rand.NewPCG(9, 41))
	c := w.Capture(rnd)
	var at, v []float64
	var b acquire.Block
	for c.Read(&b) == nil {
		for i := range b.N {
			if timed {
				at = append(at, float64(len(v))*times)
			}
			v = append(v, gain*b.Value[0][i]+offset)
			if b.Time != nil {
				at = append(at, b.Time[i]*times)
			}
		}
	}
	c.Step, c.TimeResolution = c.Step*times, c.TimeResolution*times
	return measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: c.Kind, Step: c.Step, TimeResolution: c.TimeResolution}, at, v)
}

// What is measured goes with the interval between the samples, squares with its square, and shares do not go with it; volts have no
// say in times; each whatever the edges, the noise and the steps of the samples are.
func TestScalesOfTimeAndLevel(t *testing.T) {
	for name, w := range map[string]measuretest.Wave{
		"sharp":         {Step: 1, High: 57.3, Low: 91.1, Cycles: 30.3, Phase: 31, Noise: 0.02},
		"in steps":      {Step: 1, High: 41.3, Low: 66.7, Cycles: 30.3, Phase: 31, Noise: 0.02, Code: 5.0 / 64, Rise: 1.5, Fall: 2.5},
		"slow":          {Step: 1, High: 141.3, Low: 166.7, Cycles: 12.3, Phase: 31, Noise: 0.05, Rise: 25, Fall: 30},
		"bent":          {Step: 1, High: 57.3, Low: 91.1, Cycles: 20.3, Phase: 31, Noise: 0.01, Shape: measuretest.Exponential, Rise: 0.8, Fall: 2},
		"scattered":     {Step: 1, High: 57.3, Low: 91.1, Cycles: 40.3, Phase: 31, White: 0.6, HighStep: 0.4},
		"modulated":     {Step: 1, High: 57.3, Low: 91.1, Cycles: 60.3, Phase: 31, Hum: measuretest.Hum{Frequency: 1 / 148.4 / 7, High: [2]float64{0.006, 0}, Low: [2]float64{0.006, 0}}},
		"changing":      {Step: 1, High: 57.3, Low: 91.1, Cycles: 60.3, Phase: 31, White: 0.2, Drift: 4e-6},
		"timed":         {Step: 1, High: 57.3, Low: 91.1, Cycles: 20.3, Phase: 31, Noise: 0.01, Code: 5.0 / 64, Shape: measuretest.Exponential, Rise: 0.8, Fall: 2},
		"timed slow":    {Step: 1, High: 141.3, Low: 166.7, Cycles: 12.3, Phase: 31, Noise: 0.05, Code: 5.0 / 256, Rise: 25, Fall: 30},
		"timed jitter":  {Step: 1, High: 57.3, Low: 91.1, Cycles: 40.3, Phase: 31, White: 0.4, HighStep: 0.3, Shape: measuretest.Exponential, Rise: 0.4, Fall: 0.7},
		"list of edges": {Kind: acquire.Transitions, Step: 0.1, High: 57.3, Low: 91.1, Cycles: 30.3, Phase: 31, White: 0.3},
	} {
		of := func(times, gain, offset float64) *fit.Measurement {
			if w.Kind == acquire.Transitions {
				gain, offset = 1, 0
			}
			m, err := Run(rescaled(w, times, gain, offset, strings.HasPrefix(name, "timed")), Options{})
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			return m
		}
		one := of(1, 1, 0)
		if samples := map[acquire.Kind]float64{acquire.Samples: 1}[w.Kind]; one.Interval != samples {
			t.Errorf("%s: %g s between samples, want %g", name, one.Interval, samples)
		}
		if by := w.Drift * w.Cycles * (w.High + w.Low); by > 0 && (one.Moves.Wanders || !(math.Abs(one.Moves.By/by-1) <= 0.1)) {
			t.Errorf("%s: %+v, want %g", name, one.Moves, by)
		}
		for _, c := range []struct{ times, gain, offset float64 }{{1. / 1024, 1, 0}, {1, 64, 0}, {1, 1, 24}} {
			got, k := of(c.times, c.gain, c.offset), c.times
			if one.Slow.Modulation.Mains != got.Slow.Modulation.Mains || one.Slow.Hum != got.Slow.Hum {
				continue // hum of a frequency that only one of them can have
			}
			within := 1e-9
			if c.offset != 0 { // the levels are told by other bins
				within = 0.02
			}
			same := func(what string, got, want float64) {
				t.Helper()
				if !(math.Abs(got-want) <= within*math.Abs(want)+1e-300) {
					t.Errorf("%s, %+v: %s %.9g, want %.9g", name, c, what, got, want)
				}
			}
			same("high time", got.High.Value, k*one.High.Value)
			same("low time", got.Low.Value, k*one.Low.Value)
			same("its uncertainty", got.Low.Uncertainty, k*one.Low.Uncertainty)
			same("uncertainty of the high time", got.High.Uncertainty, k*one.High.Uncertainty)
			same("covariance", got.Covariance, k*k*one.Covariance)
			same("freedom", got.Freedom.Period, one.Freedom.Period)
			same("modulation", got.Slow.Modulation.Amplitude, one.Slow.Modulation.Amplitude)
			same("walk", got.Walk.With, k*one.Walk.With)
			same("drift", got.Moves.By, one.Moves.By)
			same("interval", got.Interval, k*one.Interval)
			for i, s := range one.Series.Start {
				same("series", got.Series.Start[i]+got.Series.High[i], k*(s+one.Series.High[i]))
				same("its low times", got.Series.Low[i], k*one.Series.Low[i])
			}
			if len(got.Budget) != len(one.Budget) || len(got.Notes) != len(one.Notes) {
				t.Fatalf("%s: %d rows and %d notes, not %d and %d", name, len(got.Budget), len(got.Notes), len(one.Budget), len(one.Notes))
			}
			for i, row := range one.Budget {
				same(row.Name, got.Budget[i].High, k*row.High)
				if lengthens := map[string]bool{"reference level": true, "form of the edges": true, "curvature of the edges": true}; lengthens[row.Name] && row.Period > 1e-6*row.High {
					t.Errorf("%s: %s moves the period by %g", name, row.Name, row.Period)
				}
			}
		}
	}
}

// A train seen upside down has its high and low times exchanged, whatever the form of its edges is.
func TestUpsideDown(t *testing.T) {
	for name, w := range map[string]measuretest.Wave{
		"bent":  {Step: 1, High: 57.3, Low: 91.1, Cycles: 300.3, Phase: 31, Noise: 0.01, Shape: measuretest.Exponential, Rise: 0.3, Fall: 1.1},
		"slow":  {Step: 1, High: 141.3, Low: 166.7, Cycles: 60.3, Phase: 31, Noise: 0.05, Shape: measuretest.Exponential, Rise: 15, Fall: 6},
		"steps": {Step: 1, High: 41.3, Low: 66.7, Cycles: 90.3, Phase: 31, Noise: 0.01, Code: 5.0 / 16, Rise: 1.5, Fall: 2.5},
	} {
		up, err := Run(rescaled(w, 1, 1, 0, false), Options{})
		if err != nil {
			t.Fatal(err)
		}
		down, err := Run(rescaled(w, 1, -1, 5, false), Options{})
		if err != nil {
			t.Fatal(err)
		}
		close(t, name+": high time", down.Low.Value, up.High.Value, 0.3*up.High.Uncertainty)
		close(t, name+": low time", down.High.Value, up.Low.Value, 0.3*up.Low.Uncertainty)
		close(t, name+": uncertainty", down.High.Uncertainty/up.Low.Uncertainty, 1, 0.1)
	}
}

// ran is a run that has read its capture, ready to be finished.
func ran(t *testing.T, c *acquire.Capture) *run {
	t.Helper()
	r := &run{c: c, train: train.New(c.Kind == acquire.Transitions, false), uniform: true}
	if r.find.Hold = c.Kind == acquire.Transitions; r.find.Hold {
		r.use(level.Fixed())
	}
	if err := r.read(); err != nil {
		t.Fatal(err)
	}
	r.train.End()
	return r
}

// What is known of the edges beforehand: two interpolated samples leave an edge two thirds of the noise's variance over the slope's
// square (the mean of (1-u)² + u² over all places between them), edges placed by their form what their information says; rounding
// to amplitude steps is no noise; a printed time is good to a step over √12.
func TestWhatIsKnownOfTheEdges(t *testing.T) {
	for _, scale := range []float64{1, 1e-3} {
		r := ran(t, rescaled(measuretest.Wave{Step: 1, High: 57.3, Low: 91.1, Cycles: 12.3, Phase: 31, Noise: 0.05, Rise: 1.6, Fall: 2.5}, scale, 1, 0, false))
		r.levels.Noise, r.levels.Quantum = 0.05, 0.08
		fall, rise := r.train.Sharpness()
		noise, a := 0.05*0.05-0.08*0.08/12, r.levels.High-r.levels.Low
		k := r.knowledge(scale, &fittedEdges{})
		if k.Lattice.Cell != 1 || !k.Lattice.Places || k.Second*scale != 1 {
			t.Errorf("scale %g: %+v", scale, k)
		}
		for i, sharp := range []float64{fall, rise} {
			close(t, "noise of an interpolated edge", k.White[i], 2*noise/(3*a*a*sharp*sharp), 1e-12)
			close(t, "rise in steps", k.Lattice.Code[i], a*sharp/0.08, 1e-9)
			if k.Lattice.Sharpness[i] != sharp || k.Lattice.Fitted[i] != 0 {
				t.Errorf("%+v", k.Lattice)
			}
		}
		close(t, "dither", k.Lattice.Dither, noise/(0.08*0.08), 1e-12)
		f := fittedEdges{ok: [2]bool{true, false}, of: [2]transition.Summary{{Info: 3}, {}}}
		k = r.knowledge(scale, &f)
		close(t, "noise of a fitted edge", k.White[0], noise/(3*a*a), 1e-12)
		close(t, "its steps", k.Lattice.Fitted[0], 3*a*a/(0.08*0.08), 1e-9)
		if k.Lattice.Sharpness[0] != min(fall, 0.5) || k.Lattice.Sharpness[1] != rise || k.Lattice.Fitted[1] != 0 {
			t.Errorf("%+v", k.Lattice)
		}
		r.levels.Quantum, r.levels.Noise = 0.08, 0.01 // less than rounding makes
		if k = r.knowledge(scale, &f); k.White != [2]float64{} || k.Lattice.Dither != 0 {
			t.Errorf("noise that is rounding alone: %+v", k)
		}
		if r.levels.Quantum = 0; r.knowledge(scale, &f).Lattice.Code != [2]float64{} {
			t.Error("steps of none")
		}
	}
	r := ran(t, rescaled(measuretest.Wave{Kind: acquire.Transitions, Step: 0.25, High: 57.3, Low: 91.1, Cycles: 12.3, Phase: 31}, 1, 1, 0, false))
	r.c.TimeResolution = 0.6
	k := r.knowledge(1, &fittedEdges{})
	close(t, "a printed time", k.White[0], 0.6*0.6/12, 1e-15)
	close(t, "and of a rise", k.White[1], 0.6*0.6/12, 1e-15)
	if k.Lattice.Cell != 0.25 || k.Lattice.Places {
		t.Errorf("%+v", k.Lattice)
	}
	shortest := r.train.Shortest()
	for _, c := range []struct{ step, want float64 }{{0.2 * shortest, 0.2 * shortest}, {0.21 * shortest, 0.6}} {
		if r.c.Step = c.step; r.quantum() != c.want {
			t.Errorf("a common step of %g in pulses of %g counts as %g", c.step, shortest, r.quantum())
		}
	}
}

// A level that was taken too high by a share of the amplitude moves the reference up by half of it, and a crossing of straight samples
// by half of that over the rise from sample to sample: rises later, falls earlier. An edge placed by its form moves by what its form
// says of the level it leaves and of the one it goes to. The high time is a fall less a rise; its level's own uncertainty is that of
// the mean of the plateau's samples, and what rounding leaves of it.
func TestErrorsOfTheLevels(t *testing.T) {
	r := ran(t, rescaled(measuretest.Wave{Step: 1, High: 57.3, Low: 91.1, Cycles: 12.3, Phase: 31, Noise: 0.05, Rise: 8, Fall: 6}, 1, 1, 0, false))
	const cell, share = 1.7, 0.7
	fall, rise := r.train.Sharpness()
	a, before := r.levels.High-r.levels.Low, r.levels
	_, _, n := r.refine.Plateaus()
	falls := transition.Summary{ByStart: 0.9, ByEnd: 0.4, Late: 0.03, LateU: 0.02}
	rises := transition.Summary{ByStart: 1.3, ByEnd: 0.7, Late: -0.01, LateU: 0.05}
	for _, ok := range [][2]bool{{false, false}, {true, false}, {false, true}, {true, true}} {
		f := fittedEdges{ok: ok}
		low, high, late, lateU := 0.0, 0.0, 0.0, 0.0 // of the high time, for each level's error
		if ok[0] {
			f.of[0], low, high, late, lateU = falls, falls.ByEnd, falls.ByStart, -falls.Late, falls.LateU
		} else {
			low, high = cell/fall/2, cell/fall/2
		}
		if ok[1] {
			f.of[1], low, high, late, lateU = rises, low+rises.ByStart, high+rises.ByEnd, late+rises.Late, math.Hypot(lateU, rises.LateU)
		} else {
			low, high = low+cell/rise/2, high+cell/rise/2
		}
		r.levels = before
		r.levels.Left = [2]float64{0.02, 0.07}
		at, rows := r.settle(&f, cell, share)
		var u [2]float64
		for k := range u {
			u[k] = math.Sqrt(r.levels.Noise*r.levels.Noise/float64(n[k])+r.levels.Left[k]*r.levels.Left[k]) / a
		}
		want := share * share * (low*low*u[0]*u[0] + high*high*u[1]*u[1])
		close(t, "variance by the levels", rows[0].High, want, 1e-12)
		close(t, "of the low time", rows[0].Low, want, 1e-12)
		close(t, "of both", rows[0].Both, -want, 1e-12)
		if len(rows) != 2 && (ok[0] || ok[1]) || len(rows) != 1 && ok == [2]bool{} {
			t.Fatalf("%v: %+v", ok, rows)
		} else if len(rows) == 2 {
			close(t, "variance by the form", rows[1].High, share*share*lateU*lateU, 1e-15)
			close(t, "of both by the form", rows[1].Both, -share*share*lateU*lateU, 1e-15)
		}
		r.levels.Bias[0] -= 0.03 * a // the levels used were so much higher than the plateaus' true means
		r.levels.Bias[1] -= 0.05 * a
		moved, _ := r.settle(&f, cell, share)
		close(t, "late by the levels", moved-at, share*(0.03*low+0.05*high), 1e-12)
		used, mean := [2]float64{}, [2]float64{}
		used[0], used[1] = r.refine.Levels()
		mean[0], mean[1], _ = r.refine.Plateaus()
		off := func(k int) float64 { return (used[k] - mean[k] - r.levels.Bias[k]) / a }
		close(t, "late in all", moved, share*(off(0)*low+off(1)*high+late), 1e-12)
	}
	r.refine, r.levels.Uncertainty = nil, [2]float64{0.1, 0.3}
	off, u := r.offsets()
	close(t, "low level, uncertainty", u[0], 0.1/a, 1e-15)
	close(t, "high level, uncertainty", u[1], 0.3/a, 1e-15)
	r.opt.LevelSet = true
	if set, none := r.offsets(); off != set || off != [2]float64{} || none != off {
		t.Errorf("levels set by the user are off by %v ± %v, and those never refined by %v", set, none, off)
	}
}

// Pulses are finer than the printed times where either is shorter than their rounding, and only where nothing else tells the interval.
func TestFinerThanPrinted(t *testing.T) {
	for _, c := range []struct {
		regressed bool
		high, low float64
		count     int
		want      string
	}{
		{true, 1e-3, 1e-3, 5, ""}, {true, 0.9e-3, 2e-3, 5, "high pulses of about 0.0009"}, {true, 2e-3, 0.9e-3, 5, "low pulses of about 0.0009"},
		{true, 2e-3, 0.9e-3, 0, ""}, {false, 0.9e-3, 0.9e-3, 5, ""},
	} {
		r := &run{c: &acquire.Capture{Source: "lamp", TimeResolution: 1e-3, Regressed: c.regressed}}
		err := r.finer(&fit.Measurement{High: fit.Estimate{Value: c.high, Count: 5}, Low: fit.Estimate{Value: c.low, Count: c.count}})
		if (err != nil) != (c.want != "") || err != nil && (!strings.Contains(err.Error(), c.want) || !errors.Is(err, acquire.ErrTime) || !strings.Contains(err.Error(), "--interval")) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// trainOf is a train of edges: half-cycles of those lengths from 100 on, the first of them high.
func trainOf(lengths ...float64) *train.Train {
	t, at, rise := train.New(true, false), 100.0, true
	edges := []transition.Edge{{X: at, Slope: 1, Rise: true}}
	for _, l := range lengths {
		at, rise = at+l, !rise
		edges = append(edges, transition.Edge{X: at, Slope: 1, Rise: rise})
	}
	t.Add(edges)
	t.End()
	return t
}

// Why no time was fitted, and what to do: each case has its own words.
func TestFewEdgesHaveTheirReason(t *testing.T) {
	const two, one = "at least two whole cycles", "at least one whole high pulse"
	for _, c := range []struct {
		name   string
		train  *train.Train
		kind   acquire.Kind
		faults fit.Faults
		odd    int
		record train.Record
		opt    Options
		levels fit.Levels
		cause  error
		want   []string
	}{
		{name: "nothing", train: train.New(false, false), cause: ErrFlat, want: []string{"no edge was found", two}},
		{name: "one pulse wanted", train: train.New(false, false), opt: Options{SinglePulse: true}, cause: ErrFlat, want: []string{"no edge was found", one}},
		{name: "a flat list", train: train.New(true, false), kind: acquire.Transitions, cause: ErrFlat, want: []string{"its state never changes"}},
		{name: "faults alone", train: train.New(true, false), kind: acquire.Transitions, faults: fit.Faults{Glitches: 1}, cause: ErrFlat, want: []string{"no edge was found"}},
		{name: "a level below", train: train.New(false, false), opt: Options{LevelSet: true}, levels: fit.Levels{Reference: 1, Low: 1, High: 4}, cause: ErrFlat, want: []string{"reference level of 1 V lies outside"}},
		{name: "a level above", train: train.New(false, false), opt: Options{LevelSet: true}, levels: fit.Levels{Reference: 4, Low: 1, High: 4}, cause: ErrFlat, want: []string{"reference level of 4 V lies outside"}},
		{name: "a level between", train: train.New(false, false), opt: Options{LevelSet: true}, levels: fit.Levels{Reference: 2, Low: 1, High: 4}, cause: ErrFlat, want: []string{"no edge was found;"}},
		{name: "few", train: trainOf(10, 20, 10), cause: ErrFew, want: []string{"only 4 sound edges were found, 1 whole cycles", "record for longer, or at a slower sweep"}, record: train.Record{Whole: 1}},
		{name: "a cycle", train: trainOf(10, 20, 10), cause: ErrFew, want: []string{"one whole cycle was found", "--single to take that one"}, record: train.Record{Whole: 1, Highs: 2, Lows: 1}},
		{name: "a pulse", train: trainOf(10), cause: ErrFew, want: []string{"if one pulse is all there is"}, record: train.Record{Highs: 1}},
		{name: "a pulse, single", train: trainOf(10), cause: ErrFew, want: []string{"or at a slower sweep"}, record: train.Record{Highs: 1}, opt: Options{SinglePulse: true}},
		{name: "as many faults as edges", train: trainOf(10, 20, 10), faults: fit.Faults{Glitches: 1, Dropped: 1, Unknown: 1}, odd: 1, cause: ErrFew, want: []string{"only 4 sound edges"}},
		{name: "more faults than edges", train: trainOf(10, 20, 10), faults: fit.Faults{Glitches: 1, Dropped: 1, Unknown: 2}, odd: 1, cause: ErrFew, want: []string{"come in bursts or break off: 4 sound edges"}},
	} {
		r := &run{c: &acquire.Capture{Source: "lamp", Kind: c.kind}, train: c.train, opt: c.opt}
		r.train.Faults, r.train.OddGaps, r.levels.Levels = c.faults, c.odd, c.levels
		err := r.few(&c.record)
		for _, w := range c.want {
			if !errors.Is(err, c.cause) || !strings.Contains(err.Error(), strings.TrimSuffix(w, ";")) || strings.HasSuffix(w, ";") && strings.Contains(err.Error(), "lies outside") {
				t.Errorf("%s: %v, want %q", c.name, err, w)
			}
		}
	}
}

// What a user is told of a capture, from where on.
func TestRemarksFromWhereOn(t *testing.T) {
	m := func(high, low float64, lows, cycles int) *fit.Measurement {
		return &fit.Measurement{High: fit.Estimate{Value: high}, Low: fit.Estimate{Value: low, Count: lows}, Cycles: cycles}
	}
	plain := func() *run { return &run{c: &acquire.Capture{Step: 1}, train: train.New(false, false)} }
	for _, c := range []struct {
		name string
		m    *fit.Measurement
		do   func(*run)
		want string // empty: nothing is said
	}{
		{"nothing", m(20, 30, 9, 10), nil, ""},
		{"few cycles", m(20, 30, 9, 9), nil, "only 9 whole cycles"},
		{"few of one pulse", m(20, 30, 9, 9), func(r *run) { r.opt.SinglePulse = true }, ""},
		{"poorly sampled", m(30, 19.9, 9, 10), nil, "only 19.9 samples"},
		{"two samples", m(2, 30, 9, 10), nil, "only 2.0 samples"},
		{"below two", m(30, 1.99, 9, 10), nil, "below two samples a pulse"},
		{"of a longer interval", m(20, 30, 9, 10), func(r *run) { r.c.Step = 1.25 }, "only 16.0 samples"},
		{"how often to sample", m(2, 30, 9, 10), func(r *run) { r.c.Step = 1.25 }, "ten times the rate (8 a second)"},
		{"low times of the trigger", m(30, 1, 0, 10), nil, ""},
		{"edges", m(1, 1, 9, 10), func(r *run) { r.c.Kind = acquire.Transitions }, ""},
		{"no interval", m(1, 1, 9, 10), func(r *run) { r.c.Step = 0 }, ""},
		{"levels revised", m(20, 30, 9, 10), func(r *run) { r.moved = 1 }, "revised 1 times"},
		{"clipped", m(20, 30, 9, 10), func(r *run) { r.levels.Clipped = true }, "clipped throughout"},
		{"chatter", m(20, 30, 9, 10), func(r *run) { r.train.Chatter = 1 }, "1 transitions crossed"},
		{"odd gaps", m(20, 30, 9, 10), func(r *run) { r.train.OddGaps = 1 }, "1 gaps in the train"},
	} {
		r := plain()
		if c.do != nil {
			c.do(r)
		}
		got := r.remarks(c.m)
		if c.want == "" && len(got) > 0 || c.want != "" && (len(got) != 1 || !strings.Contains(got[0], c.want)) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// Which pulses are missing, too short or too long, from how many on.
func TestLacksFromHowManyOn(t *testing.T) {
	var even []float64
	for range 20 {
		even = append(even, 40, 60)
	}
	last := 100 + 2000.0
	for _, c := range []struct {
		name string
		kind acquire.Kind
		do   func(*run, *fit.Measurement)
		want fit.Moves
	}{
		{"all there", acquire.Samples, nil, fit.Moves{}},
		{"four periods of silence", acquire.Samples, func(r *run, _ *fit.Measurement) { r.end = last + 400 }, fit.Moves{}},
		{"more", acquire.Samples, func(r *run, _ *fit.Measurement) { r.end = last + 401 }, fit.Moves{Stops: 802}},
		{"after one cycle", acquire.Samples, func(r *run, m *fit.Measurement) { r.end, m.Cycles = last+401, 1 }, fit.Moves{}},
		{"a gap", acquire.Samples, func(r *run, _ *fit.Measurement) { r.train.OddGaps = 1 }, fit.Moves{Long: 1}},
		{"a gap in a list", acquire.Transitions, func(r *run, _ *fit.Measurement) { r.train.OddGaps = 1 }, fit.Moves{}},
		{"two in a list", acquire.Transitions, func(r *run, _ *fit.Measurement) { r.train.OddGaps = 2 }, fit.Moves{Long: 2}},
		{"bursts", acquire.Samples, func(r *run, _ *fit.Measurement) { r.train.OddGaps, r.judged.Kind = 3, steady.Bursts }, fit.Moves{}},
		{"two short ones", acquire.Samples, func(r *run, _ *fit.Measurement) { r.train.Short = 2 }, fit.Moves{}},
		{"three", acquire.Samples, func(r *run, _ *fit.Measurement) { r.train.Short = 3 }, fit.Moves{Short: 3}},
		{"left out", acquire.Samples, func(_ *run, m *fit.Measurement) { m.Faults.Dropped = 2 }, fit.Moves{Missing: 2}},
		{"left out and gaps", acquire.Samples, func(r *run, m *fit.Measurement) { m.Faults.Dropped, r.train.OddGaps = 3, 2 }, fit.Moves{Missing: 3, Long: 2}},
		{"as many gaps", acquire.Samples, func(r *run, m *fit.Measurement) { m.Faults.Dropped, r.train.OddGaps = 2, 2 }, fit.Moves{Long: 2}},
		{"lost by a list", acquire.Transitions, func(_ *run, m *fit.Measurement) { m.Faults.Dropped = 2 }, fit.Moves{}},
	} {
		r := &run{c: &acquire.Capture{Kind: c.kind}, train: trainOf(even...), end: last + 10}
		m := &fit.Measurement{High: fit.Estimate{Value: 80}, Low: fit.Estimate{Value: 120}, Cycles: 19}
		if c.do != nil {
			c.do(r, m)
		}
		if r.lacks(m, 2); m.Moves != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, m.Moves, c.want)
		}
	}
}

// The components that repetition does not show: the interval's uncertainty, and the clock's limit over √3, lengthen both times alike.
func TestWhatRepetitionDoesNotShow(t *testing.T) {
	m := &fit.Measurement{High: fit.Estimate{Value: 3}, Low: fit.Estimate{Value: 5}, Clock: 1e-4}
	r := &run{c: &acquire.Capture{StepRelative: 2e-3}}
	rows := r.typeB(m)
	if len(rows) != 2 || rows[0].Clock || !rows[1].Clock {
		t.Fatalf("%+v", rows)
	}
	for i, u := range []float64{2e-3, 1e-4 / math.Sqrt(3)} {
		close(t, rows[i].Name, rows[i].High, 9*u*u, 1e-15)
		close(t, rows[i].Name, rows[i].Low, 25*u*u, 1e-15)
		close(t, rows[i].Name, rows[i].Both, 15*u*u, 1e-15)
	}
	if r.c.StepRelative, m.Clock = 0, 0; len(r.typeB(m)) != 0 {
		t.Error("of nothing")
	}
	for _, d := range [][3]float64{{4, 1, 0}, {0, 0, 9}, {4, -1, 9}} { // of the digits in s², as they come
		r.c.Digits = d
		if rows := r.typeB(m); len(rows) != 1 || rows[0].High != d[0] || rows[0].Both != d[1] || rows[0].Low != d[2] || rows[0].Clock {
			t.Errorf("%v: %+v", d, rows)
		}
	}
}

// Reference levels that the user sets are taken, with a hysteresis that both state levels clear.
func TestLevelOfTheUser(t *testing.T) {
	e := level.Estimate{Levels: fit.Levels{Low: 1, High: 5, Reference: 3, Hysteresis: 2}}
	for _, c := range []struct{ level, hysteresis float64 }{{3, 2}, {1.5, 0.7}, {4.5, 0.7}, {1, 0}, {0, 0}, {6, 0}} {
		r := &run{opt: Options{LevelSet: true, Level: c.level}, train: train.New(false, false)}
		r.use(e)
		if !r.have || r.levels.Reference != c.level || !(math.Abs(r.levels.Hysteresis-c.hysteresis) <= 1e-12) {
			t.Errorf("%g V: %+v", c.level, r.levels.Levels)
		}
	}
}

// A thin sample has one value from each of as many stretches, never more than asked for, and keeps step with nothing.
func TestThinSample(t *testing.T) {
	for _, c := range []struct{ have, want, got int }{{0, 5, 0}, {7, 10, 7}, {10, 10, 10}, {11, 10, 6}, {100, 10, 10}, {109, 10, 10}, {1000, 300, 250}} {
		v := make([]float64, c.have)
		for i := range v {
			v[i] = float64(i)
		}
		out := thinned(v, c.want)
		if len(out) != c.got {
			t.Fatalf("%d of %d: %d", c.want, c.have, len(out))
		}
		step := max((c.have+c.want-1)/c.want, 1)
		places := map[int]bool{}
		for i, x := range out {
			if int(x)/step != i {
				t.Errorf("%d of %d: value %d is %g", c.want, c.have, i, x)
			}
			places[int(x)%step] = true
		}
		if step >= 4 && len(places) < min(step, len(out))/2 {
			t.Errorf("%d of %d: at %d places of stretches of %d alone", c.want, c.have, len(places), step)
		}
	}
}

// Levels are revised where the latest samples lie at others by a tenth of the swing; by half as much again, what came before is dropped.
func TestLevelsFromWhereOn(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 43))
	of := func(low, high float64) (v []float64) {
		for i := range 64 * 1100 {
			v = append(v, 10+[]float64{low, high}[i/50%2]+0.01*rnd.NormFloat64())
		}
		return v
	}
	for _, c := range []struct {
		low, high float64
		moved     bool
		forgets   bool
	}{{0, 4, false, false}, {0.3, 4.3, false, false}, {0, 5, true, false}, {-1, 4, true, false}, {0, 5.9, true, false}, {0, 6.1, true, true}, {0, 2.75, true, false}, {0, 2.6, true, true}, {8, 12, true, false}} {
		e, ok := level.Find(of(0, 4))
		if !ok {
			t.Fatal("no levels")
		}
		r := &run{c: &acquire.Capture{}, train: trainOf(40, 60, 40, 60, 40, 60)}
		r.use(e)
		r.watch(of(c.low, c.high))
		if (r.moved == 1) != c.moved || (r.train.Edges() == 0) != c.forgets || (len(r.notes) == 1) != c.forgets {
			t.Errorf("%g and %g V: revised %d times, %d edges left, %q", c.low, c.high, r.moved, r.train.Edges(), r.notes)
		}
		if c.moved && (!(math.Abs(r.levels.Low-10-c.low) <= 0.1) || !(math.Abs(r.levels.High-10-c.high) <= 0.1)) {
			t.Errorf("%g and %g V: %+v", c.low, c.high, r.levels.Levels)
		}
	}
}

// Why a train is refused: more glitches than pulses, and more than two; edges that are not clean between levels of one step.
func TestRefusals(t *testing.T) {
	var even []float64
	for range 20 {
		even = append(even, 40, 60)
	}
	for _, c := range []struct {
		name string
		do   func(*run)
		want string
	}{
		{"steady", nil, ""},
		{"as many glitches", func(r *run) { r.train.Faults.Glitches = 41 }, ""},
		{"more glitches", func(r *run) { r.train.Faults.Glitches = 42 }, "42 pulses far too short for the train were met, and only 41"},
		{"two glitches and an edge", func(r *run) { r.train = trainOf(); r.train.Faults.Glitches = 2 }, ""},
		{"three", func(r *run) { r.train = trainOf(); r.train.Faults.Glitches = 3 }, "3 pulses far too short"},
		{"levels of one step", func(r *run) { r.levels.OneStep = true }, ""},
		{"not clean between them", func(r *run) { r.levels.OneStep, r.find.Runts, r.train.Faults.Glitches = true, 2, 1 }, "one step of the converter apart"},
		{"clean enough", func(r *run) { r.levels.OneStep, r.find.Runts, r.train.Faults.Glitches = true, 1, 1 }, ""},
	} {
		r := &run{c: &acquire.Capture{Step: 1e-3}, train: trainOf(even...), uniform: true}
		if c.do != nil {
			c.do(r)
		}
		if err := r.unsteady(1e-3); (err != nil) != (c.want != "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	for _, c := range []struct {
		length  float64
		uniform bool
		want    string
	}{{1.9, true, "ten times the rate"}, {2, true, "cut the record"}, {1.9, false, "cut the record"}} {
		r := &run{c: &acquire.Capture{}, train: trainOf(c.length, 9, c.length, 9, c.length), uniform: c.uniform}
		if err := r.refuse("it is not", ErrUnsteady); !strings.Contains(fmt.Sprint(err), c.want) {
			t.Errorf("pulses of %g: %v", c.length, err)
		}
	}
}

// A train that goes on at another pace is measured on either side; the change is that of the periods, as uncertain as both are, and told
// with the place of each stretch's end.
func TestChangeOfPace(t *testing.T) {
	for _, pace := range []float64{0.5, 3} {
		rnd := rand.New(rand.NewPCG(2, 47))
		var at, v []float64
		now := 0.0
		for i := range 80 {
			f := 1.0
			if i >= 40 {
				f = pace
			}
			for k, length := range []float64{220, 180} {
				at, v = append(at, (now+0.3*rnd.NormFloat64())*1e-6), append(v, float64(1-k))
				now += length * f
			}
		}
		m, err := Run(measuretest.FromRows(acquire.Capture{Source: "lamp", Kind: acquire.Transitions, TimeResolution: 1e-9}, at, v), Options{})
		if err != nil || len(m.Changes) != 1 || len(m.Stretches) != 2 {
			t.Fatalf("pace %g: %v, %+v", pace, err, m)
		}
		before, after, c := m.Stretches[0].Period(), m.Stretches[1].Period(), m.Changes[0]
		close(t, "before", before.Value, 400e-6, 1e-6)
		close(t, "after", after.Value, pace*400e-6, 1e-6)
		close(t, "by", c.By, pace-1, 0.003)
		close(t, "where", c.Time, 40*400e-6, 400e-6*max(pace, 1))
		u := pace * math.Hypot(before.Uncertainty/before.Value, after.Uncertainty/after.Value)
		if !(c.Uncertainty >= 0.999*u && c.Uncertainty <= 1.001*u) {
			t.Errorf("pace %g: changes by %g ± %g, its periods say ± %g", pace, c.By, c.Uncertainty, u)
		}
		if n := m.Notes[0]; strings.Count(n, "; to ") != 2 || strings.Count(n, "; to its end") != 1 || strings.Index(n, "; to its end") < strings.Index(n, "; to ")+5 {
			t.Errorf("pace %g: %s", pace, n)
		}
	}
}

// The movement of a drifting period is as uncertain as a slope of least squares is: √(12/n) of what single periods scatter by.
func TestMovementIsASlope(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 48))
	s, at := &fit.Series{Every: 1}, 5.0
	for i := range 400 {
		p := 1e-3 * (1 + 0.05*float64(i)/400 + 1e-3*rnd.NormFloat64())
		s.Start, s.High, s.Low = append(s.Start, at), append(s.High, 0.6*p), append(s.Low, 0.4*p)
		at += p
	}
	m := moves(s, false, 0)
	if want := 1e-3 * math.Sqrt(12.0/400); m.Uncertainty < want/2 || m.Uncertainty > 2*want {
		t.Errorf("%+v, want ± %g", m, want)
	}
}

// A jump, and its return, of a sampled train is as large as the mean periods are apart, whatever the interval is, and as uncertain as the
// periods' own scatter makes two means of 40, up to twice that where a drift may lie beside it.
func TestJumpOfASampledTrain(t *testing.T) {
	const by, scatter = 0.03, 0.002
	for _, back := range []bool{false, true} {
		for _, step := range []float64{1e-3, 2e-6}[:map[bool]int{true: 1, false: 2}[back]] {
			rnd := rand.New(rand.NewPCG(4, 49))
			at := 20.3 // in samples
			var edges, places, periods []float64
			for i := range 120 {
				f := 1 + scatter*rnd.NormFloat64()
				if i == 40 || i == 80 && back {
					places = append(places, at)
				}
				if i >= 40 && (i < 80 || !back) {
					f *= 1 + by
				}
				edges, periods = append(edges, at, at+61*f), append(periods, 150*f)
				at += 150 * f
			}
			w := measuretest.Wave{Kind: acquire.Samples, Step: step, High: 61 * step, Low: 89 * step, Cycles: at/150 + 0.5}
			for i := range edges {
				edges[i] *= step
			}
			m, err := Run(w.CaptureOf(append(edges, at*step), rnd), Options{})
			if err != nil || len(m.Changes) != len(places) || len(m.Stretches) != len(places)+1 {
				t.Fatalf("step %g, back %v: %v, %+v", step, back, err, m)
			}
			means := []float64{stat.Mean(periods[:40], nil), stat.Mean(periods[40:80], nil), stat.Mean(periods[80:], nil)}
			if !back {
				means[1] = stat.Mean(periods[40:], nil)
			}
			for i, c := range m.Changes {
				u := scatter * math.Sqrt(2./40)
				close(t, "by", c.By, means[i+1]/means[i]-1, 2*u)
				close(t, "before", c.Before/step, means[i], 150*u)
				close(t, "after", c.After/step, means[i+1], 150*u)
				close(t, "where", c.Time/step, places[i], 150)
				if c.Uncertainty < u/2 || c.Uncertainty > 2.5*u {
					t.Errorf("step %g: ± %g, want about ± %g", step, c.Uncertainty, u)
				}
			}
			if v := m.Moves; v.Jumps != 0 && (v.At != m.Changes[0].Time || v.By != m.Changes[0].By || v.Uncertainty != m.Changes[0].Uncertainty || back != (v.Back != 0) || v.Slight) {
				t.Errorf("step %g: %+v", step, v)
			}
		}
	}
}

// Levels are in the unit of their channel; that of samples without one is not known, and states have none.
func TestUnitOfTheLevels(t *testing.T) {
	wave := measuretest.Wave{Step: 1, High: 57, Low: 91, Cycles: 12.3, Phase: 31}
	for _, c := range []struct {
		kind     acquire.Kind
		channels []acquire.Channel
		want     string
	}{
		{acquire.Samples, nil, ""}, {acquire.Samples, []acquire.Channel{{Unit: "A"}}, "A"}, {acquire.Samples, []acquire.Channel{{}}, fit.OwnUnit},
		{acquire.Transitions, []acquire.Channel{{}}, ""},
	} {
		w := wave
		w.Kind = c.kind
		k := w.Capture(rand.New(rand.NewPCG(5, 50)))
		k.Channels = c.channels
		if m, err := Run(k, Options{}); err != nil || m.Levels.Unit != c.want {
			t.Errorf("%+v: %v, %q", c, err, m.Levels.Unit)
		}
	}
}
