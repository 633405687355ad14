package picture

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/stability"
)

// ran is a capture of 24 blocks of 10 cycles of about 10 ms.
func ran(period func(i int) float64) *compare.Stability {
	s := &compare.Stability{Course: &compare.Course{Period: 10e-3, Middle: 1.2}, Drift: compare.Drift{Against: "time", Range: 2.4}}
	for i := range 24 {
		s.Course.Blocks = append(s.Course.Blocks, compare.Block{At: 0.05 + 0.1*float64(i), Period: compare.Measured{Value: period(i), Uncertainty: 1e-7, Count: 10}})
	}
	return s
}

// numbers are the values of an attribute of a picture's elements of one class, in order.
func numbers(t *testing.T, svg, class, attribute string) (out []float64) {
	t.Helper()
	for _, m := range regexp.MustCompile(`class="`+class+`"[^>]* `+attribute+`="([^"]*)"`).FindAllStringSubmatch(svg, -1) {
		v, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

// The dots of a drift lie on the fitted line, those of a jump on its two levels, which meet at its instant.
func TestCourse(t *testing.T) {
	s := ran(func(i int) float64 { return 10e-3 * (1 + 1e-3*(0.05+0.1*float64(i)-1.2)) })
	s.Drift.Value, s.Drift.Uncertainty, s.Drift.Seen = 1e-3, 1e-5, true
	p := Course("p", s, "(6.00 ± 0.06) %/min")
	ok := p.SVG != ""
	if !ok || !strings.Contains(p.Caption, "(6.00 ± 0.06) %/min") {
		t.Fatal(p.Caption)
	}
	wellFormed(t, p)
	x, y := numbers(t, p.SVG, "mark", "cx"), numbers(t, p.SVG, "mark", "cy")
	x1, x2, y1, y2 := numbers(t, p.SVG, "measured", "x1"), numbers(t, p.SVG, "measured", "x2"), numbers(t, p.SVG, "measured", "y1"), numbers(t, p.SVG, "measured", "y2")
	for i := range x {
		if on := y1[0] + (x[i]-x1[0])/(x2[0]-x1[0])*(y2[0]-y1[0]); !(math.Abs(on-y[i]) <= 0.1) {
			t.Errorf("dot %d lies at %g, the line at %g", i, y[i], on)
		}
	}
	s = ran(func(i int) float64 { return 10e-3 + 1e-5*math.Floor(float64(i)/12) })
	s.Changes = []fit.Change{{Time: 1.2, Before: 10e-3, After: 10.01e-3}}
	p = Course("p", s, "")
	wellFormed(t, p)
	y, y1 = numbers(t, p.SVG, "mark", "cy"), numbers(t, p.SVG, "measured", "y1")
	if len(y1) != 2 || !(math.Abs(y[0]-y1[0]) <= 0.1) || !(math.Abs(y[23]-y1[1]) <= 0.1) || !strings.Contains(p.SVG, `class="reference"`) {
		t.Errorf("levels at %v, dots from %g to %g", y1, y[0], y[23])
	}
	s.Course.Blocks = s.Course.Blocks[:1]
	if Course("p", s, "").SVG != "" {
		t.Error("one block was given a course")
	}
}

// The law of the noise runs through the points that it makes, and is named.
func TestAllanPicture(t *testing.T) {
	s := ran(func(int) float64 { return 10e-3 })
	for tau := 1e-2; tau < 1; tau *= 3 {
		v := 1e-6 / math.Sqrt(tau)
		s.Allan = append(s.Allan, compare.AllanPoint{Time: tau, Value: v, Interval: [2]float64{0.8 * v, 1.4 * v}})
	}
	s.Course.Laws = []stability.Law{{Power: -0.5, Deviation: 1e-6}}
	p := Allan("p", s)
	ok := p.SVG != ""
	if !ok || !strings.Contains(p.SVG, "random-walk period noise") || !strings.Contains(p.Prose, "10 ppm at 10 ms") {
		t.Fatal(p.Prose)
	}
	wellFormed(t, p)
	x, y := numbers(t, p.SVG, "found", "cx"), numbers(t, p.SVG, "found", "cy")
	d := regexp.MustCompile(`class="c1" d="M([\d.]+) ([\d.]+).*L([\d.]+) ([\d.]+)"`).FindStringSubmatch(p.SVG)
	var q [4]float64
	for i := range q {
		q[i], _ = strconv.ParseFloat(d[i+1], 64)
	}
	for i := range x {
		if on := q[1] + (x[i]-q[0])/(q[2]-q[0])*(q[3]-q[1]); !(math.Abs(on-y[i]) <= 0.1) {
			t.Errorf("point %d lies at %g, its law at %g", i, y[i], on)
		}
	}
	s.Allan = s.Allan[:1]
	if Allan("p", s).SVG != "" {
		t.Error("one point was given a shape")
	}
}
