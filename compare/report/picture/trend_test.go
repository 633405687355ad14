package picture

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"testing"

	"offbeat/acquire/quantity"
)

// run makes n points a second apart that fall from 4 ms by 1 us a point.
func run(n int) TrendRun {
	r := TrendRun{Name: "High time", Now: "3.9 ms", Unit: quantity.Second, Marks: []TrendMark{{1, 10}, {2, 10.5}, {3, -5}}}
	for i := range n {
		v := 4e-3 - 1e-6*float64(i)
		r.Points = append(r.Points, TrendPoint{float64(i), v, v - 2e-6, v + 2e-6})
	}
	return r
}

func TestTrend(t *testing.T) {
	for _, n := range []int{2, 50, 1000, 5000} {
		p := Trend("t1", run(n))
		ok := p.SVG != ""
		if !ok {
			t.Fatalf("%d points: no picture", n)
		}
		d := xml.NewDecoder(strings.NewReader(p.SVG))
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%d points: %v", n, err)
			}
		}
		if strings.Contains(p.SVG, "NaN") || strings.Contains(p.SVG, "Inf") {
			t.Errorf("%d points: a coordinate is no number", n)
		}
		if strings.Contains(p.SVG, "style=") {
			t.Errorf("%d points: a style of its own; the live page allows none", n)
		}
		// One path of the line: at most one point a unit of width.
		if c := strings.Count(p.SVG, "L"); c > 4*trendPoints {
			t.Errorf("%d points: %d drawn", n, c)
		}
	}
	if Trend("t1", run(1)).SVG != "" {
		t.Error("a picture of one point")
	}
}

// Mark 1 is labelled, mark 2 lies too near for a label, mark 3 outside.
func TestTrendMarks(t *testing.T) {
	p := Trend("t1", run(50))
	if n := strings.Count(p.SVG, `class="reference"`); n != 2 {
		t.Errorf("%d marks drawn, want 2", n)
	}
	if n := strings.Count(p.SVG, "accent strong"); n != 1 {
		t.Errorf("%d numbers drawn, want 1", n)
	}
}

// A band far wider than the run must not flatten it: the run takes a third of the height.
func TestTrendRange(t *testing.T) {
	points := []TrendPoint{{0, 10, -20, 40}, {1, 11, -19, 41}}
	lo, hi := trendRange(points)
	if got := fmt.Sprintf("%.2f %.2f", lo, hi); got != "8.90 12.10" {
		t.Errorf("range %s, want the run and 1.1 times its height on either side", got)
	}
	// Level within its band: the band is what there is to see.
	flat := []TrendPoint{{0, 10, 9, 11}, {1, 10, 9, 11}}
	if lo, hi := trendRange(flat); lo != 8.9 || hi != 11.1 {
		t.Errorf("range %g to %g of a level run with a band of 1", lo, hi)
	}
	exact := []TrendPoint{{0, 10, 10, 10}, {1, 10, 10, 10}}
	if lo, hi := trendRange(exact); !(lo < 10 && hi > 10) {
		t.Errorf("range %g to %g of a level run without a band", lo, hi)
	}
}

func TestTrendTimeAxis(t *testing.T) {
	for span, want := range map[float64]string{60: "time, s", 600: "time, min", 40_000: "time, h"} {
		r := run(2)
		r.Points[1].Time = span
		if p := Trend("t1", r); !strings.Contains(p.SVG, want) {
			t.Errorf("%g s: no %q", span, want)
		}
	}
}
