package train

import (
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/fit/transition"
)

// paced are the edges of cycles whose high and low times are so many times the first ones, with jitter as a share of them.
func paced(rnd *rand.Rand, cycles int, jitter, cell float64, factor func(i int) (high, low float64)) (e []transition.Edge, starts []float64) {
	high, low, x := 40+60*rnd.Float64(), 40+60*rnd.Float64(), 50.0
	for i := range cycles {
		h, l := factor(i)
		starts = append(starts, x)
		for k, length := range [2]float64{high * h, low * l} {
			place := x + jitter*min(high*h, low*l)*rnd.NormFloat64()
			e = append(e, transition.Edge{X: place, Cell: cell, Slope: 1, Rise: k == 0})
			x += length
		}
	}
	return e, starts
}

func collect(e []transition.Edge, hold bool, portion int) *Train {
	t := New(hold, false)
	for len(e) > 0 {
		n := min(portion, len(e))
		t.Add(e[:n])
		e = e[n:]
	}
	t.End()
	return t
}

// TestPaces: a train that goes over to times a tenth to ten times as long, of one state or both, after a tenth to nine tenths of
// its cycles, and back, has those paces from there on and no faults, whatever portions its edges come in.
func TestPaces(t *testing.T) {
	for seed := range uint64(400) {
		rnd := rand.New(rand.NewPCG(seed, 1))
		n := 100 + rnd.IntN(300)
		at, back := n/10+rnd.IntN(8*n/10), n
		if seed%3 == 0 {
			back = at + max(10, (n-at)/2)
			n += 20
		}
		factor := math.Pow(10, rnd.Float64())
		if factor = max(factor, 1.5); seed%2 == 0 {
			factor = 1 / factor
		}
		one := seed%5 == 4 && seed%3 > 0 // of the high time alone, and not back: that may be pulses that are missing, too
		if one && factor > 1 {
			factor = 1.5
		}
		e, starts := paced(rnd, n, 0.03*rnd.Float64(), 1, func(i int) (float64, float64) {
			switch {
			case i < at || i >= back:
				return 1, 1
			case one:
				return factor, 1
			}
			return factor, factor
		})
		tr := collect(e, seed%4 < 2, 1+rnd.IntN(300))
		want := []float64{starts[at]}
		if back < n {
			want = append(want, starts[back])
		}
		got := tr.Paces()
		if len(got) != len(want)+1 {
			t.Errorf("seed %d, %d cycles, %.2f times as long from %d to %d: %d paces, faults %+v, odd %d", seed, n, factor, at, back, len(got), tr.Faults, tr.OddGaps)
			continue
		}
		for i, x := range want {
			if place := (got[i].To + got[i+1].From) / 2; !(math.Abs(place-x) <= 150*max(factor, 1)) {
				t.Errorf("seed %d: a pace ends at %.0f, expected at %.0f", seed, place, x)
			}
		}
		if tr.OddGaps > 0 || tr.Faults.Glitches > 0 || tr.Faults.Dropped > 0 || tr.Edges() < len(e)-4 {
			t.Errorf("seed %d: faults %+v, %d odd gaps, %d of %d edges", seed, tr.Faults, tr.OddGaps, tr.Edges(), len(e))
		}
	}
}

// TestOnePace: jitter, drift, warming up, a swing to and fro, pulses that are missing or too many, and a few odd cycles leave a train
// at one pace.
func TestOnePace(t *testing.T) {
	for name, alter := range map[string]func(rnd *rand.Rand, i int) (float64, float64){
		"jitter": func(rnd *rand.Rand, _ int) (float64, float64) {
			return 1 + 0.1*rnd.NormFloat64(), 1 + 0.1*rnd.NormFloat64()
		},
		"drift":      func(_ *rand.Rand, i int) (float64, float64) { f := 1 + float64(i)/150; return f, f },
		"warming up": func(_ *rand.Rand, i int) (float64, float64) { f := 1 + math.Exp(-float64(i)/40); return f, f },
		"swing":      func(_ *rand.Rand, i int) (float64, float64) { f := 1 + 0.4*math.Sin(float64(i)/15); return f, f },
		"a few": func(_ *rand.Rand, i int) (float64, float64) {
			if i >= 150 && i < 156 {
				return 3, 3
			}
			return 1, 1
		},
		"every second missing": func(_ *rand.Rand, i int) (float64, float64) {
			if i >= 150 && i < 200 {
				return 1, -1
			}
			return 1, 1
		},
		"alternating": func(_ *rand.Rand, i int) (float64, float64) { f := 1 + 0.6*float64(i/4%2); return f, f },
	} {
		for seed := range uint64(20) {
			rnd := rand.New(rand.NewPCG(seed, 2))
			draw := rand.New(rand.NewPCG(seed, 3))
			var e []transition.Edge
			x := 50.0
			for i := range 300 {
				h, l := alter(draw, i)
				if l < 0 {
					l = 1 + 100.0/55
				}
				e = append(e, transition.Edge{X: x + rnd.NormFloat64(), Cell: 1, Slope: 1, Rise: true}, transition.Edge{X: x + 45*h + rnd.NormFloat64(), Cell: 1, Slope: 1})
				x += 45*h + 55*l
			}
			if tr := collect(e, seed%2 == 0, 1+rnd.IntN(300)); len(tr.Paces()) > 1 {
				t.Errorf("%s, seed %d: %d paces", name, seed, len(tr.Paces()))
			} else if name == "every second missing" && (!tr.Misses || tr.Faults.Dropped < 40) {
				t.Errorf("%s, seed %d: misses %v, faults %+v", name, seed, tr.Misses, tr.Faults)
			}
		}
	}
}

// Another pace by hand: sixteen alike intervals in a row, those of a state within three tenths and a row, of which one state's at least
// are off the usual and off the last few; pulses of a few rows tell none.
func TestTurnsByHand(t *testing.T) {
	usual := [2]float64{50, 30}
	for name, c := range map[string]struct {
		recent [2]float64
		low    float64 // and high time of what follows
		high   float64
		last   float64 // added to its last interval
		cell   float64
		rows   bool
		turns  bool
	}{
		"as ever":                           {usual, 50, 30, 0, 1, false, false},
		"both longer":                       {usual, 80, 50, 0, 1, false, true},
		"both shorter":                      {usual, 30, 20, 0, 1, false, true},
		"a little longer":                   {usual, 66, 40, 0, 1, false, false},
		"the low time alone":                {usual, 80, 30, 0, 1, false, true},
		"the high time alone":               {usual, 50, 45, 0, 1, false, true},
		"nothing known of the last few":     {[2]float64{}, 80, 50, 0, 1, false, true},
		"as the last few, that went slowly": {[2]float64{78, 48}, 80, 50, 0, 1, false, false},
		"not alike":                         {usual, 80, 50, 27, 1, false, false},
		"alike to a row":                    {usual, 80, 50, 27, 4, false, true},
		"a few rows":                        {usual, 12, 12, 0, 4, true, false},
		"a few rows, by states":             {usual, 12, 12, 0, 4, false, true},
		"more rows":                         {usual, 12, 12, 0, 2, true, true},
	} {
		x := 7.0
		var e []transition.Edge
		for i := range window + 1 {
			e = append(e, transition.Edge{X: x, Cell: c.cell, Rise: i%2 == 0})
			if x += [2]float64{c.high, c.low}[i%2]; i == window-1 {
				x += c.last
			}
		}
		p := paces{usual: usual, recent: c.recent}
		got, turns, wait := p.turns(e, 0, c.rows, true)
		if turns != c.turns || wait {
			t.Errorf("%s: another pace %v, waits %v", name, turns, wait)
		} else if turns && (!(math.Abs(got[0]-c.low-c.last/8) <= 1e-9) || !(math.Abs(got[1]-c.high) <= 1e-9)) {
			t.Errorf("%s: %v", name, got)
		}
		if _, turns, wait = p.turns(e[:window], 0, c.rows, false); turns || c.last == 0 && wait != c.turns {
			t.Errorf("%s, an edge short: another pace %v, waits %v", name, turns, wait)
		}
	}
}

// A record has six paces at most, what changes oftener is modulated; one of fewer than six edges is none.
func TestHowManyPaces(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 4))
	for _, changes := range []int{4, 5, 6, 9} {
		e, _ := paced(rnd, 40*(changes+1), 0.01, 1, func(i int) (float64, float64) {
			f := float64(1 + 2*(i/40%2))
			return f, f
		})
		if got := len(collect(e, true, 100).Paces()); got != min(changes+1, 6) {
			t.Errorf("%d changes: %d paces", changes, got)
		}
	}
	var p paces
	for n, length := range []float64{50, 90, 90, 90} { // of the last few a quarter each, the rest of those before
		p.blend(length, 1)
		if want := 90 - 40*math.Pow(0.75, float64(n)); p.recent[0] != 0 || !(math.Abs(p.recent[1]-want) <= 1e-12) {
			t.Errorf("after %d intervals: %v, want %v", n+1, p.recent, want)
		}
	}
	for _, edges := range []int{5, 6} {
		p := paces{now: Pace{edges: edges}}
		if few := p.turn([2]float64{1, 1}); (few == 0) != (edges == 6) || len(p.past) != edges-5 {
			t.Errorf("%d edges: %d without a pace of their own, %d paces", edges, few, len(p.past))
		}
	}
}
