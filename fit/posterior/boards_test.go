package posterior

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"offbeat/fit/circuit"
)

// lotOf are the hypotheses of a board of a lot: as designed, each part far off, a leak, and one that nothing explains.
func lotOf(base *circuit.Values, tolerances ...float64) []Hypothesis {
	prior := func() (all []Density) {
		for i, tol := range tolerances {
			all = append(all, UniformValue(base[i]*(1-tol), base[i]*(1+tol)))
		}
		return all
	}
	hs := []Hypothesis{{Odds: 1, Prior: prior()}}
	for i, tol := range tolerances {
		h := Hypothesis{Odds: 0.05, Prior: prior()}
		h.Prior[i] = OutsideValue(base[i]*(1-tol), base[i]*(1+tol), 0.25, 0.5)
		hs = append(hs, h)
	}
	leak := Hypothesis{Odds: 0.02, Prior: prior(), Override: []Variable{{Slot: circuit.LeakRatio, Log: true, Density: Uniform(math.Log(3), math.Log(300))}}}
	return append(hs, leak, Hypothesis{Odds: 0.01, Prior: prior(), Unexplained: true, Misfit: []Misfit{{Share: 1, High: 0.5, Low: 0.5, Both: 0.5}}})
}

// boardOf is the datum of a board of those values.
func boardOf(t *testing.T, c *circuit.Circuit, v circuit.Values, relative float64) Datum {
	t.Helper()
	high, low, ok := c.Times(&v)
	if !ok {
		t.Fatal("does not run")
	}
	u := relative * relative
	return Datum{LnHigh: math.Log(high), LnLow: math.Log(low), High: u, Low: u, Covariance: -0.4 * u, OnePulse: c.OnePulse}
}

// A board of a lot gets the probabilities that it gets alone, wherever in its cell it lies and whatever the noise; its samples
// meet its times; and it gets them to the last bit whatever boards came before it.
func TestBoardsGetWhatTheyGetAlone(t *testing.T) {
	for _, k := range []struct {
		circuit    string
		tolerances []float64
	}{{"astable", []float64{0.01, 0.01, 0.1}}, {"monostable", []float64{0.02, 0.1}}} {
		c, err := circuit.Lookup(k.circuit)
		if err != nil {
			t.Fatal(err)
		}
		base := circuit.Ideal(5)
		for i, p := range c.Parts {
			if base[i] = []float64{10e3, 47e3}[i%2]; p.Kind == 1 {
				base[i] = 100e-9
			}
		}
		p := &Problem{Circuit: c, Base: base}
		rng := rand.New(rand.NewPCG(41, 5))
		var data []Datum
		for i := range 9 {
			v := base
			for j, tol := range k.tolerances {
				v[j] *= 1 + tol*(2*rng.Float64()-1)
			}
			switch i {
			case 1:
				v[len(k.tolerances)-1] *= 1.3
			case 3:
				v[0] *= 1.15
			case 5:
				v[circuit.LeakRatio] = 8
			case 7:
				v[len(k.tolerances)-1] *= 40 // beyond every cell
			}
			data = append(data, boardOf(t, c, v, []float64{1e-5, 1e-3}[i%2]))
		}
		p.Data = data[:1]
		hs := lotOf(&base, k.tolerances...)
		first, second := NewBoards(p, hs), NewBoards(p, hs)
		if first == nil {
			t.Fatal(k.circuit, "no boards")
		}
		got := make([]*Result, len(data))
		for i := range data {
			own := *p
			own.Data = data[i : i+1]
			if got[i], err = first.Run(&own); err != nil {
				t.Fatal(err)
			}
			want, err := Run(&own, hs)
			if err != nil {
				t.Fatal(err)
			}
			for h, o := range want.Outcomes {
				if d := math.Abs(got[i].Outcomes[h].Probability - o.Probability); d > 0.012+4*o.StandardError {
					t.Errorf("%s, board %d, hypothesis %d: %.4f among others, %.4f ± %.4f alone", k.circuit, i, h, got[i].Outcomes[h].Probability, o.Probability, o.StandardError)
				}
			}
			sum := 0.0
			for _, s := range got[i].Samples {
				sum += s.Weight
				if hs[s.Hypothesis].Unexplained || s.Weight < 1e-3 {
					continue
				}
				high, low, ok := c.Times(s.Values)
				u := math.Sqrt(data[i].High)
				if !ok || !(math.Abs(math.Log(high)-data[i].LnHigh) <= 7*u) || !c.OnePulse && !(math.Abs(math.Log(low)-data[i].LnLow) <= 7*u) {
					t.Fatalf("%s, board %d: a sample of hypothesis %d shows %v and %v s", k.circuit, i, s.Hypothesis, high, low)
				}
			}
			if !(math.Abs(sum-1) <= 1e-3) {
				t.Errorf("%s, board %d: the weights sum to %v", k.circuit, i, sum)
			}
		}
		for i := len(data) - 1; i >= 0; i-- {
			own := *p
			own.Data = data[i : i+1]
			again, err := second.Run(&own)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(again.Outcomes, got[i].Outcomes) {
				t.Errorf("%s, board %d: %+v, after others %+v", k.circuit, i, again.Outcomes, got[i].Outcomes)
			}
			second.Done(again)
		}
	}
}

// The middle of every cell lies in it, and so does what is less than half a cell away along each axis; what lies beyond the last
// cell shares none; no more cells than are remembered are kept, the last used among them.
func TestCellsOfBoards(t *testing.T) {
	p := bench(t, 10e3, 47e3, 100e-9, 1e-4)
	b := NewBoards(p, lotOf(&p.Base, 0.01, 0.01, 0.1))
	for high := -cellReach; high <= cellReach; high += 4 {
		for low := -cellReach; low <= cellReach; low += 4 {
			at := place{high: high, low: low, noiseHigh: b.quiet + 1, noiseLow: b.quiet + 2, correlation: -1}
			d := b.datum(at)
			if r := d.Covariance / math.Sqrt(d.High*d.Low); !(math.Abs(r+0.5) <= 1e-12) {
				t.Errorf("correlation %v", r)
			}
			for _, off := range [][2]float64{{0, 0}, {0.98, 0}, {-0.98, 0.98}, {0, -0.98}} {
				o := d
				o.LnHigh += off[0] * b.axes[0][0]
				o.LnLow += off[0]*b.axes[1][0] + off[1]*b.axes[1][1]
				if got, ok := b.place(&o); !ok || got != at {
					t.Errorf("%+v off by %v: %+v, %v", at, off, got, ok)
				}
			}
		}
	}
	far := b.datum(place{high: cellReach + 1, noiseHigh: b.quiet, noiseLow: b.quiet})
	if _, ok := b.place(&far); ok {
		t.Error("beyond the last cell is a cell")
	}
	quiet := b.datum(place{noiseHigh: b.quiet - 3, noiseLow: b.quiet - 3})
	if at, _ := b.place(&quiet); at.noiseHigh != b.quiet || at.noiseLow != b.quiet || at.correlation != 0 {
		t.Errorf("less noise than matters: %+v", at)
	}
	if noiseStep(1) != 0 || noiseStep(16) != 1 || noiseStep(1./256) != -2 {
		t.Errorf("steps %d, %d", noiseStep(16), noiseStep(1./256))
	}
	for i := range mostCells + 3 { // cells that nobody solves
		if i == mostCells {
			first := b.datum(place{noiseHigh: b.quiet, noiseLow: b.quiet})
			if b.near(&first); len(b.cells) != mostCells {
				t.Errorf("%d cells are kept, no more than may be", len(b.cells))
			}
			for at, o := range b.cells {
				if at.high+at.low > 0 && o.used >= b.cells[place{noiseHigh: b.quiet, noiseLow: b.quiet}].used {
					t.Errorf("cell %+v is taken for used later than the last", at)
				}
			}
			b.cells[place{noiseHigh: b.quiet, noiseLow: b.quiet}].used = 1
		}
		at := place{high: i % 9, low: i / 9, noiseHigh: b.quiet, noiseLow: b.quiet}
		b.used++
		b.cells[at] = &cell{used: b.used}
		b.cells[at].once.Do(func() {})
	}
	last := b.datum(place{high: 0, low: 0, noiseHigh: b.quiet, noiseLow: b.quiet})
	b.near(&last)
	n := len(b.cells) // the one unused for longest gave way, and comes back in place of the next
	other := b.datum(place{high: 1, low: 0, noiseHigh: b.quiet, noiseLow: b.quiet})
	if b.near(&other); len(b.cells) != n || b.cells[place{noiseHigh: b.quiet, noiseLow: b.quiet}] == nil || b.cells[place{high: 2, noiseHigh: b.quiet, noiseLow: b.quiet}] != nil {
		t.Errorf("%d cells of %d are left", len(b.cells), n)
	}
	two := *p
	two.Data = append(two.Data, two.Data[0])
	facts := *p
	facts.Facts = make([]Fact, 1)
	hs := lotOf(&p.Base, 0.01, 0.01, 0.1)
	if NewBoards(&two, hs) != nil || NewBoards(&facts, hs) != nil || NewBoards(p, nil) != nil || NewBoards(p, hs[5:]) != nil {
		t.Error("boards that cannot share what is solved do")
	}
}

// A capture that shows no steady train: a board whose pulses hold two of its samples shows none but rarely, one that takes the
// capture for something else always does, one whose pulses are shorter cannot be.
func TestCoarseCapture(t *testing.T) {
	p := bench(t, 10e3, 47e3, 100e-9, 1e-4)
	_, low, _ := p.Circuit.Times(&p.Base)
	prior := tolerance(0.01, 0.01, 0.1)
	hs := []Hypothesis{{Odds: 1, Prior: prior}, {Odds: 1, Prior: prior, See: func(_ *circuit.Values, high, low float64) (float64, float64, bool) { return high, low, true }}}
	turn := func(v *circuit.Values, _ []float64) { v[circuit.Clock] = 0 }
	for _, c := range []struct {
		interval float64
		want     float64 // of the evidence
	}{{low / 3, oddTrain}, {low, 0}} {
		p.Bounds = nil
		free, err := Run(p, hs)
		if err != nil {
			t.Fatal(err)
		}
		p.Bounds = []Bound{{Coarse: c.interval, Adjust: turn}}
		r, err := Run(p, hs)
		if err != nil {
			t.Fatal(err)
		}
		for i := range hs {
			if got := math.Exp(r.Outcomes[i].LogEvidence - free.Outcomes[i].LogEvidence); !(math.Abs(got-c.want) <= 1e-3*oddTrain) {
				t.Errorf("interval %v, hypothesis %d: the evidence is %v of what it was, want %v", c.interval, i, got, c.want)
			}
		}
	}
	s := newSystem(p, &hs[0])
	if got := s.coarse(&p.Base, low/2); got != math.Log(oddTrain) {
		t.Errorf("exactly two samples: %v", got)
	}
	s.see = func(*circuit.Values, float64, float64) (float64, float64, bool) { return 0, 0, true }
	if got := s.coarse(&p.Base, 1); got != 0 {
		t.Errorf("what takes the capture for something else: %v", got)
	}
}

// The likely hypotheses of a board begin with as many of the cell's points as its probabilities take, or all there are, and those points
// are solved on the board itself.
func TestBoardsStartWithEnough(t *testing.T) {
	p := bench(t, 10e3, 47e3, 100e-9, 1e-4)
	hs := lotOf(&p.Base, 0.01, 0.01, 0.1)
	b := NewBoards(p, hs)
	rnd := rand.New(rand.NewPCG(9, 82))
	looked := 0
	for range 12 {
		v := p.Base
		for i, tol := range []float64{0.01, 0.01, 0.1} {
			v[i] *= 1 + tol*(2*rnd.Float64()-1)
		}
		own := *p
		own.Data = []Datum{boardOf(t, p.Circuit, v, 1e-4)}
		middle := b.near(&own.Data[0])
		if middle == nil {
			t.Fatal("no cell")
		}
		c := newContest(&own, b.kept)
		c.brief, c.moved = true, true
		c.start(middle)
		for i, s := range c.systems {
			if s == nil || c.share[i] < small || c.share[i]*doubt(c.estimates[i]) <= little {
				continue
			}
			looked++
			if e := c.estimates[i].effective; e < 0.8*min(needed(c.share[i]), plentyBrief) && s.cloud.n < middle.systems[i].cloud.n {
				t.Errorf("hypothesis %d, probability %.3f: %d of %d points, %.1f of them count", i, c.share[i], s.cloud.n, middle.systems[i].cloud.n, e)
			}
			r := make([]float64, 2)
			for k, l := range s.cloud.log {
				if !math.IsInf(l, -1) && (!s.residual(s.cloud.z[k*len(s.begin):][:len(s.begin)], r) || !(worst(r) <= 2e-6)) {
					t.Fatalf("hypothesis %d: point %d misses the board's times by %g", i, k, worst(r))
				}
			}
		}
	}
	if looked < 12 {
		t.Errorf("%d hypotheses were looked at", looked)
	}
}
