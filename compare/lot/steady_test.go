package lot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/acquire/manifest"
	"offbeat/compare/lot/chart"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// Individuals charts whose limits come from their own points show a point outside them as often as the published file's
// simulation of 40,000 charts says (rule 1 alone, "own-set alarm share"); five standard errors.
func TestOwnLimits(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 11))
	for _, row := range expect.Rows(t, "ewma_arl.csv") {
		name, found := strings.CutPrefix(row[0], "estimated_")
		if !found {
			continue
		}
		n, err := strconv.Atoi(name)
		if err != nil {
			t.Fatal(err)
		}
		_, share, _ := strings.Cut(row[7], "own-set alarm share ")
		want := expect.Number(t, share)
		const lots = 1000
		alarms := 0
		x := make([]float64, n)
		for range lots {
			for i := range x {
				x[i] = random.NormFloat64()
			}
			all, _ := drawing{rules: []int{1}}.of(x)
			if len(all[0].Signals) > 0 {
				alarms++
			}
		}
		expect.Within(t, row[0], float64(alarms)/lots, want, 5*math.Sqrt(want*(1-want)/lots))
	}
}

// Run lengths of the rules that count, one beyond three deviations and nine in a row, with known limits (the published
// file's Markov chain), and of the EWMA chart with its usual weight and limits from the first point on.
func TestRunLengths(t *testing.T) {
	want := map[string]float64{}
	for _, row := range expect.Rows(t, "ewma_arl.csv") {
		if row[3] == "0.0" || row[3] == "0" {
			want[row[0]+row[1]] = expect.Number(t, row[5])
		}
	}
	random := rand.New(rand.NewPCG(19, 12))
	const runs = 300
	length := func(block int, signals func(x []float64) []chart.Signal) float64 {
		sum := 0.0
		for range runs {
			var x []float64
			for {
				for range block {
					x = append(x, random.NormFloat64())
				}
				if s := signals(x); len(s) > 0 {
					first := s[0].Point
					for _, k := range s {
						first = min(first, k.Point)
					}
					sum += float64(first + 1)
					break
				}
			}
		}
		return sum / runs
	}
	flat := func(v float64, n int) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = v
		}
		return out
	}
	d := drawing{}
	got := length(200, func(x []float64) []chart.Signal {
		return d.counted(chart.Chart{Signals: chart.Signals(x, flat(0, len(x)), flat(1, len(x)))}).Signals
	})
	expect.Within(t, "rules 1 and 2", got, want["C1_run9"], 5*want["C1_run9"]/math.Sqrt(runs))
	got = length(400, func(x []float64) []chart.Signal {
		c, err := chart.EWMA(x, 0, 1, chart.EWMAOptions{Steady: true})
		if err != nil {
			t.Fatal(err)
		}
		return c.Signals
	})
	expect.Within(t, "EWMA", got, want["EWMA0.2"], 5*want["EWMA0.2"]/math.Sqrt(runs))
}

// Steady lots, also ones off target, skewed by rounding or all equal, are out of control at most as often as is said: once
// in twenty, here of 40 lots each.
func TestSteadyLotsAreInControl(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 13))
	for name, value := range map[string]func() float64{
		"normal":            random.NormFloat64,
		"rounded to 1 sd":   func() float64 { return math.Round(random.NormFloat64()) },
		"rounded to 3 sd":   func() float64 { return 3 * math.Round(random.NormFloat64()/3) },
		"one in thirty off": func() float64 { return float64(random.IntN(30) / 29) },
		"all equal":         func() float64 { return 0 },
	} {
		out, most := 0, 0
		const lots = 40
		for lot := range lots {
			n := []int{12, 20, 40, 100}[lot%4]
			x := make([]float64, n)
			for i := range x {
				x[i] = 150 + 0.01*value() // the target is 138.7
			}
			d := drawing{}
			all, _ := d.of(x)
			bad := false
			for i, chance := range d.chances(all, n, 1) {
				bad = bad || len(all[i].Signals) > 0 && chance < rareSignals
				most = max(most, len(all[i].Signals))
			}
			if bad {
				out++
			}
		}
		if limit := 0.05*lots + 3*math.Sqrt(0.05*0.95*lots); float64(out) > limit {
			t.Errorf("%s: %d of %d steady lots are not in control, at most %.0f", name, out, lots, limit)
		}
		if name == "all equal" && most > 0 || strings.HasPrefix(name, "rounded") && most > 12 {
			t.Errorf("%s: a storm of %d signals", name, most)
		}
	}
}

// A drift along the serials is named, with its size; none is in steady or rounded lots more often than said.
func TestTrend(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 14))
	labels := make([]string, 40)
	for i := range labels {
		labels[i] = fmt.Sprint("lamp ", i+1)
	}
	named := 0
	for range 1000 {
		x := make([]float64, len(labels))
		for i := range x {
			x[i] = 138.7 * (1 + 0.01*math.Round(3*random.NormFloat64())/3)
		}
		if trendOf("frequency", x, labels, nil) != nil {
			named++
		}
	}
	if limit := 1000*trendRisk + 4*math.Sqrt(1000*trendRisk); float64(named) > limit {
		t.Errorf("%d of 1000 steady lots drift, at most %.0f", named, limit)
	}
	x := make([]float64, len(labels))
	for i := range x {
		x[i] = 138.7 * (1 - 0.03*float64(i)/39 + 0.005*random.NormFloat64())
	}
	d := trendOf("frequency", x, labels, nil)
	if d == nil || d.From != "lamp 1" || d.To != "lamp 40" || !(math.Abs(d.Value+0.03) <= 4*d.Uncertainty) || !strings.Contains(d.words(), "frequency drifts along the boards: by \u2212") {
		t.Errorf("%+v", d)
	}
	step := make([]int, len(labels)) // two batches one after the other are no drift
	for i := range x {
		step[i] = i / 20
		x[i] = 138.7 * (1 - 0.03*float64(i/20) + 0.005*random.NormFloat64())
	}
	if d := trendOf("frequency", x, labels, step); d != nil {
		t.Errorf("%+v", d)
	}
}

// Two groups are found where there are two, and not in one group whatever its shape: normal, filling its tolerance evenly,
// or with a board far off.
func TestTwoGroups(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 15))
	draw := func(n int, of func(i int) point) []point {
		out := make([]point, n)
		for i := range out {
			out[i] = of(i)
		}
		return out
	}
	for _, one := range []struct {
		name string
		of   func(i int) point
	}{
		{"normal", func(int) point {
			c := 0.02 * random.NormFloat64()
			return point{c + 0.002*random.NormFloat64(), c + 0.002*random.NormFloat64()}
		}},
		{"even", func(int) point {
			c := 0.2 * random.Float64()
			return point{c + 0.002*random.NormFloat64(), c + 0.002*random.NormFloat64()}
		}},
		{"one far off", func(i int) point {
			c := 0.02*random.NormFloat64() + 0.3*float64((50-i)/50)
			return point{c + 0.002*random.NormFloat64(), c}
		}},
	} {
		found := 0
		for lot := range 15 {
			if twoGroups(draw(20+lot, one.of), 2) != nil {
				found++
			}
		}
		if found > 1 {
			t.Errorf("%s: two groups in %d of 15 lots of one", one.name, found)
		}
	}
	for range 6 { // no normal curve and not even, and of many boards that shows
		skew := draw(400, func(int) point {
			c := 0.02 * math.Exp(0.5*random.NormFloat64())
			return point{c + 0.002*random.NormFloat64(), c + 0.002*random.NormFloat64()}
		})
		if twoGroups(skew, 2) != nil {
			t.Error("two groups in 400 boards of one that leans to one side")
		}
	}
	missed := 0
	for range 5 {
		points := draw(40, func(i int) point {
			c := 0.01*random.NormFloat64() - 0.06*float64(i%3/2) // a third of the boards 6 % lower
			return point{c + 0.002*random.NormFloat64(), c + 0.002*random.NormFloat64()}
		})
		m := twoGroups(points, 2)
		if m == nil {
			missed++
			continue
		}
		wrong := 0
		for i := range points {
			if (m.member[i] > 0.5) != (m.member[2] > 0.5) == (i%3 == 2) {
				wrong++
			}
		}
		if wrong > 1 {
			t.Errorf("%d of 40 boards are in the wrong group", wrong)
		}
	}
	if missed > 1 {
		t.Errorf("two groups were missed in %d of 5 lots", missed)
	}
}

// A batch of capacitors that is 7 % low, inside its tolerance of 10 %, takes every board off a target of 3 %: that is what
// the answer begins with, and what the target bears. ln f goes as -ln C (SLFS022I p. 11), so about ± 3 %.
func TestHeadline(t *testing.T) {
	d := lamp()
	f0 := 1 / (math.Ln2 * (10e3 + 2*47e3) * 100e-9)
	d.Targets[0].Value, d.Targets[0].Low, d.Targets[0].High = f0, f0*0.97, f0*1.03
	for i := range 2 {
		d.Parts[i].Minus, d.Parts[i].Plus = 0.01, 0.01
	}
	b := &bench{random: rand.New(rand.NewPCG(19, 16)), spread: [3]float64{0.002, 0.002, 0.003}, shift: [3]float64{0, 0, math.Log(0.93)}, noise: 1e-4}
	var s sampled
	for i := range 16 {
		s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1)}, b.capture(b.board(t), "x"))
	}
	r := s.report(t, d, Options{})
	h := r.Headline
	if h == nil || h.Part != "C1" || !h.Inside || h.Failing != 16 || h.Bears == nil {
		t.Fatalf("%+v\n%s", h, r.Finding)
	}
	near(t, "shift", h.Shift, -0.07, 0.02)
	// Two deviations of the boards' scatter, about 0.7 %, are kept off either side; the other parts' shifts move both.
	near(t, "width borne", h.Bears[1]-h.Bears[0], 0.06-4*math.Hypot(0.003, 0.002), 0.006)
	near(t, "middle borne", (h.Bears[1]+h.Bears[0])/2, 0, 0.015)
	if !strings.HasPrefix(r.Finding, "Every board of 16 fails, most likely since the batch of C1 is ") || !strings.Contains(r.Finding, "in its tolerance of 10 %") || !strings.Contains(r.Finding, "The target bears a batch of C1 from \u2212") {
		t.Error(r.Finding)
	}
	if len(r.Batches) != 0 || len(r.Outliers) != 0 {
		t.Errorf("%+v %+v", r.Batches, r.Outliers)
	}
	d.Targets[0].Value, d.Targets[0].Low, d.Targets[0].High = 0.8*f0, 0.8*f0*0.97, 0.8*f0*1.03
	if h := s.report(t, d, Options{}).Headline; h == nil || h.Part != "" { // without its batch they would fail as well
		t.Errorf("%+v", h)
	}
}

// Which parts could set two groups apart: 51 kOhm in place of 47 kOhm, the half-cycles by the textbook's ln 2 (R1 + R2) C and ln 2 R2 C.
// Boards that scatter widely can't tell it from the capacitor; boards that hardly do, can, and so can those that scatter widely as the
// capacitor makes them, high and low times alike, but not those whose high and low times scatter apart.
func TestWhatSetsGroupsApart(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 32))
	for _, c := range []struct {
		scatter float64
		both    float64 // of both times alike
		apart   float64
		want    string
	}{{0.02, 0, 0, "C1 R2"}, {0.0005, 0, 0, "R2"}, {0.0005, 0.02, 0, "R2"}, {0.0005, 0, 0.02, "C1 R2"}} {
		var groups [2]Batch
		for g, n := range []int{21, 3} {
			for range n {
				r := &Row{}
				r.times.High, r.times.Low = 0.2+float64(g)*math.Log(61./57)+c.scatter*random.NormFloat64(), float64(g)*math.Log(51./47)-0.3+c.scatter*random.NormFloat64()
				both, apart := c.both*random.NormFloat64(), c.apart*random.NormFloat64()
				r.times.High, r.times.Low = r.times.High+both+apart, r.times.Low+both-apart
				groups[g].usual = append(groups[g].usual, r)
				groups[g].High, groups[g].Low = groups[g].High+r.times.High/float64(n), groups[g].Low+r.times.Low/float64(n)
			}
		}
		var names []string
		for _, p := range difference(lamp(), &groups[0], &groups[1]) {
			names = append(names, p.name)
			near(t, p.name, p.by, math.Log(51./47), 0.04)
		}
		if got := strings.Join(names, " "); got != c.want {
			t.Errorf("%+v: %s", c, got)
		}
	}
}

// Two batches of capacitors 9 % apart are found and split, and the boards of the smaller one do not stand out.
func TestTwoBatches(t *testing.T) {
	d := lamp()
	b := &bench{random: rand.New(rand.NewPCG(19, 17)), spread: [3]float64{0.004, 0.004, 0.006}, noise: 1e-4}
	var s sampled
	for i := range 24 {
		b.shift[2] = 0
		if i%6 == 5 {
			b.shift[2] = math.Log(0.91)
		}
		s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1)}, b.capture(b.board(t), "x"))
	}
	r := s.report(t, d, Options{})
	if len(r.Batches) != 2 || len(r.Batches[0].Boards) != 20 || strings.Join(r.Batches[1].Boards, " ") != "lamp 6 lamp 12 lamp 18 lamp 24" || len(r.Outliers) != 0 {
		t.Fatalf("%+v\n%q", r.Batches, r.Outliers)
	}
	near(t, "difference", r.Batches[1].High-r.Batches[0].High, math.Log(0.91), 0.02)
	if !strings.Contains(r.Finding, "Two batches are mixed: 20 boards") || !strings.Contains(r.Finding, "C1 of the second were \u2212") {
		t.Error(r.Finding)
	}
}

// Boards that agree within what measuring them resolves are one batch, none stands out, and nothing is said of their order,
// however their last digits fall.
func TestEqualWithinMeasuring(t *testing.T) {
	d := lamp()
	high, low, err := fittest.Integrate(fittest.Network{Circuit: fittest.Astable, Supply: 5, R1: 10e3, R2: 47e3, C: 100e-9})
	if err != nil {
		t.Fatal(err)
	}
	for name, last := range map[string]func(i int) float64{
		"one a hundred times as far off": func(i int) float64 { return 1e-9*float64(i/3) + 1e-7*float64(i/14) },
		"two groups":                     func(i int) float64 { return 5e-9*float64(i%3/2) + 2e-10*float64(i%7) },
	} {
		var s sampled
		for i := range 15 {
			of := func(v float64) fit.Estimate {
				return fit.Estimate{Value: v * (1 + last(i)), Uncertainty: v * 1e-6, Count: 60}
			}
			s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1)}, &fit.Measurement{High: of(high), Low: of(low * (1 + last(i*i)/9)), Cycles: 60})
		}
		r := s.report(t, d, Options{})
		for _, c := range r.Charts {
			if len(c.Signals) > 0 {
				t.Errorf("%s, %s: %+v", name, c.Chart, c.Signals)
			}
		}
		if len(r.Batches) > 0 || len(r.Outliers) > 0 || len(r.Trends) > 0 || !strings.Contains(strings.Join(r.Warnings, " "), "differ by less than measuring") {
			t.Errorf("%s: %+v %v %+v %q", name, r.Batches, r.Outliers, r.Trends, r.Warnings)
		}
	}
}

// Boards measured at 15 and at 35 °C that follow it by -300 ppm/K on two stations of which one reads 1 % high: the
// temperature is taken out of the repeatability, and the station is named with its bias.
func TestCovariatesOfLot(t *testing.T) {
	d := lamp()
	b := &bench{random: rand.New(rand.NewPCG(19, 18)), spread: [3]float64{0.003, 0.003, 0.006}, noise: 2e-4}
	var s sampled
	for i := range 10 {
		x := b.board(t)
		for k := range 4 {
			at := 15 + 20*float64(k/2)
			f := math.Exp(300e-6 * (at - 25)) // times grow where the frequency falls
			if k%2 == 1 {
				f /= 1.01
			}
			s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1), Station: []string{"quay", "shed"}[k%2], Operator: []string{"KL", "MN"}[(i+k/2)%2], Temperature: &at}, b.capture(times{x.high * f, x.low * f}, "x"))
		}
	}
	r := s.report(t, d, Options{})
	want := 138.7 * 2e-4 * math.Hypot(57./104, 47./104)
	if len(r.Gauge) != 1 || !(math.Abs(r.Gauge[0].Repeatability-want) <= 0.4*want) || r.Gauge[0].PerKelvin == nil {
		t.Fatalf("%+v", r.Gauge)
	}
	near(t, "slope", *r.Gauge[0].PerKelvin, -300e-6, 2e-5)
	found := map[string]float64{}
	for _, e := range r.Effects {
		found[e.Level] = e.Bias
		if e.Factor == "operator" && e.Significant {
			t.Errorf("%+v", e)
		}
	}
	near(t, "shed's bias", found["shed"], 0.005, 3e-4)
	if !strings.Contains(r.Finding, "The stations differ in frequency: ") || !strings.Contains(r.Finding, "shed +0.5 % against the mean of all; on the same boards: it is the stations.") {
		t.Errorf("%q", r.Finding)
	}
}
