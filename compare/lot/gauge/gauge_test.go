package gauge

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// study is the crossed study printed in the measurement systems analysis manual of the automotive industry
// (AIAG MSA, 4th edition, chapter III, table of the average and range method): ten parts, three appraisers,
// three trials. From memory; its four sums of squares come out as the manual prints them, to every digit.
var study = [3][3][10]float64{
	{
		{0.29, -0.56, 1.34, 0.47, -0.80, 0.02, 0.59, -0.31, 2.26, -1.36},
		{0.41, -0.68, 1.17, 0.50, -0.92, -0.11, 0.75, -0.20, 1.99, -1.25},
		{0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31},
	}, {
		{0.08, -0.47, 1.19, 0.01, -0.56, -0.20, 0.47, -0.63, 1.80, -1.68},
		{0.25, -1.22, 0.94, 1.03, -1.20, 0.22, 0.55, 0.08, 2.12, -1.62},
		{0.07, -0.68, 1.34, 0.20, -1.28, 0.06, 0.83, -0.34, 2.19, -1.50},
	}, {
		{0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49},
		{-0.11, -1.13, 1.09, 0.20, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77},
		{-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16},
	},
}

func observations() []Observation {
	var obs []Observation
	for j, trials := range study {
		for _, parts := range trials {
			for i, v := range parts {
				obs = append(obs, Observation{fmt.Sprint("part ", i), fmt.Sprint("appraiser ", j), v})
			}
		}
	}
	return obs
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v ± %v", what, got, want, tolerance)
	}
}

// The manual's analysis of variance: sums of squares to four decimals, standard deviations to five.
func TestPublishedStudy(t *testing.T) {
	q := gather(observations())
	near(t, "parts", q.ta, 88.3619, 6e-5)
	near(t, "appraisers", q.tb, 3.1673, 6e-5)
	near(t, "interaction", q.tab-q.ta-q.tb, 0.3590, 6e-5)
	near(t, "equipment", q.t0-q.tab, 2.7589, 6e-5)
	s, err := Of(observations())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "repeatability", s.Repeatability, 0.199933, 6e-6)
	near(t, "reproducibility", s.Reproducibility, 0.226838, 6e-6)
	near(t, "interaction", s.Interaction, 0, 0)
	near(t, "gauge", s.Gauge, 0.302373, 6e-6)
	near(t, "parts", s.BoardToBoard, 1.042327, 6e-6)
	near(t, "total", s.Total, 1.085, 5e-4)
	if s.Freedom != 78 || s.Boards != 10 || s.Stations != 3 || !slices.Contains(s.Notes, "no interaction of boards and stations shows: pooled with the repetition") {
		t.Errorf("%+v", s)
	}
}

// plan says how often station j measured board i.
type plan func(i, j int) int

func simulate(r *rand.Rand, boards, stations int, truth components, p plan) []Observation {
	var obs []Observation
	b := make([]float64, stations)
	for j := range b {
		b[j] = math.Sqrt(truth.station) * r.NormFloat64()
	}
	for i := range boards {
		a := math.Sqrt(truth.board) * r.NormFloat64()
		for j := range stations {
			ab := math.Sqrt(truth.interaction) * r.NormFloat64()
			for range p(i, j) {
				obs = append(obs, Observation{fmt.Sprint(i), fmt.Sprint(j), 138 + a + b[j] + ab + math.Sqrt(truth.repeat)*r.NormFloat64()})
			}
		}
	}
	return obs
}

// The estimator is unbiased on full and on ragged plans: the mean of 1500 studies, five of its own standard errors.
func TestUnbiased(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 9))
	truth := components{board: 4, station: 1, interaction: 0.5, repeat: 0.25}
	for name, p := range map[string]plan{
		"balanced": func(i, j int) int { return 2 },
		"ragged":   func(i, j int) int { return (i + 2*j) % 4 },
	} {
		const runs = 1500
		var sum, squares [4]float64
		for range runs {
			q := gather(simulate(random, 8, 4, truth, p))
			c := q.full()
			for k, v := range []float64{c.board, c.station, c.interaction, c.repeat} {
				sum[k] += v / runs
				squares[k] += v * v / runs
			}
		}
		for k, want := range []float64{truth.board, truth.station, truth.interaction, truth.repeat} {
			near(t, fmt.Sprint(name, " component ", k), sum[k], want, 5*math.Sqrt((squares[k]-sum[k]*sum[k])/runs))
		}
	}
}

// The expectation of a quadratic form in effects of unit variance is the sum of its values at the effects'
// indicator vectors. The estimates are quadratic forms, so over the indicators of one component they must add up to
// one for that component and to nought for the others, exactly, on any plan.
func TestExpectations(t *testing.T) {
	plan := func(i, j int) int { return (i + 2*j) % 4 }
	var obs []Observation
	for i := range 5 {
		for j := range 3 {
			for range plan(i, j) {
				obs = append(obs, Observation{fmt.Sprint(i), fmt.Sprint(j), 0})
			}
		}
	}
	for k, level := range []func(n int, o Observation) string{
		func(_ int, o Observation) string { return o.Board },
		func(_ int, o Observation) string { return o.Station },
		func(_ int, o Observation) string { return o.Board + "/" + o.Station },
		func(n int, _ Observation) string { return fmt.Sprint(n) },
	} {
		levels := map[string]bool{}
		for n, o := range obs {
			levels[level(n, o)] = true
		}
		var sum [4]float64
		for l := range levels {
			y := slices.Clone(obs)
			for n := range y {
				if level(n, obs[n]) == l {
					y[n].Value = 1
				}
			}
			c := gather(y).full()
			for i, v := range []float64{c.board, c.station, c.interaction, c.repeat} {
				sum[i] += v
			}
		}
		for i, v := range sum {
			want := 0.0
			if i == k {
				want = 1
			}
			near(t, fmt.Sprintf("estimate %d of component %d", i, k), v, want, 1e-12)
		}
	}
}

// The same of boards and repetition alone, on any numbers of readings, and no board component of a single board.
func TestExpectationsOneWay(t *testing.T) {
	var obs []Observation
	for i := range 5 {
		for range i + 1 {
			obs = append(obs, Observation{fmt.Sprint(i), "a station", 0})
		}
	}
	var board, repeat components
	add := func(to *components, ones func(n int) bool) {
		y := slices.Clone(obs)
		for n := range y {
			if ones(n) {
				y[n].Value = 1
			}
		}
		c := gather(y).oneWay()
		to.board, to.repeat = to.board+c.board, to.repeat+c.repeat
	}
	for i := range 5 {
		add(&board, func(n int) bool { return obs[n].Board == fmt.Sprint(i) })
	}
	for k := range obs {
		add(&repeat, func(n int) bool { return n == k })
	}
	near(t, "boards of boards", board.board, 1, 1e-12)
	near(t, "repetition of boards", board.repeat, 0, 1e-12)
	near(t, "boards of repetition", repeat.board, 0, 1e-12)
	near(t, "repetition of repetition", repeat.repeat, 1, 1e-12)
	s, err := Of(obs[10:])
	if err != nil || !math.IsNaN(s.BoardToBoard) || s.Freedom != 4 || s.Total != s.Gauge {
		t.Errorf("one board: %+v, %v", s, err)
	}
}

// What is measured adds in quadrature: the gauge is repetition, stations and interaction; with the boards it is all.
func TestParts(t *testing.T) {
	truth := components{board: 4, station: 1, interaction: 2, repeat: 0.25}
	s, err := Of(simulate(rand.New(rand.NewPCG(8, 12)), 8, 4, truth, func(i, j int) int { return 1 + (i+j)%3 }))
	if err != nil || s.Interaction == 0 || s.Reproducibility == 0 {
		t.Fatalf("%+v, %v", s, err)
	}
	squares := s.Repeatability*s.Repeatability + s.Reproducibility*s.Reproducibility + s.Interaction*s.Interaction
	near(t, "gauge", s.Gauge*s.Gauge, squares, 1e-12)
	near(t, "all", s.Total*s.Total, squares+s.BoardToBoard*s.BoardToBoard, 1e-12)
	// Two pairs of stations with no board in common: what lies between the pairs is that of their boards.
	const apart = "boards and stations are not linked well enough to tell them all apart"
	two := simulate(rand.New(rand.NewPCG(8, 13)), 6, 4, truth, func(i, j int) int { return 2 * (1 - (i+j/2)%2) })
	if s, err := Of(two); err != nil || !slices.Contains(s.Notes, apart) {
		t.Errorf("%+v, %v", s, err)
	}
	if slices.Contains(s.Notes, apart) {
		t.Errorf("%+v", s)
	}
}

// The repeatability's interval covers the truth in 95 % of studies (2000 of them: five standard errors are 2.4 %).
func TestRepeatabilityInterval(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 10))
	hits := 0
	const runs = 2000
	for range runs {
		s, err := Of(simulate(random, 6, 2, components{board: 1, station: 0.3, interaction: 2, repeat: 0.09}, func(i, j int) int { return 2 + i%2 }))
		if err != nil {
			t.Fatal(err)
		}
		if s.Interval95[0] <= 0.3 && 0.3 <= s.Interval95[1] {
			hits++
		}
	}
	near(t, "coverage", float64(hits)/runs, 0.95, 0.024)
}

func TestWhatCannotBeTold(t *testing.T) {
	if _, err := Of(nil); err != ErrFew {
		t.Error(err)
	}
	random := rand.New(rand.NewPCG(8, 11))
	truth := components{board: 4, station: 1, interaction: 0, repeat: 0.25}
	for _, c := range []struct {
		name           string
		stations       int
		p              plan
		station, fails bool
		repeatNear     float64
		freedom        int
	}{
		{"one station", 1, func(i, j int) int { return 3 }, false, false, 0.5, 80},
		{"each board on its own station", 4, func(i, j int) int {
			if i%4 == j {
				return 3
			}
			return 0
		}, false, false, 0.5, 80},
		{"once on each station", 3, func(i, j int) int { return 1 }, true, false, 0.5, 78},
		{"each board once", 1, func(i, j int) int { return 1 }, false, true, 0, 0},
	} {
		s, err := Of(simulate(random, 40, c.stations, truth, c.p))
		if c.fails {
			if err != ErrFew {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		if err != nil {
			t.Fatal(c.name, err)
		}
		if known := !math.IsNaN(s.Reproducibility); known != c.station || len(s.Notes) == 0 || s.Freedom != c.freedom {
			t.Errorf("%s: %+v", c.name, s)
		}
		near(t, c.name, s.Repeatability, c.repeatNear, 0.15) // 80 degrees of freedom: 8 %, four times that
	}
}

func TestNegativeIsSetToNought(t *testing.T) {
	// Two stations that agree on the mean better than the repetition lets them: the station component is negative.
	obs := []Observation{{"1", "A", 1}, {"1", "A", -1}, {"1", "B", 1}, {"1", "B", -1}, {"2", "A", 6}, {"2", "A", 4}, {"2", "B", 6}, {"2", "B", 4}}
	s, err := Of(obs)
	if err != nil {
		t.Fatal(err)
	}
	if s.Reproducibility != 0 || !slices.Contains(s.Notes, "the station component came out negative and is set to nought") {
		t.Errorf("%+v", s)
	}
}

func TestWarning(t *testing.T) {
	s := Study{Gauge: 0.1}
	near(t, "share", s.Share(-1, 1), 0.3, 1e-12)
	for share, says := range map[float64][]string{0.05: nil, Marginal: nil, 0.2: {"20 %", "10 %", "marginal"}, Unfit: {"30 %", "marginal"}, 0.4: {"40 %", "30 %", "not safe"}} {
		got := Warning(share)
		for _, part := range says {
			if !strings.Contains(got, part) {
				t.Errorf("a share of %g: %q lacks %q", share, got, part)
			}
		}
		if (got == "") != (says == nil) {
			t.Errorf("a share of %g: %q", share, got)
		}
	}
}
