package train

import (
	"math"
	"testing"

	"offbeat/fit/steady"
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
	}{{false, 0, start, 2, 80}, {true, 0, start, 0, 84}, {false, -100, start, 0, 84}, {false, 0, start[:2], 1, 80}, {false, 0, nil, 0, 80}} {
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
	cut := New(true, true)
	cut.Add(append(e, edges(2e4, 2e4+1.4, 2e4+1.6, 2e4+3)...)) // one is cut in two for 0.07 of a pulse
	if cut.End(); cut.Faults.Glitches != 1 || cut.Record().Highs != 31 {
		t.Errorf("a pulse cut in two for a moment: %+v, %d high", cut.Faults, cut.Record().Highs)
	}
	tr.Forget()
	if tr.Edges() != 0 || tr.Shortest() != 0 || len(tr.Record().Cycles) != 0 {
		t.Errorf("something is left: %+v", tr.Record())
	}
}

// bursts is a list of twenty bursts of pulses 3 high and 5 low, with so much more idle time between them.
func bursts(pulses int, idle float64) *Train {
	var e []transition.Edge
	x := 8.0
	for range 20 {
		for range pulses {
			e = append(e, edges(x, x+3)...)
			x += 8
		}
		x += idle
	}
	return collect(e, true, len(e))
}

// Bursts of six pulses: the first and the last of each are left out where the idle times between are long, and none where
// each burst has two.
func TestBurstsAreTrimmed(t *testing.T) {
	of := bursts
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

// What the samples about the crossings show, as means by hand, whatever the rows are apart: of the slope, of the middle of those that
// crossed once, and of where the crossings lie between two samples; edges without a sample on their slope tell no place.
func TestShape(t *testing.T) {
	near := func(what string, got, want float64) {
		if !(math.Abs(got-want) <= 1e-9) {
			t.Errorf("%s %g, by hand %g", what, got, want)
		}
	}
	for _, cell := range []float64{1, 0.25} {
		var e []transition.Edge
		for i := range 48 {
			x := cell * (8*float64(i+2) + 0.25)
			rise := transition.Edge{X: x, Cell: cell, Slope: 0.5, Mid: 0.1, Rise: true}
			fall := transition.Edge{X: x + cell*(3+float64(i%4)/4), Cell: cell, Slope: 0.9, Mid: math.NaN()}
			if i >= 40 {
				rise.Slope, fall.Slope, rise.Mid = 1, 1, math.NaN()
			} else if i%2 == 1 {
				rise.Slope, rise.Mid = 0.7, 0.3
			}
			e = append(e, rise, fall)
		}
		tr := collect(e, false, len(e))
		fall, rise := tr.Sharpness()
		near("sharpness of rises", rise, (40*0.6+8)/48)
		near("sharpness of falls", fall, (40*0.9+8)/48)
		up, down := tr.Shape(true), tr.Shape(false)
		near("middle of rises", up.Mid, 0.2)
		near("sharpness of rises", up.Sharpness, rise)
		near("middle of falls, none of which crossed once", down.Mid, 0)
		if up.Edges != 40 || down.Edges != 0 {
			t.Errorf("%d rises and %d falls crossed once", up.Edges, down.Edges)
		}
		for m := range 3 {
			near("crowding of rises at one place", up.Crowding[m], 1)
			near("crowding of falls at four places", down.Crowding[m], 0)
		}
	}
	none := New(false, false)
	if f, r := none.Sharpness(); f != 1 || r != 1 || none.Shape(true).Sharpness != 1 {
		t.Error("no edge is no slope")
	}
}

// The quick way through a list takes the pulses while times are near the usual ones, which follow by a 64th of each difference, and
// leaves the last four edges.
func TestTheQuickWay(t *testing.T) {
	near := func(*transition.Edge) {}
	for name, c := range map[string]struct {
		low, high float64 // of cycle 20
		edge      func(e *transition.Edge)
		taken     int
	}{
		"all alike":           {1, 1, near, 76},
		"a low longer":        {1.4, 1, near, 40},
		"a little longer":     {1.3, 1, near, 76},
		"a low shorter":       {0.7, 1, near, 38}, // may be the next glitch's
		"a little shorter":    {0.78, 1, near, 76},
		"a high longer":       {1, 1.4, near, 40},
		"a high shorter":      {1, 0.7, near, 40},
		"a high just so":      {1, 1.3, near, 76},
		"a high just so much": {1, 0.78, near, 76},
		"a break":             {1, 1, func(e *transition.Edge) { e.Break = true }, 38},
		"two falls in a row":  {1, 1, func(e *transition.Edge) { e.Rise = false }, 40},
	} {
		tr := New(true, false)
		tr.usual = [2]float64{50, 30}
		tr.accept(transition.Edge{X: 100, Cell: 1, Slope: 1})
		var e []transition.Edge
		x, low, high := 100.0, 50., 30.
		for i := range 40 {
			l, h := 52., 31.
			if i == 20 {
				l, h = c.low*50, c.high*30
			}
			e = append(e, transition.Edge{X: x + l, Cell: 1, Slope: 1, Rise: true}, transition.Edge{X: x + l + h, Cell: 1, Slope: 1})
			if x += l + h; 2*i < c.taken {
				low, high = low+(l-low)/64, high+(h-high)/64
			}
		}
		c.edge(&e[40])
		i := tr.steady(e, 0)
		if i != c.taken || tr.Edges() != 1+i || tr.last != e[i-1] || tr.slopes[0].n != 1+i/2 || tr.slopes[1].hard != i/2 {
			t.Errorf("%s: %d edges taken, want %d; %d stored, %+v", name, i, c.taken, tr.Edges(), tr.slopes)
		}
		if math.Abs(tr.usual[0]-low)+math.Abs(tr.usual[1]-high) > 1e-9 || tr.now.edges != 1+i ||
			math.Abs(tr.recent[0]-52)+math.Abs(tr.recent[1]-31) > 1e-9 {
			t.Errorf("%s: usual %v, want %g and %g; of late %v; %d edges", name, tr.usual, low, high, tr.recent, tr.now.edges)
		}
		if tr.last.Rise = true; tr.steady(e, i) != i {
			t.Errorf("%s: goes on from a rise", name)
		}
	}
}

// What is too long for a glitch: a tenth of the usual and eight rows, in a row of twelve a hundredth and four; rows are none in a list.
func TestWhatIsAPulse(t *testing.T) {
	for _, c := range []struct {
		length, cell float64
		high, list   bool
		inARow       int
		want         bool
	}{
		{4.1, 0.5, true, false, 3, true}, {3.9, 0.5, true, false, 3, false}, {3.1, 0.1, true, false, 3, true}, {2.9, 0.1, true, false, 3, false},
		{5.1, 0.1, false, false, 3, true}, {4.9, 0.1, false, false, 3, false}, {0.45, 0.1, true, false, 12, true}, {0.35, 0.1, true, false, 12, false},
		{0.45, 0.1, true, false, 11, false}, {0.35, 0.01, true, false, 12, true}, {0.25, 0.01, true, false, 12, false}, {3.1, 5, true, true, 3, true}, {2.9, 5, true, true, 3, false},
	} {
		tr := New(c.list, false)
		tr.usual = [2]float64{50, 30}
		if got := tr.pulse([]transition.Edge{{X: 7, Cell: c.cell, Rise: c.high}, {X: 7 + c.length}}, c.inARow); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
	// Three pulses too many in a low, of 6, 8 and 6 where 3 is high and 5 low tenfold: each stands beside another pulse; of three that are sharp none.
	for length, want := range map[float64]int{6: 3, 0.2: 0} {
		e := list(40, only(20, func(x float64) []float64 {
			return []float64{x, x + 3, x + 5, x + 5 + length/10, x + 5.8 + length/10, x + 5.8 + 2*length/10, x + 8, x + 11}
		}))
		if tr := collect(e, true, len(e)); tr.Short != want {
			t.Errorf("glitches of %g: %d are pulses, want %d", length, tr.Short, want)
		}
	}
}

// How long it is silent at the end: from the last edge on, unless what follows it is not known; bursts end anyhow.
func TestSilent(t *testing.T) {
	e := list(40, only(-1, nil)) // the last falls at 8 + 8 · 39 + 3
	if got := collect(e, true, 9).Silent(400); got != 77 {
		t.Errorf("silent for %g, want 77", got)
	}
	if got := collect(append(e, transition.Edge{X: 330, Break: true}), true, 9).Silent(400); got != 0 {
		t.Errorf("silent for %g after what is not known", got)
	}
	last := 8 + 20*(6*8+100.) - 100 - 5
	if got := bursts(6, 100).Silent(last + 500); got != 0 {
		t.Errorf("bursts are silent for %g", got)
	}
	if tr := bursts(6, 96); tr.OddGaps > 0 || tr.Silent(last-76+500) != 500 {
		t.Errorf("pulses of which some are missing are silent for %g, %d odd gaps", tr.Silent(last-76+500), tr.OddGaps)
	}
}

// Of several stretches the first that is not steady counts, else the longest.
func TestJudgeOfStretches(t *testing.T) {
	steadily := func(cycles int) *Train { return collect(list(cycles, only(-1, nil)), true, 99) }
	in, short, long := bursts(6, 100), steadily(100), steadily(1000)
	torn := collect(list(300, func(i int, x float64) []transition.Edge {
		return edges(x, x+3+0.6*math.Sin(float64(i*i)))
	}), true, 99)
	one := func(tr *Train, later float64) Pace {
		p := tr.Paces()[0]
		p.From, p.To = p.From+later, p.To+later
		return p
	}
	for name, c := range map[string]struct {
		of     []Pace
		bursts int
		kind   steady.Kind
	}{
		"bursts, and a short train later": {[]Pace{one(in, 0), one(short, 5000)}, 20, steady.Bursts},
		"a short train, and bursts":       {[]Pace{one(short, 0), one(in, 5000)}, 20, steady.Bursts},
		"bursts later, and a long train":  {[]Pace{one(in, 9000), one(long, 0)}, 0, steady.Steady},
		"a long train, and bursts later":  {[]Pace{one(long, 0), one(in, 9000)}, 0, steady.Steady},
		"a long train, and an unsteady":   {[]Pace{one(long, 0), one(torn, 9000)}, 0, steady.Modulated},
	} {
		if got := in.Judge(steady.Context{}, c.of); got.Kind != c.kind || got.Bursts != c.bursts {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// What is usual: the pulses that most of the time is spent in, however many glitches there are; idle times that are few are not. The
// shorter of the two states is the shortest.
func TestUsualByHand(t *testing.T) {
	many := func(n int, x float64, more ...float64) []float64 {
		for range n {
			more = append(more, x)
		}
		return more
	}
	for name, c := range map[string]struct {
		of   []float64
		want float64
	}{"alike": {many(9, 5), 5}, "glitches": {many(30, 0.1, many(10, 5)...), 5}, "one idle time": {many(10, 1, 100), 1}, "more of them": {many(10, 1, many(3, 100)...), 100}, "none": {nil, 0}} {
		if got := typical(c.of); got != c.want {
			t.Errorf("%s: %g, want %g", name, got, c.want)
		}
	}
	var at []float64
	for x := 8.0; x < 400; x += 8 {
		at = append(at, x, x+5)
	}
	if got := collect(edges(at...), true, 99).Shortest(); got != 3 {
		t.Errorf("of 5 high and 3 low the shortest is %g", got)
	}
}

// Alike is what lies within a fifth of the median.
func TestAlike(t *testing.T) {
	d := []float64{5, 7, 8.1, 9, 10, 10, 10, 11, 11.9, 13}
	if !alike(d, 0.7) || alike(d, 0.71) {
		t.Error("seven of ten are alike")
	}
}
