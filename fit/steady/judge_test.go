package steady

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit"
)

// made is a census of high and low times drawn by of, in runs with gaps between; their lengths are rounded to cells (0: not).
func made(cell float64, runs, each int, gap func() float64, of func(i int) (high, low float64)) *Census {
	c, at := &Census{}, 0.3
	add := func(x float64, rise, first bool) {
		if cell > 0 {
			x = math.Floor(x/cell) * cell
		}
		c.Add(x, rise, first)
	}
	for r := range runs {
		for i := range each {
			h, l := of(r*each + i)
			add(at, true, i == 0)
			add(at+h, false, false)
			at += h
			if i < each-1 {
				at += l
			}
		}
		if gap != nil {
			at += gap()
		}
	}
	return c
}

// What is said of trains that are none, or of another kind: each drawn a number of times, and said to be what it is.
func TestKinds(t *testing.T) {
	const high, low = 70.0, 110.0
	for _, c := range []struct {
		name string
		x    Context
		draw func(rnd *rand.Rand) *Census
		want Kind
	}{
		{"steady", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 200, nil, func(int) (float64, float64) { return high + 0.1*rnd.NormFloat64(), low + 0.1*rnd.NormFloat64() })
		}, Steady},
		{"exponential draws", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 200, nil, func(int) (float64, float64) { return high * rnd.ExpFloat64(), low * rnd.ExpFloat64() })
		}, Noise},
		{"high times in an order", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 200, nil, func(i int) (float64, float64) { return high * (0.3 + 1.4*math.Abs(math.Mod(float64(i)/40, 2)-1)), low })
		}, Irregular},
		{"bits", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 200, nil, func(int) (float64, float64) { return high * (1 + 0.5*rnd.Float64()), low * (1 + 1.5*rnd.Float64()) })
		}, Irregular},
		{"a scatter that a quiet line makes doubtful", Context{FewCodes: true}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 200, nil, func(int) (float64, float64) {
				return high * (1 + 0.14*rnd.NormFloat64()), low * (1 + 0.14*rnd.NormFloat64())
			})
		}, Irregular},
		{"the same of a line that is none", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 200, nil, func(int) (float64, float64) {
				return high * (1 + 0.14*rnd.NormFloat64()), low * (1 + 0.14*rnd.NormFloat64())
			})
		}, Steady},
		{"the same where as many pulses were left out", Context{Excluded: 250}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 200, nil, func(int) (float64, float64) {
				return high * (1 + 0.14*rnd.NormFloat64()), low * (1 + 0.14*rnd.NormFloat64())
			})
		}, Irregular},
		{"two samples a pulse, in step", Context{Cell: 60}, func(rnd *rand.Rand) *Census {
			return made(60, 1, 200, nil, func(int) (float64, float64) { return high, low })
		}, Steady},
		{"so many samples, at random", Context{Cell: 30}, func(rnd *rand.Rand) *Census {
			return made(30, 1, 200, nil, func(int) (float64, float64) { return high * (0.2 + 1.6*rnd.Float64()), low * (0.2 + 1.6*rnd.Float64()) })
		}, Noise},
		{"torn by long gaps of all lengths", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 20, 3, func() float64 { return low + 180*rnd.Float64()*2.4 }, func(int) (float64, float64) { return high, low })
		}, Torn},
		{"bursts", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 8, 12, func() float64 { return 3000 }, func(int) (float64, float64) { return high + 0.1*rnd.NormFloat64(), low + 0.1*rnd.NormFloat64() })
		}, Bursts},
		{"short bursts", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 8, 12, func() float64 { return low + 400 }, func(int) (float64, float64) { return high + 0.1*rnd.NormFloat64(), low + 0.1*rnd.NormFloat64() })
		}, Steady},
		{"bursts with a fourth of the time between", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 8, 12, func() float64 { return low + 800 }, func(int) (float64, float64) { return high + 0.1*rnd.NormFloat64(), low + 0.1*rnd.NormFloat64() })
		}, Bursts},
		{"pulses triggered at any time", Context{Pulses: true}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 100, nil, func(int) (float64, float64) { return high + 0.1*rnd.NormFloat64(), 1000 * rnd.ExpFloat64() })
		}, Steady},
		{"pulses of any length, triggered", Context{Pulses: true}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 100, nil, func(int) (float64, float64) { return high * rnd.ExpFloat64(), 1000 * rnd.ExpFloat64() })
		}, Noise},
		{"three intervals", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 2, nil, func(i int) (float64, float64) { return high * float64(1+i), low })
		}, Steady},
		{"alternating", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 150, nil, func(i int) (float64, float64) { return high * (1 + 0.05*float64(i%2)), low })
		}, Modulated},
		{"two lengths in no order", Context{}, func(rnd *rand.Rand) *Census {
			return made(0, 1, 150, nil, func(i int) (float64, float64) { return high * (1 + 0.05*float64(rnd.IntN(2))), low })
		}, Modulated},
	} {
		for seed := range uint64(6) {
			c.x.Usual = [2]float64{low, high}
			j := c.draw(rand.New(rand.NewPCG(seed, 6))).Judge(c.x)
			if j.Kind != c.want {
				t.Errorf("%s, seed %d: %s", c.name, seed, j.Text(func(x float64) string { return fmt.Sprint(x) }))
				break
			}
		}
	}
}

// Bursts are counted, with their pulses and gaps; that their trains differ is said where their periods differ by more than they scatter and
// than two parts in a thousand; gaps beyond those that are kept count as those do.
func TestBurstsAreCounted(t *testing.T) {
	for _, c := range []struct {
		runs           int
		differ, jitter float64
		cell           float64
		unlike         bool
	}{{8, 0, 0.1, 0, false}, {8, 0.01, 0.1, 0, true}, {8, 0.001, 0.001, 0, false}, {8, 0.01, 3, 0, false}, {3000, 0, 0.1, 0, false}, {8, 0.01, 0.1, 20, false}, {8, 0.01, 0.1, 0.5, true}} {
		rnd := rand.New(rand.NewPCG(3, 6))
		const each = 12
		census := made(0, c.runs, each, func() float64 { return 3000 }, func(i int) (float64, float64) {
			f := 1 + c.differ*float64(i/each%2)
			return 70*f + c.jitter*rnd.NormFloat64(), 110*f + c.jitter*rnd.NormFloat64()
		})
		j := census.bursts(Context{Usual: [2]float64{110, 70}, Cell: c.cell})
		if j.Kind != Bursts || !(math.Abs(float64(j.Bursts-c.runs)) <= 0.01*float64(c.runs)) || !(math.Abs(j.Pulses/each-1) <= 0.01) || !(math.Abs(j.Gap/3000-1) <= 1e-9) || j.Unlike != c.unlike {
			t.Errorf("%+v: %+v", c, j)
		}
		if c.unlike && (!(math.Abs(j.Least-180) <= 0.2) || !(math.Abs(j.Most-181.8) <= 0.2)) {
			t.Errorf("periods from %g to %g, want 180 and 181.8", j.Least, j.Most)
		}
		if c.unlike {
			if whole := census.Judge(Context{Usual: [2]float64{110, 70}}); !whole.Unlike {
				t.Errorf("%+v", whole)
			}
		}
	}
}

// The moments of lists are the library's, about one mean or about each list's own.
func TestMoments(t *testing.T) {
	a, b := []float64{1, 4, 2, 8}, []float64{15, 11, 13}
	all := append(append([]float64{}, a...), b...)
	n, mean, variance, kurtosis := moments([][]float64{a, b}, false)
	if n != 7 || !(math.Abs(mean-stat.Mean(all, nil)) <= 1e-12) || !(math.Abs(variance-stat.Variance(all, nil)) <= 1e-12) || !(math.Abs(kurtosis-stat.Moment(4, all, nil)/math.Pow(stat.PopVariance(all, nil), 2)) <= 1e-12) {
		t.Errorf("%g %g %g %g", n, mean, variance, kurtosis)
	}
	within := 4*stat.PopVariance(a, nil) + 3*stat.PopVariance(b, nil)
	if _, _, variance, _ := moments([][]float64{a, b}, true); !(math.Abs(variance-within/6) <= 1e-12) {
		t.Errorf("variance within %g, want %g", variance, within/6)
	}
	if low, high := spread([][]float64{all})[0], spread([][]float64{all})[1]; low != 1 || high != 15 {
		t.Errorf("all lie between %g and %g", low, high)
	}
	var hundred []float64
	for i := range 100 {
		hundred = append(hundred, float64((37*i)%100))
	}
	if s := spread([][]float64{hundred[:50], hundred[50:]}); s != [2]float64{5, 94} {
		t.Errorf("all but a tenth lie between %v", s)
	}
}

// Independent draws are said to be without an order; those that follow each other, or alternate, are not.
func TestIndependent(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	for _, c := range []struct {
		memory float64
		want   bool
	}{{0, true}, {0.6, false}, {-0.6, false}} {
		for range 20 {
			var v []float64
			x := 0.0
			for range 200 {
				x = c.memory*x + rnd.NormFloat64()
				v = append(v, 10+x)
			}
			if independent([][]float64{v[:90], v[90:]}) != c.want {
				t.Errorf("draws of which each has %g of the one before: %v", c.memory, !c.want)
			}
		}
	}
}

// What a modulation leaves open is a shift of both times together, and what the duty factor has of its own; that of hum is no more than
// nothing.
func TestRowOfAModulation(t *testing.T) {
	j := Judgement{Square: [kinds]float64{lows: 3, highs: 1, periods: 4}}
	row := j.Row(1, 3)
	if hh, both, ll := row.High, row.Both, row.Low; !(math.Abs(hh+2*both+ll-4) <= 1e-12) || !(math.Abs(hh-1) <= 1e-12) || !(math.Abs(ll-3) <= 1e-12) {
		t.Errorf("%+v", row)
	}
	if r := (&Judgement{Square: [kinds]float64{lows: 9, highs: 9, periods: 0.04}}).Row(1, 3); !(math.Abs(r.High+2*r.Both+r.Low-0.04) <= 1e-12) || r.Low < 9-1e-9 {
		t.Errorf("the duty factor alone: %+v", r)
	}
	j.Modulation.Mains = true
	if row := j.Row(1, 3); row.High != 0 || row.Low != 0 || row.Both != 0 {
		t.Errorf("hum leaves %+v open", row)
	}
}

// Hum of 50 and 60 Hz and of twice that is named by how many cycles it recurs, folded as once a cycle sees it; none of a train so slow that
// it may be of any frequency.
func TestMains(t *testing.T) {
	const second = 1e6
	for _, c := range []struct {
		frequency, hertz float64 // of the train and of what moves it
		want             bool
	}{
		{1000, 50, true}, {1000, 60, true}, {1000, 100, true}, {1000, 120, true}, {1000, 50.4, true}, {1000, 55, false}, {1000, 80, false}, {1000, 25, false},
		{77, 60, true}, {88, 100, true}, {70, 44, false}, {10, 3, false},
	} {
		turns := c.hertz / c.frequency
		turns = math.Abs(turns - math.Round(turns))
		x := Context{Usual: [2]float64{0.6 * second / c.frequency, 0.4 * second / c.frequency}, Second: second}
		if got := x.mains(tone{every: 1 / turns, width: 1e-4}); got != c.want {
			t.Errorf("%g Hz in a train of %g Hz: hum %v", c.hertz, c.frequency, got)
		}
		x.Second = 0
		if x.mains(tone{every: 1 / turns}) {
			t.Error("hum without a second to tell it by")
		}
	}
	if (&Context{Second: 1, Usual: [2]float64{1e-4, 1e-4}}).mains(tone{}) {
		t.Error("nothing is hum")
	}
}

// Each kind is told in words, with the lengths as they are printed.
func TestTextsNameWhatWasFound(t *testing.T) {
	name := func(x float64) string { return fmt.Sprintf("%.0f s", x) }
	for want, j := range map[string]Judgement{
		"independent draws, as those of noise do: the high time scatters by": {Kind: Noise, Of: "high time", Scatter: 0.4, Range: [2]float64{1, 9}},
		"7 gaps break it":                                 {Kind: Torn, Breaks: 7, Idle: 0.3},
		"the low time lies between 2 s and 5 s":           {Kind: Irregular, Of: "low time", Range: [2]float64{2, 5}},
		"the period lies between 2 s and 5 s":             {Kind: Modulated, Of: "period", Range: [2]float64{2, 5}, Modulation: fit.Modulation{Every: 4, Amplitude: 0.1}},
		"3 bursts of about 12, with gaps of about 40 s":   {Kind: Bursts, Bursts: 3, Pulses: 12, Gap: 40},
		"the bursts' own periods differ, from 2 s to 3 s": {Kind: Bursts, Bursts: 3, Pulses: 12, Gap: 40, Unlike: true, Least: 2, Most: 3},
		"one steady train":                                {},
	} {
		if got := j.Text(name); !strings.Contains(got, want) {
			t.Errorf("%q does not say %q", got, want)
		}
	}
}

// A comb's chance is that of Fisher's distribution, and what it takes off is all of it.
func TestCombAgainstFisher(t *testing.T) {
	f := distuv.F{D1: 4, D2: 44}
	within, total := 44.0*2, 44*2+4*2*3.7
	if got, want := combChance(total, within, 4, 44, 1), f.Survival(3.7); !(math.Abs(got/want-1) <= 1e-9) {
		t.Errorf("chance %g, by Fisher's distribution %g", got, want)
	}
	if got, want := combChance(total, within, 4, 44, 2), f.Survival(3.7/2); !(math.Abs(got/want-1) <= 1e-9) {
		t.Errorf("beside noise twice as loud there %g, want %g", got, want)
	}
	rnd := rand.New(rand.NewPCG(6, 6))
	for _, every := range []float64{7.3, 4, 3} {
		v := make([]float64, 60)
		for i := range v {
			x := 2 * math.Pi * float64(i) / every
			v[i] = 3 - 0.1*float64(i) + math.Sin(x+1) + 0.4*math.Cos(2*x)
		}
		left, rank := without(v, 1/every, 2)
		rest := 0.0
		for _, x := range left {
			rest = max(rest, math.Abs(x))
		}
		want := map[float64]int{7.3: 4, 4: 3, 3: 2}[every] // twice a quarter is the highest frequency, which has no phase; twice a third shows as a third
		if rest > 1e-9 || rank != want {
			t.Errorf("every %g: %g is left, of %d numbers, want %d", every, rest, rank, want)
		}
		noise := make([]float64, 60)
		for i := range noise {
			noise[i] = rnd.NormFloat64()
		}
		mixed := make([]float64, 60)
		for i := range mixed {
			mixed[i] = v[i] + noise[i]
		}
		a, _ := without(mixed, 1/every, 2)
		b, _ := without(noise, 1/every, 2)
		for i := range a {
			if !(math.Abs(a[i]-b[i]) <= 1e-9) {
				t.Fatalf("every %g: what is left hangs on what was taken off", every)
			}
		}
	}
}

// How far the mean over an eighth of a list, or two turns of a modulation, goes astray, worked out by hand; and the variance of edges that
// was drawn.
func TestSwing(t *testing.T) {
	v := make([]float64, 80)
	for i := range v {
		v[i] = 5 + math.Floor(float64(i)/70)
	}
	for every, want := range map[float64]float64{2: 0.875, 20: 0.125} {
		if _, most, n := swing([][]float64{v}, every); !(math.Abs(most-want) <= 1e-12) || n != 80 {
			t.Errorf("every %g: %g of %g values, want %g of 80", every, most, n, want)
		}
	}
	rnd := rand.New(rand.NewPCG(7, 6))
	var lists [][]float64
	for range 4 {
		w, last := make([]float64, 2000), rnd.NormFloat64()
		for i := range w {
			next := rnd.NormFloat64()
			w[i], last = 50+0.3*(next-last), next
		}
		lists = append(lists, w)
	}
	if jitter, most, _ := swing(lists, 2); !(math.Abs(jitter/0.09-1) <= 0.1) || most > 0.02 {
		t.Errorf("edges of variance 0.09: %.4f; the mean goes astray by %.4f", jitter, most)
	}
}

// The few teeth of a saw are found as a comb, with their length, their mean square and the noise beside; noise of nothing, or of few
// values, has none.
func TestCombIsFound(t *testing.T) {
	for seed := range uint64(12) {
		rnd := rand.New(rand.NewPCG(seed, 12))
		n, every := 40+rnd.IntN(40), 6+4*rnd.Float64()
		v := make([]float64, n)
		mean, square := 0.0, 0.0
		for i := range v {
			_, p := math.Modf(float64(i) / every)
			v[i], mean, square = p+0.03*rnd.NormFloat64(), mean+p/float64(n), square+p*p/float64(n)
		}
		square -= mean * mean
		f := findComb(v, false)
		if f.every == 0 || f.chance > lineChance || !(math.Abs(f.every/every-1) <= 0.04) && !(math.Abs(f.every/every-2) <= 0.05) && !(math.Abs(3*f.every/every-1) <= 0.05) || !(math.Abs(f.square/square-1) <= 0.25) || f.rest > 0.3*square || !(math.Abs(f.width*16*float64(n)-1) <= 1e-9) {
			t.Errorf("seed %d: a saw of mean square %.4f every %.3f of %d values: %+v", seed, square, every, n, f)
		}
		for i := range v {
			v[i] = rnd.NormFloat64()
		}
		if f := findComb(v, false); f.every != 0 {
			t.Errorf("seed %d: in noise %+v", seed, f)
		}
	}
	if f := findComb(make([]float64, 40), false); f.chance != 1 || f.every != 0 {
		t.Errorf("in nothing %+v", f)
	}
	if f := findComb(make([]float64, fewestFold-1), false); f.chance != 1 {
		t.Errorf("in few values %+v", f)
	}
}

// Of pulses a few samples long rounding alone makes a train seem restless: a few of them are no less steady for it. Of a line that
// each sample sets anew, few are.
func TestFewRoundedPulses(t *testing.T) {
	rnd := rand.New(rand.NewPCG(15, 16))
	for i := range 3000 {
		high, low, start := 2.1+8*rnd.Float64(), 2.1+8*rnd.Float64(), rnd.Float64()
		c := made(1, 1, 3+rnd.IntN(8), nil, func(int) (float64, float64) { return high + start/1e6, low })
		if j := c.Judge(Context{Cell: 1, Usual: [2]float64{low, high}}); j.Kind != Steady {
			t.Fatalf("draw %d, high %g and low %g samples: %s", i, high, low, j.Text(func(x float64) string { return fmt.Sprint(x) }))
		}
	}
	steady := 0
	const draws = 3000
	for range draws {
		length := func() float64 {
			n := 1.0
			for rnd.Float64() < 0.5 {
				n++
			}
			return n
		}
		c := made(1, 1, 4, nil, func(int) (float64, float64) { return length(), length() })
		if c.Judge(Context{Cell: 1, Usual: [2]float64{2, 2}}).Kind == Steady {
			steady++
		}
	}
	if steady > draws/20 {
		t.Errorf("%d of %d lines of noise are steady", steady, draws)
	}
}

// Rounding to cells alone modulates no train, whatever share of a cell its period and its pulses end in.
func TestRoundingAloneIsNoModulation(t *testing.T) {
	rnd := rand.New(rand.NewPCG(17, 18))
	for i := range 250 {
		high, low, start := 6+10*rnd.Float64(), 3+5*rnd.Float64(), rnd.Float64()
		if i%4 == 0 { // 5/19 and the like: what is left of the period recurs next to evenly
			high, low = 12.04, 3.22+0.004*(rnd.Float64()-0.5)
		}
		at := 0
		c := made(1, 1, 30+rnd.IntN(90), nil, func(int) (float64, float64) {
			at++
			if at == 1 {
				return high + start, low
			}
			return high, low
		})
		j := c.Judge(Context{Cell: 1, Usual: [2]float64{low, high}})
		if j.Kind != Steady {
			t.Errorf("high %g and low %g cells: %s", high, low, j.Text(func(x float64) string { return fmt.Sprint(x) }))
		}
	}
}

// Pulses that come long and short by turns are told by the time that does, and by how much: what ends the other is steady.
func TestTimesByTurns(t *testing.T) {
	name := func(x float64) string { return fmt.Sprintf("%.0f s", x) }
	for want, of := range map[string][2][2]float64{ // the low times, the high times
		"; the high times are 600 s and 630 s by turns, 5 % apart; the low times are not":      {{400, 400}, {600, 630}},
		"; the low times are 400 s and 480 s by turns, 20 % apart; the high times are not":     {{480, 400}, {600, 600}},
		"the high times are 600 s and 660 s by turns, 10 % apart; the low times are 400 s and": {{400, 420}, {660, 600}},
	} {
		c, at, rnd := &Census{}, 0.0, rand.New(rand.NewPCG(4, 4))
		for i := range 60 {
			c.Add(at+0.2*rnd.NormFloat64(), true, i == 30)
			at += of[1][i&1]
			c.Add(at+0.2*rnd.NormFloat64(), false, false)
			at += of[0][i&1]
		}
		if j := c.Judge(Context{Usual: [2]float64{420, 620}}); j.Kind != Modulated || !j.Modulation.Alternates() || !strings.Contains(j.Text(name), want) {
			t.Errorf("%q does not say %q", j.Text(name), want)
		}
	}
	j := Judgement{Kind: Modulated, Of: "period", Range: [2]float64{2, 5}, Modulation: fit.Modulation{Every: 2, Amplitude: 0.1}}
	if got := j.Text(name); !strings.HasSuffix(got, "rms: the period lies between 2 s and 5 s") {
		t.Errorf("periods alone by turns: %q", got)
	}
}

// Two lengths come by turns where no more than a tenth of all follow one of their own, and six are of either; those of one list do not
// follow the last of another.
func TestInTurn(t *testing.T) {
	row := func(pattern string) (v []float64) {
		for i, c := range pattern {
			v = append(v, map[rune]float64{'s': 4, 'l': 5}[c]+1e-3*float64(i%3-1))
		}
		return v
	}
	for name, c := range map[string]struct {
		lists []string
		want  bool
	}{
		"by turns": {[]string{"slslslslslslslslslsl"}, true},
		"a tenth":  {[]string{"sllslslslslslslslsls"}, true}, "two": {[]string{"sllslslslslslslssl"}, false}, "two of 20": {[]string{"sllslslslslslslsslsl"}, true},
		"three of 20": {[]string{"sllslslslssllslsslsl"}, false}, "in pairs": {[]string{"ssllssllssllssllssll"}, false}, "all short first": {[]string{"ssssssssssllllllllll"}, false},
		"two lists": {[]string{"slslsls", "slslsls", "slsl", "slsl"}, true}, "six each": {[]string{"slslslslslsl"}, true}, "five long": {[]string{"slslslslsls"}, false}, "none": {nil, false},
	} {
		var lists [][]float64
		short, long, n := 0.0, 0.0, [2]float64{}
		for _, l := range c.lists {
			v := row(l)
			for i, k := range l {
				if k == 's' {
					short, n[0] = short+v[i], n[0]+1
				} else {
					long, n[1] = long+v[i], n[1]+1
				}
			}
			lists = append(lists, v)
		}
		got := inTurn(lists)
		if (got != Turn{}) != c.want || c.want && (!near(got.Short, short/n[0], 1e-12) || !near(got.Long, long/n[1], 1e-12)) {
			t.Errorf("%s: %+v", name, got)
		}
	}
}
