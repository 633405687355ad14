package picture

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/compare/plane"
	"offbeat/fit"
)

// square is a train of ten cycles, 3 ms high and 1 ms low, sampled 1000 times a cycle, with its measurement.
func square(t *testing.T, kind acquire.Kind) (*Trace, *fit.Measurement) {
	t.Helper()
	const step, high, low, cycles = 4e-6, 3e-3, 1e-3, 10
	var v []float64
	for i := 0; float64(i)*step < (cycles+0.5)*(high+low); i++ {
		x := 0.0
		if p := math.Mod(float64(i)*step+0.5*low, high+low); p >= low {
			x = 5
		}
		v = append(v, x)
	}
	c := source(v, false)
	c.Start, c.Step, c.Kind, c.Source = 0, step, kind, "a < b & \"c\".csv"
	tapped, trace := Tap(c)
	drain(t, tapped)
	m := &fit.Measurement{High: fit.Estimate{Value: high, Uncertainty: 1e-7, Count: cycles}, Low: fit.Estimate{Value: low, Uncertainty: 1e-7, Count: cycles}, Cycles: cycles,
		Levels: fit.Levels{Low: 0, High: 5, Reference: 2.5}}
	m.Series.Every = 1
	for i := range cycles {
		m.Series.Start = append(m.Series.Start, 0.5*low+float64(i)*(high+low))
		m.Series.High, m.Series.Low = append(m.Series.High, high), append(m.Series.Low, low)
	}
	return trace, m
}

// wellFormed checks that a picture is XML, says what it is, and has nothing that is no number in it.
func wellFormed(t *testing.T, p Picture) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(p.SVG))
	var title, desc string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%s: %v", p.Title, err)
		}
		if e, ok := token.(xml.StartElement); ok {
			var s string
			switch e.Name.Local {
			case "title":
				d.DecodeElement(&s, &e)
				title = s
			case "desc":
				d.DecodeElement(&s, &e)
				desc = s
			}
		}
	}
	if title != p.Title || desc != p.Prose || len(p.Caption) < 40 || len(p.Prose) < 40 {
		t.Errorf("%q: title %q, description %q, caption %q", p.Title, title, desc, p.Caption)
	}
	for _, bad := range []string{"NaN", "Inf", "∞"} {
		if strings.Contains(p.SVG, bad) {
			t.Errorf("%s holds %s", p.Title, bad)
		}
	}
}

func TestFoldOfASquareWave(t *testing.T) {
	trace, m := square(t, acquire.Samples)
	f := foldOf(trace, m, 0)
	if f.cycles != 10 {
		t.Errorf("%d cycles folded, want 10", f.cycles)
	}
	// A bin is 1.24 periods / 160 wide: those that no edge falls into hold one level only.
	width := (foldBefore + foldAfter) * 4e-3 / foldBins
	for _, c := range f.columns {
		phase := math.Mod(c.t+4e-3, 4e-3)
		want := 0.0
		if phase < 3e-3 {
			want = 5
		}
		near := min(phase, math.Abs(phase-3e-3), 4e-3-phase) < width
		if !near && (c.min != want || c.max != want || c.mean != want) {
			t.Errorf("at %g s: %+v, want %g V", c.t, c, want)
		}
		if c.min > c.mean || c.mean > c.max {
			t.Errorf("%+v", c)
		}
	}
}

// Of a long record the kept cycles lie far apart: what is drawn of them says so, and no edge is missed in the words.
func TestPicturesOfALongRecord(t *testing.T) {
	trace, m := square(t, acquire.Samples)
	s := &m.Series
	s.Every = 4
	s.Start, s.High, s.Low = []float64{s.Start[0], s.Start[4], s.Start[8]}, s.High[:3], s.Low[:3]
	p := Capture("p", trace, m)
	wellFormed(t, p)
	if !strings.Contains(p.Caption, "of one cycle in 4") || strings.Contains(p.Caption, "no edge should lack one") {
		t.Error(p.Caption)
	}
	if f := foldOf(trace, m, 0); f.cycles != 3 {
		t.Errorf("%d cycles folded, want the 3 that were kept", f.cycles)
	}
	s.Start[2] = s.Start[0] + foldCycles*4e-3 // too far for the finest view of the trace
	if f := foldOf(trace, m, 0); f.cycles != 2 {
		t.Errorf("%d cycles folded, want the 2 within reach", f.cycles)
	}
}

func TestCapturePictures(t *testing.T) {
	trace, m := square(t, acquire.Samples)
	p := Capture("p", trace, m)
	wellFormed(t, p)
	// From the record's start to 6.6 periods after the first rise: rises at 0 … 6 periods, falls at 0.75 … 5.75.
	if n := strings.Count(p.SVG, `class="found"`); n != 13 {
		t.Errorf("%d edges marked, want 13", n)
	}
	cycle := Cycle("p", trace, m)
	ok := cycle.SVG != ""
	if !ok {
		t.Fatal("no averaged cycle")
	}
	wellFormed(t, cycle)
	for _, want := range []string{"high 3.00000 ms", "low 1.00000 ms", "period 4.00000 ms"} {
		if !strings.Contains(cycle.SVG, want) {
			t.Errorf("the cycle lacks the dimension %q", want)
		}
	}
	times := Times("p", m)
	ok = times.SVG != ""
	if !ok {
		t.Fatal("no times")
	}
	wellFormed(t, times)
	if Cycle("p", &Trace{Capture: &acquire.Capture{Kind: acquire.Logic}}, m).SVG != "" {
		t.Error("a list of states was given a shape")
	}
	m.Series.Start = m.Series.Start[:1]
	if Times("p", m).SVG != "" {
		t.Error("one cycle was given a course")
	}
}

func TestOtherPictures(t *testing.T) {
	of := plane.Plane{Region: [][2]float64{{-0.1, -0.1}, {0.1, -0.1}, {0.1, 0.1}, {-0.1, 0.1}}, Measured: [2]float64{0.2, 0.15}, Spread: [2][2]float64{{1e-4, 0}, {0, 1e-4}},
		Curves: []plane.Curve{{Name: "C1 <shifted>", Points: [][2]float64{{-1, -1}, {math.NaN(), math.NaN()}, {0.3, 0.3}, {1, 1}}, Probability: 0.9}, {Name: "swapped", Points: [][2]float64{{0.2, 0}}, Dots: true}}}
	wellFormed(t, Plane("p", &of))
	if p := Plane("p", &of); !strings.Contains(p.Prose, "outside") {
		t.Errorf("the point is said to lie inside: %s", p.Prose)
	}
	of.Along = &[2]float64{math.Sqrt(0.5), math.Sqrt(0.5)}
	if p := Plane("p", &of); !strings.Contains(p.Caption, "alike") || !strings.Contains(p.Prose, "+19.12 %") { // the mean of 0.2 and 0.15
		t.Errorf("%s\n%s", p.Caption, p.Prose)
	}
	wellFormed(t, Plane("p", &of))
	of.Along, of.OnePulse = nil, true
	wellFormed(t, Plane("p", &of))
	// Of a lot the boards that do not stand out set the scale; the other one is an arrow at the rim, with its name.
	of.OnePulse, of.Cloud = false, [][2]float64{{0.1, 0.1}, {0.11, 0.1}, {-3, 2}}
	of.Named = []plane.Named{{Name: "lamp 13", At: [2]float64{-3, 2}}}
	if p := Plane("p", &of); strings.Contains(p.SVG, `class="ring"`) || !strings.Contains(p.SVG, "lamp 13") || !strings.Contains(p.SVG, "+10 %") {
		t.Error("the board that stands out is not at the rim")
	}
	wellFormed(t, Plane("p", &of))
	fits := []plane.Fit{{Name: "C1 out of tolerance", Number: 4, Probability: 0.8, Misses: []plane.Miss{{Median: 0.5, Low: -1, High: 2}, {Median: -40, Low: -41, High: -39}}}}
	p := Fits("p", []string{"high time", "low time"}, fits, false)
	ok := p.SVG != ""
	if !ok || strings.Count(p.SVG, `class="mark"`) != 1 || strings.Count(p.SVG, `class="found"`) != 1 || !strings.Contains(p.Prose, "low time −40.0") {
		t.Error(p.Prose)
	}
	wellFormed(t, p)
	wellFormed(t, Parts("p", []PartValue{{Name: "R1", Unit: quantity.Ohm, Nominal: 1e4, Low: 9.9e3, High: 1.01e4, Value: 1e4, Interval: [2]float64{9.9e3, 1e5}, Values: []float64{9.9e3, 1e4, 1e5}, Weights: []float64{0.4, 0.5, 0.1}}}))
	wellFormed(t, Bands("p", "Bands", "What each of these bands is about, in a caption.", "against target", []Band{{Name: "Frequency", Unit: quantity.Hertz, Reference: 100, Limits: [2]float64{97, 103}, Guard: 1, Measured: 104, Expanded: 0.5, Nominal: 101}}))
	wellFormed(t, Bars("p", "Bars", "What each of these bars is about, in a caption.", quantity.Second, []Bar{{Name: "Instrument clock", Value: 2e-9}, {Name: "Sample interval", Value: 0}, {Name: "Combined", Value: 2e-9, Total: true}}))
}

// bins lists the middle of each bin, its height over the highest and the stretch it is in.
func bins(p *PartValue, x partScale) (out []point, all []stretch) {
	all = p.stretches(x)
	top := 0.0
	for _, v := range all {
		top = max(top, slices.Max(v.heights))
	}
	for _, v := range all {
		for k, h := range v.heights {
			out = append(out, point{v.from + (float64(k)+0.5)*(v.to-v.from)/float64(len(v.heights)), h / top})
		}
	}
	return out, all
}

// spread is a part whose n samples lie evenly within 90 … 110, a share of them spread over 80 … 90 instead.
func spread(rng *rand.Rand, n int, outside float64) *PartValue {
	p := &PartValue{Name: "C1", Unit: quantity.Farad, Nominal: 100, Low: 90, High: 110, Interval: [2]float64{91, 109}, OutOfTolerance: outside}
	for range n {
		v := 90 + 20*rng.Float64()
		if rng.Float64() < outside {
			v = 80 + 10*rng.Float64()
		}
		p.Values, p.Weights = append(p.Values, v), append(p.Weights, 1/float64(n))
	}
	return p
}

// Few samples of a level distribution leave no gaps in the outline (a bin of its own would hold 1.3 of 60); many are drawn
// as they lie, and nothing spills over a limit, which ends a bin.
func TestHistogram(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for _, c := range []struct {
		n     int
		least float64 // of the highest bin's height that the lowest inner bin has
	}{{60, 0.08}, {120, 0.2}, {20000, 0.7}} {
		p := spread(rng, c.n, 0)
		x, linear := p.across(0, 560)
		if !linear {
			t.Fatal("a range of a fifth is drawn on a logarithmic scale")
		}
		all, _ := bins(p, x)
		for _, q := range all {
			inside := q.x > x.at(90) && q.x < x.at(110)
			if inside && q.y < c.least {
				t.Errorf("%d samples of a level distribution fall to %.2f of their top at %.0f", c.n, q.y, q.x)
			}
			if !inside && q.y != 0 {
				t.Errorf("%d samples: weight at %g where no sample lies", c.n, q.x)
			}
		}
	}
}

// What lies outside is drawn too high where it would not show, and its true share is written.
func TestOutsideIsMagnified(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	p := spread(rng, 20000, 0.02)
	x, _ := p.across(10, 370)
	_, all := bins(p, x)
	if v := all[0]; v.times != 10 || v.mass < 0.01 || v.mass > 0.025 {
		t.Errorf("below the limit: %+v", v)
	}
	if v := all[1]; v.times != 1 || len(v.heights) < leastBins {
		t.Errorf("within the limits: %d bins, × %g", len(v.heights), v.times)
	}
	if svg := Parts("p", []PartValue{*p}).SVG; !strings.Contains(svg, "× 10") {
		t.Error("the picture does not say that it is drawn too high")
	}
	p = spread(rng, 20000, 0.3)
	if _, all := bins(p, x); all[0].times != 1 {
		t.Errorf("a part that is likely outside is magnified × %g", all[0].times)
	}
	narrow := spread(rng, 20000, 0.1)
	narrow.Low, narrow.High, narrow.Nominal = 99.5, 100.5, 100
	x, _ = narrow.across(10, 370)
	for _, v := range narrow.stretches(x) {
		if v.from == x.clamp(99.5) && len(v.heights) < leastBins {
			t.Errorf("a part of 0.5 %% is drawn in %d bins", len(v.heights))
		}
	}
}
