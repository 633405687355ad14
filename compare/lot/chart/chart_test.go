package chart

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"offbeat/acquire/acquiretest/expect"
)

// ISO 7870-2 Table 2 and ASTM E2587 Table 1: printed to three or four digits, seven D cells truncated, hence
// 0.001; the exact columns were computed by another route (Gauss-Legendre) to six decimals, hence 1e-6.
func TestConstants(t *testing.T) {
	all := expect.Table(t, "control_chart_constants.csv")
	for _, row := range all[1:] {
		n := int(expect.Number(t, row[0]))
		d2, d3 := Range(n)
		c4 := C4(n)
		root := math.Sqrt(float64(n))
		s := math.Sqrt(1-c4*c4) / c4
		have := map[string]float64{
			"d2": d2, "d3": d3, "c4": c4, "A2": 3 / d2 / root, "A3": 3 / c4 / root, "B3": max(0, 1-3*s), "B4": 1 + 3*s,
			"D3": max(0, 1-3*d3/d2), "D4": 1 + 3*d3/d2, "E2": 3 / d2,
		}
		for i, cell := range row[1:] {
			head := all[0][i+1]
			if name, ok := cutPrefix(head, "pub_"); ok {
				expect.Within(t, head+" n "+row[0], have[name], expect.Number(t, cell), 0.001)
			} else if name, ok := cutPrefix(head, "exact_"); ok {
				expect.Within(t, head+" n "+row[0], have[name], expect.Number(t, cell), 1.0e-6)
			}
		}
	}
}

func cutPrefix(s, p string) (string, bool) {
	if len(s) > len(p) && s[:len(p)] == p {
		return s[len(p):], true
	}
	return s, false
}

type handbook struct {
	Individuals struct {
		Y              []float64
		Mean, Ucl, Lcl float64
		MeanRange      float64 `toml:"mean_moving_range"`
	} `toml:"individuals_6_3_2_2"`
	EWMA struct {
		Target, Sd, Lambda, K, Ucl, Lcl float64
		Y, Ewma                         []float64
	} `toml:"ewma_6_3_2_4"`
}

func examples(t *testing.T) handbook {
	t.Helper()
	var h handbook
	expect.Values(t, "handbook_examples.toml", &h)
	return h
}

// NIST/SEMATECH e-Handbook 6.3.2.2. It divides by 1.128 and prints 55.80 and 45.82; exact d2 moves the limits by
// 0.0017, within the printed digit.
func TestIndividualsOfHandbook(t *testing.T) {
	h := examples(t).Individuals
	individuals, ranges, sigma, err := Individuals(h.Y, 0)
	if err != nil {
		t.Fatal(err)
	}
	expect.Within(t, "centre", individuals.Centre, h.Mean, 1e-9)
	expect.Within(t, "mean moving range", ranges.Centre, h.MeanRange, 5e-5)
	expect.Within(t, "upper", individuals.High[0], h.Ucl, 0.005)
	expect.Within(t, "lower", individuals.Low[0], h.Lcl, 0.005)
	expect.Within(t, "moving range upper", ranges.High[0], 3.267*h.MeanRange, 0.005) // D4 of ISO 7870-2 Table 2
	expect.Within(t, "sigma", sigma.Value, h.MeanRange/1.128, 0.001)
	if len(individuals.Signals) != 0 { // the handbook: in control
		t.Errorf("%+v", individuals.Signals)
	}
}

// NIST/SEMATECH e-Handbook 6.3.2.4: all printed averages, the limits with their truncated factor.
func TestEWMAOfHandbook(t *testing.T) {
	h := examples(t).EWMA
	c, err := EWMA(h.Y, h.Target, h.Sd, EWMAOptions{Weight: h.Lambda, Width: h.K, Steady: true})
	if err != nil {
		t.Fatal(err)
	}
	for i, z := range h.Ewma[1:] { // the first printed value is the target itself
		expect.Within(t, "average "+strconv.Itoa(i+1), c.Points[i], z, 0.0051)
	}
	expect.Within(t, "upper", c.High[0], h.Ucl, 1e-4)
	expect.Within(t, "lower", c.Low[0], h.Lcl, 1e-4)
	if len(c.Signals) > 0 {
		t.Errorf("%+v", c.Signals)
	}
	early, _ := EWMA(h.Y, h.Target, h.Sd, EWMAOptions{Weight: h.Lambda})
	expect.Within(t, "first limit: lambda sigma alone", early.High[0], h.Target+3*h.Lambda*h.Sd, 1e-9)
	expect.Within(t, "last limit: the steady one", early.High[19], c.High[19], 1e-4)
}

// Montgomery 1991 pp. 206-213, limits from phase I: the numbers in the file's head were computed there by
// another program; the textbook flags subgroups 37 to 39.
func TestSubgroupsOfMontgomery(t *testing.T) {
	var groups [][]float64
	for _, row := range expect.Rows(t, "montgomery_rings.csv") {
		var g []float64
		for _, cell := range row[2:] {
			g = append(g, expect.Number(t, cell))
		}
		groups = append(groups, g)
	}
	for _, c := range []struct {
		by                                   Spread
		spread, low, high, spreadHigh, sigma float64
	}{
		{ByRange, 0.022760, 73.98805, 74.01430, 0.04811, 0.009785},
		{ByDeviation, 0.009240, 73.98799, 74.01436, 0.01930, 0.009240 / 0.939986},
	} {
		means, spreads, sigma, err := Subgroups(groups, c.by, 25)
		if err != nil {
			t.Fatal(err)
		}
		expect.Within(t, "grand mean", means.Centre, 74.001176, 5e-7)
		expect.Within(t, "mean spread", spreads.Centre, c.spread, 5e-7)
		expect.Within(t, "lower", means.Low[0], c.low, 6e-6)
		expect.Within(t, "upper", means.High[0], c.high, 6e-6)
		expect.Within(t, "upper of spread", spreads.High[0], c.spreadHigh, 1.7e-5) // printed with D4 = 2.114, exactly 2.1145
		expect.Within(t, "sigma", sigma.Value, c.sigma, 1e-6)
		var outside []int
		for _, s := range means.Signals {
			if s.Rule == 1 {
				outside = append(outside, s.Point+1)
			}
		}
		if len(outside) != 3 || outside[0] != 37 || outside[2] != 39 {
			t.Errorf("outside: %v, the textbook says 37 to 39", outside)
		}
		if len(spreads.Signals) > 0 {
			t.Errorf("%+v", spreads.Signals)
		}
	}
}

// Subgroups of unlike size: each gets its own limits, and a sigma that repeated simulation finds unbiased.
func TestUnequalSubgroups(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 3))
	for _, by := range []Spread{ByRange, ByDeviation} {
		sum := 0.0
		const runs = 40
		for range runs {
			groups := make([][]float64, 20)
			for i := range groups {
				for range 2 + i%4 {
					groups[i] = append(groups[i], random.NormFloat64())
				}
			}
			means, _, sigma, err := Subgroups(groups, by, 0)
			if err != nil {
				t.Fatal(err)
			}
			sum += sigma.Value / runs
			expect.Within(t, "limit of five", means.High[3]-means.Centre, 3*sigma.Value/math.Sqrt(5), 1e-12)
		}
		expect.Within(t, "mean sigma", sum, 1, 5*0.13/math.Sqrt(runs)) // one run scatters by about 0.13
	}
}

// The relative variance of sigma over many normal samples is 1/(2 freedom); 4000 runs know it to 2.3 %, hence
// 10 %. For moving ranges theory says 0.826/(n-1) (Cryer and Ryan 1990, from memory).
func TestSigmaFreedom(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 5))
	draw := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = random.NormFloat64()
		}
		return x
	}
	check := func(what string, sigma func() (float64, float64)) {
		const runs = 4000
		sum, squares, freedom := 0.0, 0.0, 0.0
		for range runs {
			s, f := sigma()
			sum, squares, freedom = sum+s, squares+s*s, f
		}
		mean := sum / runs
		expect.Within(t, what, (squares/runs-mean*mean)/(mean*mean)*2*freedom, 1, 0.10)
	}
	check("moving ranges", func() (float64, float64) {
		_, _, s, _ := Individuals(draw(30), 0)
		return s.Value, s.Freedom
	})
	_, _, s, _ := Individuals(draw(1001), 0)
	expect.Within(t, "moving ranges, many", 1/(2*s.Freedom)*1000, 0.826, 0.001)
	check("deviations", func() (float64, float64) {
		_, _, s, _ := Subgroups([][]float64{draw(4), draw(4), draw(6), draw(4), draw(3)}, ByDeviation, 0)
		return s.Value, s.Freedom
	})
}

func TestRulesOnPatterns(t *testing.T) {
	for _, c := range []struct {
		name string
		z    []float64
		want map[int]int // rule: point
	}{
		{"quiet", []float64{0.3, -0.4, 1.2, 0.2, -1.1, -0.6, 0.5}, nil},
		{"far out", []float64{0.3, 3.1, -0.2}, map[int]int{1: 1}},
		{"on the limits", []float64{0.3, 3, -0.2, 0.5, -3, -0.5}, nil},
		{"one of three, the last on the limit", []float64{2.5, 0.1, 2, -0.2}, nil},
		{"one of three, the first on the limit", []float64{2, 0.1, 2.5, -0.2}, nil},
		{"fifteen, one on the limit", []float64{0.1, -0.2, -0.3, 0.4, 0.5, -0.6, -0.7, 1, 0.3, -0.1, 0.2, 0.4, -0.4, -0.5, 0.6}, nil},
		{"fourteen, two of them equal", []float64{0.1, -0.2, 0.3, -0.1, 0.2, -1.5, 0.6, 0.6, 1.3, 0.1, 0.2, -0.3, 0.4, 0.2}, nil},
		{"six, two of them equal", []float64{-1.2, -0.8, -0.3, -0.3, 0.5, 0.9}, nil},
		{"nine on one side", []float64{-1, 0.1, 0.5, 0.2, 0.6, 0.3, 0.9, 0.2, 1.4, 0.1}, map[int]int{2: 9}},
		{"a zero breaks the run", []float64{0.1, 0.5, 0.2, 0.6, 0, 0.9, 0.2, 1.4, 0.1}, nil},
		{"six rising", []float64{-1.2, -0.8, -0.3, 0.2, 0.5, 0.9}, map[int]int{3: 5}},
		{"five rising", []float64{0.4, -0.8, -0.3, 0.2, 0.5, 0.9, 0.3}, nil},
		{"fourteen in turn", []float64{0.1, -0.2, 0.3, -0.1, 0.2, -1.5, 0.6, -0.2, 1.3, 0.1, 0.2, -0.3, 0.4, 0.2}, map[int]int{4: 13}},
		{"two of three", []float64{2.2, 0.1, 2.1, 0.3}, map[int]int{5: 2}},
		{"two of three on unlike sides", []float64{2.2, 0.1, -2.1, 0.3}, nil},
		{"four of five", []float64{-1.2, -1.3, 0.2, -1.4, -1.6, 0.1}, map[int]int{6: 4}},
		{"fifteen hugging", []float64{0.1, -0.2, -0.3, 0.4, 0.5, -0.6, -0.7, 0.2, 0.3, -0.1, 0.2, 0.4, -0.4, -0.5, 0.6}, map[int]int{7: 14}},
		{"eight avoiding the middle", []float64{1.1, -1.2, -1.3, 1.4, 1.5, -1.3, -1.2, 1.1}, map[int]int{8: 7}},
	} {
		got := map[int]int{}
		for _, s := range apply(Rules, c.z) {
			got[s.Rule] = s.Point
		}
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
		for rule, point := range c.want {
			if p, ok := got[rule]; !ok || p != point {
				t.Errorf("%s: %v, want %v", c.name, got, c.want)
			}
		}
	}
}

// Average run lengths of a process in control, by simulation: rule 1 alone 370.4 (1/0.0027); rules 1, 5, 6 with
// eight in a row 91.75 (Champ and Woodall 1987, from memory; met by this simulation). Five standard errors.
func TestAverageRunLength(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 4))
	eight := Rule{2, "eight on one side", 8, oneSide}
	for _, c := range []struct {
		rules []Rule
		want  float64
	}{
		{Rules[:1], 370.4},
		{[]Rule{Rules[0], eight, Rules[4], Rules[5]}, 91.75},
	} {
		const runs = 3000
		sum := 0.0
		for range runs {
			var z []float64
			for fired := false; !fired; {
				z = append(z, random.NormFloat64())
				for _, r := range c.rules {
					fired = fired || len(z) >= r.Window && r.Test(z[len(z)-r.Window:])
				}
			}
			sum += float64(len(z))
		}
		expect.Within(t, "average run length", sum/runs, c.want, 5*c.want/math.Sqrt(runs)) // a run length scatters by about its mean
	}
}

func TestTooFew(t *testing.T) {
	if _, _, _, err := Individuals([]float64{1}, 0); err != ErrFew {
		t.Error(err)
	}
	if _, _, _, err := Subgroups([][]float64{{1, 2}, {3}}, ByRange, 0); err != ErrFew {
		t.Error(err)
	}
	if _, err := EWMA([]float64{1, 1}, 1, 0, EWMAOptions{}); err != ErrFew {
		t.Error(err)
	}
	same, _, _, err := Individuals([]float64{2, 2, 2, 2}, 0)
	if err != nil || len(same.Signals) > 0 {
		t.Errorf("four equal values: %+v, %v", same, err)
	}
}

// What values are rounded to shows where a fifth of the neighbours or more are equal, and holds the deviation up to half of it.
func TestRounding(t *testing.T) {
	for _, c := range []struct {
		x    []float64
		want float64
	}{
		{[]float64{1, 1, 1.5, 4, 7, 7.5}, 0.5}, {[]float64{1, 1, 1.5, 4, 7, 9, 7.5}, 0}, {[]float64{1, 3, 2}, 0}, {[]float64{2, 2, 2}, 0}, {nil, 0},
		{[]float64{0.3, 0.1 + 0.2, 0.5, 0.5}, 0.2}, {[]float64{-9, -9, -6, 4}, 3}, {[]float64{1e6, 1e6 + 1, 1e6 + 1}, 1},
	} {
		if got := Step(c.x); !(math.Abs(got-c.want) <= 1e-12) {
			t.Errorf("%v: step %g, want %g", c.x, got, c.want)
		}
	}
	x := []float64{0.4, 0.5, 1.2, 1.5, 1.6}
	if got := snapped(x, 1, 1); !slices.Equal(got, []float64{0.4, 1, 1, 1, 1.6}) || x[1] != 0.5 {
		t.Errorf("%v", got)
	}
	if got := snapped(x, 1, 0); !slices.Equal(got, x) {
		t.Errorf("%v", got)
	}
	quiet := append(make([]float64, 20), 1) // ranges of 1/20 in the mean
	if _, _, s, err := Individuals(quiet, 0); err != nil || s.Value != 0.5 {
		t.Errorf("deviation %g, want half a step; %v", s.Value, err)
	}
}

// Limits at the edges of what can be charted, by closed forms: of two values the moving range has mean 2/√π and variance 2 − 4/π.
func TestAtTheEdges(t *testing.T) {
	d2 := 2 / math.Sqrt(math.Pi)
	c, ranges, s, err := Individuals([]float64{1, 4}, 0)
	expect.Within(t, "freedom of one range", s.Freedom, 4/math.Pi/(2*(2-4/math.Pi)), 1e-6)
	expect.Within(t, "deviation", s.Value, 3/d2, 1e-6)
	expect.Within(t, "upper limit of ranges", ranges.High[0], 3+3*math.Sqrt(2-4/math.Pi)*3/d2, 1e-5)
	if err != nil || c.Centre != 2.5 || ranges.Low[0] != 0 {
		t.Errorf("%+v, %v", c, err)
	}
	x := []float64{1, 2, 4, 1, 3, 2, 5}
	all, _, _, _ := Individuals(x, 0)
	beyond, _, _, err := Individuals(x, 100)
	two, _, _, err2 := Individuals(x, 2)
	if err != nil || err2 != nil || beyond.Centre != all.Centre || beyond.Low[0] != all.Low[0] || two.Centre != 1.5 {
		t.Errorf("%+v, want %+v; %+v", beyond, all, two)
	}
	// ISO 7870-2 Table 2: of ten a subgroup D3 is 0.223 and D4 1.777.
	var groups [][]float64
	for i := range 2 {
		g := make([]float64, 10)
		for k := range g {
			g[k] = float64((i + 3*k) % 10)
		}
		groups = append(groups, g)
	}
	_, spreads, _, err := Subgroups(groups, ByRange, 0)
	if err != nil {
		t.Fatal(err)
	}
	expect.Within(t, "lower limit of ten", spreads.Low[0]/spreads.Centre, 0.223, 0.001)
	expect.Within(t, "upper limit of ten", spreads.High[0]/spreads.Centre, 1.777, 0.001)
	if _, err := EWMA([]float64{1, 2}, 1, 1, EWMAOptions{}); err != nil {
		t.Error(err)
	}
	limits := Chart{Points: []float64{1, 2, 1.5, 2.5, 0.5}, Low: flat(1, 5), High: flat(2, 5)}
	if limits.beyond(); len(limits.Signals) != 2 || limits.Signals[0].Point != 3 || limits.Signals[1].Point != 4 {
		t.Errorf("%+v", limits.Signals)
	}
}
