package measure

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/level"
	"offbeat/fit/train"
	"offbeat/fit/transition"
)

// From where on a record is a curve, a ramp, or one edge: 24 parts of 20 samples, each the mean of its samples, in noise of ± s from
// sample to sample, so that neighbours differ by 2 s; upside down all is the same.
func TestCurveFromWhereOn(t *testing.T) {
	line := func(k int) float64 { return float64(k) / 23 }
	bent := func(by float64) func(k int) float64 {
		return func(k int) float64 {
			return line(k) + map[bool]float64{true: by}[k == 11]
		}
	}
	steps := func(between int) func(k int) float64 { // parts half way between two levels
		return func(k int) float64 {
			return map[bool]float64{true: 0.5}[k >= 8] + map[bool]float64{true: 0.5}[k >= 8+between]
		}
	}
	for _, c := range []struct {
		name               string
		of                 func(k int) float64
		swing, s           float64
		curve, ramp, edged bool
	}{
		{"a ramp", line, 3, 0, true, true, false},
		{"a ramp of twelve deviations", line, 12.5 * 1.05 * 2 * 0.01, 0.01, true, true, false},
		{"of less", line, 11.5 * 1.05 * 2 * 0.01, 0.01, false, false, false},
		{"off a line by little", bent(0.008), 3, 0, true, true, false},
		{"off it by more", bent(0.012), 3, 0, true, false, false},
		{"by as much as the noise may be", bent(0.026), 1, 0.01, true, true, false},
		{"and by more", bent(0.031), 1, 0.01, true, false, false},
		{"back by little", bent(-1./23 - 0.008), 3, 0, true, false, false},
		{"back by more", bent(-1./23 - 0.012), 3, 0, false, false, false},
		{"back by as much as the noise may be", bent(-1./23 - 0.026), 1, 0.01, true, false, false},
		{"and back by more", bent(-1./23 - 0.031), 1, 0.01, false, false, false},
		{"an edge", steps(2), 3, 0, true, false, true},
		{"a slow one", steps(3), 3, 0, true, false, false},
	} {
		for _, sign := range []float64{1, -1} {
			r := &run{c: &acquire.Capture{Source: "lamp", Kind: acquire.Samples, Start: 7, Step: 1e-3}, train: train.New(false, false), uniform: true}
			for i := range 24*20 + 11 { // the last are no whole part
				r.course.t = append(r.course.t, float64(2*i))
				r.course.v = append(r.course.v, 5+sign*(c.swing*c.of(min(i/20, 23))+c.s*float64(1-2*(i%2))))
			}
			err := r.curve(r.fault("flat", "pulses", ErrFlat))
			var curve *Curve
			if errors.As(err, &curve) != c.curve || c.curve && (curve.Ramp != c.ramp || curve.abrupt != c.edged) {
				t.Errorf("%s, %+g: %v, %+v", c.name, sign, err, curve)
			} else if c.curve && !(math.Abs(curve.Time[470]-7.94) <= 1e-9) {
				t.Errorf("%s: sample 940 lies at %v s", c.name, curve.Time[470])
			}
		}
	}
	for name, do := range map[string]func(r *run){
		"three edges":      func(r *run) { r.train = trainOf(10, 20) },
		"two samples less": func(r *run) { r.course.v = r.course.v[:2*curveParts-1] },
		"a list":           func(r *run) { r.c.Kind = acquire.Transitions },
	} {
		r := &run{c: &acquire.Capture{Kind: acquire.Samples, Step: 1}, train: trainOf(10)}
		for i := range 2 * curveParts {
			r.course.t, r.course.v = append(r.course.t, float64(i)), append(r.course.v, float64(i))
		}
		plain := errors.Join(ErrFew)
		var curve *Curve
		if !errors.As(r.curve(plain), &curve) || curve.Time[40] != 40 {
			t.Errorf("two edges: %+v", curve)
		}
		if do(r); r.curve(plain) != plain {
			t.Errorf("%s: %v", name, r.curve(plain))
		}
	}
}

// shaped is a train of 40 edges that rise a share of the amplitude from one sample to the next, the mean of the two so much above 2 V.
func shaped(rise, fall, above, below float64) *train.Train {
	tr := train.New(false, false)
	var edges []transition.Edge
	for i := range 40 {
		up := i%2 == 0
		e := transition.Edge{X: 100 + 50.3*float64(i), Rise: up, Slope: fall, Mid: below}
		if up {
			e.Slope, e.Mid = rise, above
		}
		edges = append(edges, e)
	}
	tr.Add(edges)
	tr.End()
	return tr
}

// What curved edges move the high time by is a rise's lateness less a fall's, each of edges placed by crossings; rows are sums of the squares.
// In samples that are rounded so coarsely that only the codes next to the reference count, the border between these stands for it; otherwise
// a rounding of a step over √12 adds to the levels' own uncertainty, each half of which moves the reference.
func TestCurvedEdgesTogether(t *testing.T) {
	tr := shaped(0.6, 0.8, 0.04, 0.03)
	levels := level.Estimate{Uncertainty: [2]float64{0.006, 0.008}}
	levels.Low, levels.High, levels.Reference = 1, 5, 3
	jitter := [2]float64{1e-3, 4e-3}
	for _, c := range []struct {
		quantum, above, below float64
		u, border             float64
	}{
		{0, 3.1, 2.9, 0.00125, 0},                                  // (0.006² + 0.008²)^½ / 2 / 4
		{0.4, 3.6, 2.9, math.Hypot(0.00125, 0.1/math.Sqrt(12)), 0}, // codes further apart than one and a half
		{0.4, 3.4, 2.9, 0.00125, 0.0375},                           // (3.15 - 3) / 4
		{0.4, 3.02, 2.62, 0.00125, -0.045},
	} {
		for _, ok := range [][2]bool{{}, {true, false}, {false, true}, {true, true}} {
			r := &run{train: tr, levels: levels}
			r.levels.Quantum, r.find.Above, r.find.Below = c.quantum, c.above, c.below
			up, down := tr.Shape(true), tr.Shape(false)
			up.Mid, down.Mid = up.Mid-0.8*c.border, down.Mid+0.4*c.border // slopes of 1.6 and 0.8 intervals, of which two hold both samples
			rise, ur := late(up, jitter[1], c.u, 100.6, 2e-4)
			fall, uf := late(down, jitter[0], c.u, 100.6, 2e-4)
			if ok[0] {
				fall, uf = 0, 0
			}
			if ok[1] {
				rise, ur = 0, 0
			}
			got, row := r.curvature(0.7, 100.6, 2e-4, jitter, &fittedEdges{ok: ok})
			name := fmt.Sprintf("%+v %v", c, ok)
			close(t, name, got, 0.7*(rise-fall), 1e-12)
			close(t, name+": variance", row.High, 0.49*(ur*ur+uf*uf), 1e-12)
			close(t, name+": of both", row.Both, -row.High, 1e-15)
			if ok == [2]bool{} && (math.Abs(rise-fall) < 1e-4 || math.Abs(rise+fall) < 1e-4 || ur == 0) {
				t.Errorf("%s: nothing to be seen, %v and %v", name, rise, fall)
			}
		}
	}
}
