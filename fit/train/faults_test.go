package train

import (
	"math"
	"testing"

	"offbeat/fit/transition"
)

// list is the edges of a train of cycles, 3 high and 5 low, from 8 on; alter may put in, leave out or move what it likes of
// cycle i, which begins at x.
func list(cycles int, alter func(i int, x float64) []transition.Edge) (e []transition.Edge) {
	x := 8.0
	for i := range cycles {
		if own := alter(i, x); own != nil {
			e = append(e, own...)
			x = own[len(own)-1].X + 5
			continue
		}
		e = append(e, edges(x, x+3)...)
		x += 8
	}
	return e
}

// edges rise and fall in turn at these places.
func edges(at ...float64) (e []transition.Edge) {
	for i, x := range at {
		e = append(e, transition.Edge{X: x, Cell: 1, Slope: 1, Rise: i%2 == 0})
	}
	return e
}

// only alters the cycle of that number.
func only(n int, places func(x float64) []float64) func(int, float64) []transition.Edge {
	return func(i int, x float64) []transition.Edge {
		if i != n {
			return nil
		}
		return edges(places(x)...)
	}
}

// What does not belong to a train, worked out by hand: pulses are 3 and 5 long, so that less than 0.9 high or 1.5 low is a
// glitch and more than 4.8 or 8 is a gap; a gap beyond 2.5 times the usual parts bursts, whose first and last edges are left
// out. In another unit, at another place and in portions it is the same.
func TestFaultsByHand(t *testing.T) {
	for _, c := range []struct {
		name                            string
		alter                           func(int, float64) []transition.Edge
		glitches, dropped, odd, chatter int
		highs, lows                     int // whole ones, of forty cycles
	}{
		{"nothing", only(-1, nil), 0, 0, 0, 0, 40, 39},
		{"a short high glitch in a low", only(20, func(x float64) []float64 { return []float64{x, x + 3, x + 5, x + 5.8, x + 8, x + 11} }), 1, 0, 0, 0, 41, 40},
		{"a short low glitch in a high", only(20, func(x float64) []float64 { return []float64{x, x + 0.95, x + 2, x + 3} }), 1, 0, 0, 0, 40, 39},
		{"a high as short as a pulse may be", only(20, func(x float64) []float64 { return []float64{x, x + 0.95} }), 0, 0, 0, 0, 40, 39},
		{"a pulse left out", only(20, func(x float64) []float64 { return []float64{x + 8, x + 11} }), 0, 1, 0, 0, 36, 38},
		{"three pulses left out", only(20, func(x float64) []float64 { return []float64{x + 24, x + 27} }), 0, 3, 0, 0, 36, 38},
		{"a gap of half a cycle more", only(20, func(x float64) []float64 { return []float64{x + 4, x + 7} }), 0, 0, 1, 0, 40, 38},
		{"a gap of a quarter more than a cycle", only(20, func(x float64) []float64 { return []float64{x + 10.2, x + 13.2} }), 0, 0, 1, 0, 36, 38},
		{"a gap of a fifth more than a cycle", only(20, func(x float64) []float64 { return []float64{x + 9.6, x + 12.6} }), 0, 1, 0, 0, 36, 38},
		{"a low as long as one may be", only(20, func(x float64) []float64 { return []float64{x + 2.9, x + 5.9} }), 0, 0, 0, 0, 40, 39},
		{"a high too long, with a cycle in it", only(20, func(x float64) []float64 { return []float64{x, x + 11} }), 0, 1, 0, 0, 37, 37},
		{"a rise of three edges", only(20, func(x float64) []float64 { return []float64{x, x + 0.1, x + 0.3, x + 3} }), 1, 0, 0, 1, 39, 38},
		{"a rise of five edges", only(20, func(x float64) []float64 { return []float64{x, x + 0.1, x + 0.3, x + 0.4, x + 0.6, x + 3} }), 2, 0, 0, 1, 39, 38},
	} {
		all := list(40, c.alter)
		for _, form := range []struct {
			scale, shift float64
			portion      int
			hold         bool
		}{{1, 0, len(all), true}, {1e-6, 0, len(all), true}, {1, 1e5, len(all), true}, {1, 0, 7, true}, {1, 1000, 3, false}} {
			tr := New(form.hold, false)
			tr.Begin(form.shift)
			e := make([]transition.Edge, len(all))
			for i := range all {
				e[i] = all[i]
				e[i].X, e[i].Cell = form.scale*e[i].X+form.shift, form.scale*0.1
			}
			for i := 0; i < len(e); i += form.portion {
				tr.Add(e[i:min(i+form.portion, len(e))])
			}
			tr.End()
			r := tr.Record()
			if tr.Faults.Glitches != c.glitches || tr.Faults.Dropped != c.dropped || tr.OddGaps != c.odd || tr.Chatter != c.chatter || r.Highs != c.highs || r.Lows != c.lows {
				t.Errorf("%s %+v: %d glitches, %d dropped, %d odd gaps, %d chattering, %d high, %d low; by hand %d %d %d %d, %d %d", c.name, form,
					tr.Faults.Glitches, tr.Faults.Dropped, tr.OddGaps, tr.Chatter, r.Highs, r.Lows, c.glitches, c.dropped, c.odd, c.chatter, c.highs, c.lows)
			}
			if s := tr.Shortest() / form.scale; !(math.Abs(s-3) <= 0.2) {
				t.Errorf("%s %+v: the shortest is %g", c.name, form, s)
			}
		}
	}
}

// Where every rise chatters the middle of its edges counts, as e1 - e2 + e3, and no run ends; where less than a fifth does,
// each ends one.
func TestChatterThatIsTheRule(t *testing.T) {
	every := func(n int) *Train {
		tr := New(true, false)
		tr.Add(list(60, func(i int, x float64) []transition.Edge {
			if i%n > 0 {
				return nil
			}
			a, b := 0.05*float64(i%4+1), 0.03*float64(i%3+1)
			return edges(x-a, x+b, x+a+b, x+3)
		}))
		tr.End()
		return tr
	}
	tr := every(1)
	r := tr.Record()
	if tr.Chatter != 60 || tr.Faults.Glitches != 60 || r.Highs != 60 || r.Lows != 59 {
		t.Errorf("%d chattering, %d glitches, %d high, %d low", tr.Chatter, tr.Faults.Glitches, r.Highs, r.Lows)
	}
	for i, c := range r.Cycles {
		if want := 8 * float64(i+1); !(math.Abs(c.Rise-want) <= 1e-9) || !(math.Abs(c.Fall-want-3) <= 1e-9) {
			t.Fatalf("cycle %d: %+v, want %g", i, c, want)
		}
	}
	if tr = every(6); tr.Chatter != 10 || tr.Record().Highs != 50 {
		t.Errorf("one in six: %d chattering, %d high", tr.Chatter, tr.Record().Highs)
	}
}

// Several edges in the first rows of sampled data are the instrument settling; one, or those of a list, are edges.
func TestSettling(t *testing.T) {
	start := edges(1, 3, 5, 7)
	for _, c := range []struct {
		hold     bool
		begin    float64
		own      []transition.Edge
		glitches int
		edges    int
	}{{false, 0, start, 2, 80}, {true, 0, start, 0, 84}, {false, -100, start, 0, 84}, {false, 0, nil, 0, 80}} {
		e := append([]transition.Edge{}, c.own...)
		for _, x := range list(40, func(int, float64) []transition.Edge { return nil }) {
			x.X += 4
			e = append(e, x)
		}
		tr := New(c.hold, false)
		tr.Begin(c.begin)
		tr.Add(e)
		tr.End()
		if tr.Faults.Glitches != c.glitches || tr.Edges() != c.edges {
			t.Errorf("%+v: %d glitches, %d edges", c, tr.Faults.Glitches, tr.Edges())
		}
	}
}

// Single pulses come whenever they are triggered: gaps of any length are sound, but for one below 0.09 of a pulse.
func TestSinglePulses(t *testing.T) {
	tr := New(true, true)
	x := 10.0
	var e []transition.Edge
	for i := range 30 {
		e = append(e, edges(x, x+3)...)
		x += 3 + 0.5*math.Pow(1.3, float64(i))
	}
	tr.Add(e)
	tr.End()
	if r := tr.Record(); r.Highs != 30 || tr.Faults.Dropped != 0 || tr.OddGaps != 0 || tr.Faults.Glitches != 0 || tr.Shortest() != 3 || tr.Trimmed() {
		t.Errorf("%d high, %+v, %d odd gaps, shortest %g", r.Highs, tr.Faults, tr.OddGaps, tr.Shortest())
	}
	tr.Forget()
	if tr.Edges() != 0 || tr.Shortest() != 0 || len(tr.Record().Cycles) != 0 {
		t.Errorf("something is left: %+v", tr.Record())
	}
}

// Bursts of six pulses: the first and the last of each are left out where the idle times between are long, and none where
// each burst has two.
func TestBurstsAreTrimmed(t *testing.T) {
	of := func(pulses int, idle float64) *Train {
		var e []transition.Edge
		x := 8.0
		for range 20 {
			for range pulses {
				e = append(e, edges(x, x+3)...)
				x += 8
			}
			x += idle
		}
		tr := New(true, false)
		tr.Add(e)
		tr.End()
		return tr
	}
	if tr := of(6, 100); !tr.Trimmed() || tr.Record().Highs != 20*4 || tr.Shortest() != 3 {
		t.Errorf("bursts of six: trimmed %v, %d high", tr.Trimmed(), tr.Record().Highs)
	}
	if tr := of(2, 100); tr.Trimmed() {
		t.Error("bursts of two: trimmed")
	}
	// Each rise chatters alike: there is one more short high than long ones.
	var at []float64
	for x := 8.0; x < 400; x += 8 {
		at = append(at, x, x+0.2, x+0.4, x+3)
	}
	tr := New(true, false)
	tr.Add(edges(append(at, 408, 408.2)...))
	tr.End()
	if math.Abs(tr.usual[0]-5)+math.Abs(tr.usual[1]-2.6) > 0.5 || tr.Trimmed() {
		t.Errorf("a chattering train: usual low and high time %v, trimmed %v", tr.usual, tr.Trimmed())
	}
	if tr := of(6, 4); tr.Trimmed() || tr.OddGaps != 19 {
		t.Errorf("a pause of half a cycle: trimmed %v, %d odd gaps", tr.Trimmed(), tr.OddGaps)
	}
}

// What the samples about the crossings show, as means by hand: of the slope, of the middle of those that crossed once, and
// of where the crossings lie between two samples.
func TestShape(t *testing.T) {
	tr := New(false, false)
	var e []transition.Edge
	for i := range 40 {
		x := 8*float64(i+2) + 0.25
		rise := transition.Edge{X: x, Cell: 1, Slope: 0.5, Mid: 0.1, Rise: true}
		if i%2 == 1 {
			rise.Slope, rise.Mid = 0.7, 0.3
		}
		fall := transition.Edge{X: x + 3 + float64(i%4)/4, Cell: 1, Slope: 0.9, Mid: math.NaN()}
		e = append(e, rise, fall)
	}
	tr.Add(e)
	tr.End()
	fall, rise := tr.Sharpness()
	near := func(what string, got, want float64) {
		if !(math.Abs(got-want) <= 1e-9) {
			t.Errorf("%s %g, by hand %g", what, got, want)
		}
	}
	near("sharpness of rises", rise, 0.6)
	near("sharpness of falls", fall, 0.9)
	up, down := tr.Shape(true), tr.Shape(false)
	near("middle of rises", up.Mid, 0.2)
	near("sharpness of rises", up.Sharpness, 0.6)
	near("middle of falls, none of which crossed once", down.Mid, 0)
	if up.Edges != 40 || down.Edges != 0 {
		t.Errorf("%d rises and %d falls crossed once", up.Edges, down.Edges)
	}
	for m := range 3 {
		near("crowding of rises at one place", up.Crowding[m], 1)
		near("crowding of falls at four places", down.Crowding[m], 0)
	}
	none := New(false, false)
	if f, r := none.Sharpness(); f != 1 || r != 1 || none.Shape(true).Sharpness != 1 {
		t.Error("no edge is no slope")
	}
}
