package steady

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// scattered are n values (even) of that mean whose sample standard deviation is just that share of it: to and fro, or, apart,
// two and two, so that neighbours are as often alike as not.
func scattered(n int, mean, share float64, apart bool) []float64 {
	v, d := make([]float64, n), mean*share*math.Sqrt(float64(n-1)/float64(n))
	for i := range v {
		k := i
		if apart {
			k = i / 2
		}
		v[i] = mean + d*float64(1-2*(k%2))
	}
	return v
}

// What scatters just less than is said passes for steady, and what scatters just more does not: a state by itself by what its standard
// deviation, known to a share of 1/√(2(n-1)) of it (JCGM 100, E.4.3), is at least; both together where they are few; and with more
// reason for doubt at less.
func TestScatterAtItsLimits(t *testing.T) {
	alone := func(n float64) float64 { return restless / (1 - 1/math.Sqrt(2*(n-1))) }
	both := func(n float64) float64 { return restless * (1 + 1/math.Sqrt(n)) }
	rounding := func(mean, share, cell float64) float64 { return math.Hypot(share, cell/2/mean) }
	for _, c := range []struct {
		name       string
		highs      int
		high       float64 // its scatter
		lows       int
		low        float64
		apart      bool
		x          Context
		c          Census
		bursts     bool
		want       Kind
		of         string
		breaks     int
		share, gap float64
	}{
		{name: "one state, just less", highs: 8, high: 0.998 * alone(8), lows: 8},
		{name: "one state, just more", highs: 8, high: 1.002 * alone(8), lows: 8, want: Irregular, of: "high time"},
		{name: "the other", highs: 8, lows: 8, low: 1.002 * alone(8), want: Irregular, of: "low time"},
		{name: "six are judged by themselves", highs: 6, high: 1.002 * alone(6), lows: 6, want: Irregular, of: "high time"},
		{name: "fewer together, just less", highs: 4, high: 0.998 * both(8), lows: 4, low: 0.998 * both(8)},
		{name: "fewer together, just more", highs: 4, high: 1.002 * both(8), lows: 4, low: 1.002 * both(8), want: Irregular},
		{name: "two and two", highs: 2, high: 1, lows: 2, low: 1, want: Noise},
		{name: "two", highs: 2, high: 1},
		{name: "of few codes, just less", highs: 50, high: 0.0998, lows: 50, low: 0.0998, x: Context{FewCodes: true}},
		{name: "of few codes, just more", highs: 50, high: 0.1002, lows: 50, low: 0.1002, x: Context{FewCodes: true}, want: Irregular},
		{name: "half as many left out", highs: 50, high: 0.15, lows: 50, low: 0.15, x: Context{Excluded: 50}},
		{name: "more than half left out", highs: 50, high: 0.15, lows: 50, low: 0.15, x: Context{Excluded: 51}, want: Irregular},
		{name: "left out and broken", highs: 50, high: 0.15, lows: 50, low: 0.15, x: Context{Excluded: 40}, c: Census{runs: 11}, want: Irregular},
		{name: "left out and broken by half", highs: 50, high: 0.15, lows: 50, low: 0.15, x: Context{Excluded: 40}, c: Census{runs: 10}},
		{name: "left out, and bursts", highs: 50, high: 0.15, lows: 50, low: 0.15, x: Context{Excluded: 40}, c: Census{runs: 11}, bursts: true},
		{name: "seldom sampled, just less", highs: 8, lows: 8, low: rounding(110, 0.0498*math.Sqrt2, 17.6), x: Context{Cell: 17.6}},
		{name: "seldom sampled, just more", highs: 8, lows: 8, low: rounding(110, 0.0502*math.Sqrt2, 17.6), x: Context{Cell: 17.6}, want: Irregular},
		{name: "four samples a pulse", highs: 8, high: rounding(70, 0.08, 17.5), lows: 8, low: rounding(110, 0.08, 17.5), x: Context{Cell: 17.5}},
		{name: "seldom sampled, but not so few", highs: 10, high: rounding(70, 0.08, 17.6), lows: 10, low: rounding(110, 0.08, 17.6), x: Context{Cell: 17.6}},
		{name: "rounded, just less", highs: 50, high: rounding(70, 0.0998, 10), lows: 50, low: rounding(110, 0.0998, 10), x: Context{Cell: 10, FewCodes: true}},
		{name: "rounded, just more", highs: 50, high: rounding(70, 0.1002, 10), lows: 50, low: rounding(110, 0.1002, 10), x: Context{Cell: 10, FewCodes: true}, want: Irregular},
		{name: "pulses alone", highs: 50, lows: 50, low: 1, x: Context{Pulses: true}},
		{name: "wide, in no order", highs: 60, high: 1.01 * drawn, lows: 60, apart: true, want: Noise, of: "high time"},
		{name: "wide, in an order", highs: 60, high: 1.01 * drawn, lows: 60, want: Irregular, of: "high time"},
		{name: "less wide, in no order", highs: 60, high: 0.99 * drawn, lows: 60, apart: true, want: Irregular, of: "high time"},
		{name: "broken three times in few edges", highs: 20, lows: 20, x: Context{Cell: 20}, c: Census{runs: 3, count: 59, last: 100}, want: Torn, breaks: 3},
		{name: "broken three times in more", highs: 20, lows: 20, x: Context{Cell: 20}, c: Census{runs: 3, count: 60, last: 100}},
		{name: "broken so, but well sampled", highs: 20, lows: 20, c: Census{runs: 3, count: 30, last: 100}},
		{name: "broken twice", highs: 20, lows: 20, x: Context{Cell: 20}, c: Census{runs: 2, count: 30, last: 100, idle: 90}},
		{name: "idle for a fourth", highs: 20, lows: 20, c: Census{runs: 3, count: 90, origin: 20, last: 120, idle: 25}},
		{name: "idle for more", highs: 20, lows: 20, c: Census{runs: 3, count: 90, origin: 20, last: 120, idle: 26}, want: Torn, breaks: 3, gap: 0.26},
		{name: "idle between bursts", highs: 20, lows: 20, c: Census{runs: 3, count: 90, origin: 20, last: 120, idle: 26}, bursts: true},
		{name: "torn and wide", highs: 60, high: 1.01 * drawn, lows: 60, c: Census{runs: 3, count: 90, last: 100, idle: 26}, want: Irregular},
	} {
		var lists [kinds][][]float64
		lists[highs] = [][]float64{scattered(c.highs, 70, c.high, c.apart)}
		if c.lows > 0 {
			lists[lows] = [][]float64{scattered(c.lows, 110, c.low, c.apart)}
		}
		j := c.c.restless(lists, &c.x, c.bursts)
		if j.Kind != c.want || c.of != "" && j.Of != c.of || j.Breaks != c.breaks || !(math.Abs(j.Idle-c.gap) <= 1e-12) {
			t.Errorf("%s: %+v", c.name, j)
		}
		if c.want != Steady && c.x.Cell == 0 && !(math.Abs(j.Scatter-max(c.high, c.low)) <= 1e-12) {
			t.Errorf("%s: scatter %g, want %g", c.name, j.Scatter, max(c.high, c.low))
		}
	}
}

// Few intervals that rounding alone may part, none of them as short as noise makes, scatter by nothing.
func TestRoundingPartsFewIntervals(t *testing.T) {
	const cell = 17.6
	for _, c := range []struct {
		name        string
		least, most float64 // cells
		want        Kind
	}{{"by less", 2, 3.019, Steady}, {"by more", 2, 3.021, Irregular}, {"of less than two cells", 1.89, 2.89, Irregular}, {"of nearly two", 1.91, 2.91, Steady}} {
		var lists [kinds][][]float64
		for k := lows; k <= highs; k++ {
			lists[k] = [][]float64{{c.least * cell, c.most * cell, c.least * cell, c.most * cell}, {c.most * cell, c.least * cell}}
		}
		if j := (&Census{}).restless(lists, &Context{Cell: cell}, false); j.Kind != c.want {
			t.Errorf("%s: %+v", c.name, j)
		}
	}
	for _, c := range []struct {
		name         string
		rises, falls float64 // by which edges lie apart, about an even pace
		cell         float64
		want         bool
	}{{"within rounding", 1.49, 1.49, 1, true}, {"rises beyond", 1.51, 0, 1, false}, {"falls beyond", 0, 1.51, 1, false}, {"in cells of two", 2.99, 2.99, 2, true}, {"of no cells", 0, 0, 0, false}} {
		var census Census
		for i := range 16 { // to, fro, fro, to: no slope
			to := []float64{0.5, -0.5, -0.5, 0.5}[i%4]
			census.Add(90*float64(i)+c.rises*to, true, false)
			census.Add(90*float64(i)+40+c.falls*to, false, false)
		}
		if got := census.even(c.cell); got != c.want {
			t.Errorf("%s: even %v", c.name, got)
		}
	}
}

// Edges keep step where they lie about a line closer than four tenths of what a walk of that scatter does: in each block of sixty or more.
func TestStepAtItsLimits(t *testing.T) {
	block := func(n int, by float64) []edge {
		b := make([]edge, n)
		for i := range b { // to, fro, fro, to: no slope
			b[i].x = 5000 + 90*float64(i) + by*[]float64{1, -1, -1, 1}[i%4]
		}
		return b
	}
	limit := func(n float64) float64 { return pacedWithin * 0.5 * math.Sqrt(n/30) * 180 }
	for _, c := range []struct {
		name   string
		blocks [][]edge
		want   bool
	}{
		{"none", nil, false}, {"too few", [][]edge{block(56, 0)}, false}, {"closer", [][]edge{block(60, 0.998*limit(60))}, true},
		{"less close", [][]edge{block(60, 1.002*limit(60))}, false}, {"closer, of many", [][]edge{block(240, 0.998*limit(240))}, true},
		{"less close, of many", [][]edge{block(240, 1.002*limit(240))}, false},
		{"too few beside enough", [][]edge{block(56, 200), block(120, 1)}, true}, {"one in step and one not", [][]edge{block(60, 1), block(60, 200)}, false},
	} {
		if got := (&Census{blocks: c.blocks}).strict(180, 0.5); got != c.want {
			t.Errorf("%s: in step %v", c.name, got)
		}
	}
}

// Bursts count as such from a fifth of the time between them on, of two pulses each or, seldom sampled, of ten, whenever the record began.
func TestBurstsAtTheirLimits(t *testing.T) {
	for _, c := range []struct {
		name         string
		runs, pulses int
		gap, cell    float64
		want         bool
	}{
		{"a fifth of the time", 8, 12, 640, 0, true}, {"less", 8, 12, 500, 0, false}, {"the same of many more than are kept", 3000, 12, 640, 0, true},
		{"less of many", 3000, 12, 500, 0, false},
		{"of two pulses", 8, 2, 3000, 0, true}, {"of one", 8, 1, 3000, 0, false},
		{"four samples a pulse", 8, 2, 3000, 17.5, true}, {"fewer, of nine pulses", 8, 9, 3000, 17.6, false}, {"fewer, of ten", 8, 10, 3000, 17.6, true},
		{"gaps as long as two pulses", 8, 2, 110 + 2.49*180, 0, false}, {"longer", 8, 2, 110 + 2.51*180, 0, true},
	} {
		for _, from := range []float64{0, 1e7} {
			census, at := &Census{}, from
			for range c.runs {
				for i := range c.pulses {
					census.Add(at, true, i == 0)
					census.Add(at+70, false, false)
					at += 180
				}
				at += c.gap - 110
			}
			j := census.bursts(Context{Usual: [2]float64{110, 70}, Cell: c.cell})
			if (j.Kind == Bursts) != c.want {
				t.Errorf("%s, from %g: %+v", c.name, from, j)
			}
			if c.want && (j.Bursts != c.runs || !(math.Abs(j.Pulses-float64(c.pulses)) <= 1e-9) || !(math.Abs(j.Gap-c.gap) <= 1e-6)) {
				t.Errorf("%s, from %g: %d bursts of %g pulses with gaps of %g", c.name, from, j.Bursts, j.Pulses, j.Gap)
			}
		}
	}
}

// Trains of bursts differ where a mean period lies five standard uncertainties from the mean of all, by what the periods scatter within
// their burst (analysis of variance) and two rounded edges, and by two thousandths.
func TestUnlikeAtItsLimits(t *testing.T) {
	const each, runs, mean = 4, 8, 180.0
	for _, c := range []struct {
		name          string
		by, d, cell   float64
		runs, periods int
		want          bool
	}{
		{"less than they scatter", 0.998 * 5 / math.Sqrt(3), 1, 0, runs, each, false}, {"more", 1.002 * 5 / math.Sqrt(3), 1, 0, runs, each, true},
		{"less than cells make", 0.998 * 5 * 2 / math.Sqrt2 / each, 1e-6, 2, runs, each, false}, {"more than cells make", 1.002 * 5 * 2 / math.Sqrt2 / each, 1e-6, 2, runs, each, true},
		{"less than two thousandths", 0.00199 * mean, 1e-6, 0, runs, each, false}, {"more than that", 0.00201 * mean, 1e-6, 0, runs, each, true},
		{"two and two", 5, 1e-6, 0, 2, 2, true}, {"too few to tell", 5, 0, 0, 2, 1, false}, {"blocks that end with a run's first edges", 5, 1e-6, 0, 8, 126, true},
	} {
		var census Census
		at := 50.0
		for r := range c.runs {
			for i := range c.periods + 1 {
				census.Add(at, true, i == 0)
				census.Add(at+70, false, false)
				at += mean + c.by*float64(1-2*(r%2)) + c.d*float64(1-2*(i%2))
			}
			at += 3000
		}
		least, most, unlike := census.unlike(c.cell)
		if unlike != c.want || c.periods > 1 && (!(math.Abs(least-mean+c.by) <= 1e-5) || !(math.Abs(most-mean-c.by) <= 1e-5)) {
			t.Errorf("%s: %g to %g, unlike %v", c.name, least, most, unlike)
		}
	}
}

// judged gives the modulation of values that are the periods of a train whose times are told without rounding or to cells.
func modulationOf(v []float64, cell float64) (every, amplitude, square float64) {
	x := Context{Cell: cell}
	var lists [kinds][][]float64
	lists[periods] = [][]float64{v}
	m, square := x.modulation(lists, periods, stat.Mean(v, nil))
	return m.Every, m.Amplitude, square
}

// A modulation is named from the last digits of the times on, by whole numbers where it may be whole, with all that the times scatter by.
func TestModulationAtItsLimits(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 31))
	for _, c := range []struct {
		name        string
		every, size float64
		want        float64
	}{
		{"a whole number", 7, 0.02, 7}, {"and a half", 6.5, 0.02, 6.5}, {"more than the last digits", 7, 3e-9, 7}, {"less than those", 7, 5e-10, 0},
	} {
		for _, mean := range []float64{1, 1000} {
			v := make([]float64, 160)
			for i := range v {
				v[i] = mean * (1 + c.size*math.Sin(2*math.Pi*float64(i)/c.every) + c.size/5*rnd.NormFloat64())
			}
			every, amplitude, square := modulationOf(v, 0)
			whole := c.want == math.Floor(c.want)
			if whole && every != c.want || !(math.Abs(every-c.want) <= 0.1) {
				t.Errorf("%s, mean %g: every %g, want %g", c.name, mean, every, c.want)
			}
			if c.want > 0 && (!near(amplitude, c.size/math.Sqrt2, 0.1) || !near(square, stat.Variance(v, nil), 0.15)) {
				t.Errorf("%s, mean %g: amplitude %g, square %g; want %g, %g", c.name, mean, amplitude, square, c.size/math.Sqrt2, stat.Variance(v, nil))
			}
		}
	}
}

// Two lengths in no order are told from a thousandth of the mean on, and from a hundredth where neighbours are alike, of 24 values or more.
func TestTwoLengthsAtTheirLimits(t *testing.T) {
	order := func(alike bool, n int, size float64) []float64 {
		rnd, v, s := rand.New(rand.NewPCG(4, 32)), make([]float64, n), 1.0
		for i := range v {
			if rnd.Float64() < map[bool]float64{false: 0.5, true: 0.15}[alike] {
				s = -s
			}
			v[i] = 250 * (1 + size*s)
		}
		return v
	}
	for _, c := range []struct {
		name  string
		alike bool
		n     int
		size  float64
		want  bool
	}{
		{"more than a thousandth", false, 200, 1.3e-3, true}, {"less", false, 200, 0.8e-3, false}, {"alike, more than a hundredth", true, 200, 1.3e-2, true},
		{"alike, less", true, 200, 0.8e-2, false},
	} {
		v := order(c.alike, c.n, c.size)
		if got := random([][]float64{v}, 250); (got.square > 0) != c.want || c.want && !near(got.square, stat.Variance(v, nil), 0.2) {
			t.Errorf("%s: mean square %g of %g", c.name, got.square, stat.Variance(v, nil))
		}
	}
	for n, want := range map[int]bool{24: true, 23: false} {
		if got := random([][]float64{scattered(24, 250, 0.05, true)[:n]}, 250); (got.square > 0) != want {
			t.Errorf("of %d values: %+v", n, got)
		}
	}
	normal := make([]float64, 200)
	rnd := rand.New(rand.NewPCG(5, 32))
	for i := range normal {
		normal[i] = 250 * (1 + 0.02*rnd.NormFloat64())
	}
	if got := random([][]float64{normal}, 250); got.square != 0 {
		t.Errorf("normal draws are called two lengths: %+v", got)
	}
}

// A modulation slower than the blocks that are kept is told from their means, where it is more than cells make of a block.
func TestSlowerThanABlock(t *testing.T) {
	var lists [kinds][][]float64
	rnd := rand.New(rand.NewPCG(2, 33))
	for b := range 36 {
		v := make([]float64, 100)
		for i := range v {
			v[i] = 500 + 2*math.Sin(2*math.Pi*float64(b)/6) + 0.5*rnd.NormFloat64()
		}
		lists[periods] = append(lists[periods], v)
	}
	for cell, want := range map[float64]bool{0: true, 0.9 * blockEdges * math.Sqrt2: true, 1.2 * blockEdges * math.Sqrt2: false} {
		x := Context{Cell: cell}
		m, square := x.modulation(lists, periods, 500)
		if m.Every != 0 || (m.Amplitude > 0) != want || want && (!near(m.Amplitude, math.Sqrt2/500, 0.1) || !near(square, 2, 0.2)) {
			t.Errorf("cells of %g: %+v, mean square %g", cell, m, square)
		}
	}
}

// The variance of the edges is told from few values a list as from many.
func TestSwingOfShortLists(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 34))
	var lists [][]float64
	for range 3000 {
		v, last := make([]float64, 5), rnd.NormFloat64()
		for i := range v {
			next := rnd.NormFloat64()
			v[i], last = 50+0.3*(next-last), next
		}
		lists = append(lists, v)
	}
	if jitter, _, n := swing(lists, 2); !near(jitter, 0.09, 0.06) || n != 5 {
		t.Errorf("edges of variance 0.09: %.4f, of lists of %g", jitter, n)
	}
}

// What the high time, the low time and the period of a modulated train have, they have each: none of them is left without.
func TestSquaresOfAllTimes(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 35))
	var c Census
	at := 0.0
	for i := range 300 {
		h, l := 70+2*math.Sin(2*math.Pi*float64(i)/9)+0.2*rnd.NormFloat64(), 110+0.4*rnd.NormFloat64()
		c.Add(at, true, false)
		c.Add(at+h, false, false)
		at += h + l
	}
	j := c.Judge(Context{Usual: [2]float64{110, 70}})
	if j.Kind != Modulated || j.Of != "high time" || j.Modulation.Every != 9 || !near(j.Square[highs], 2.04, 0.25) || !near(j.Square[lows], 0.16, 0.2) || !near(j.Square[periods], 2.2, 0.15) {
		t.Errorf("%+v", j)
	}
	if !(math.Abs(j.Range[0]-68) <= 0.2) || !(math.Abs(j.Range[1]-72) <= 0.2) {
		t.Errorf("between %v", j.Range)
	}
}
