package gauge

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire/acquiretest/expect"
)

// published is one study of the published file: data[part][operator][repeat].
type published struct {
	Data   [][][]float64
	Pooled struct {
		EV, AV, Gauge, PV float64
		FreedomOfError    int `toml:"df_error"`
		Components        struct{ E, O, P float64 }
	} `toml:"recomputed_pooled"`
	Recomputed struct {
		E float64 `toml:"pooled_E"`
		O float64 `toml:"pooled_O"`
		P float64 `toml:"pooled_P"`
	} `toml:"recomputed"`
}

func (p *published) readings() (obs []Observation, readings []Reading) {
	for i, operators := range p.Data {
		for j, repeats := range operators {
			for _, v := range repeats {
				board, operator := fmt.Sprint("part ", i), fmt.Sprint("operator ", j)
				obs = append(obs, Observation{board, operator, v})
				readings = append(readings, Reading{Board: board, Operator: operator, Value: v})
			}
		}
	}
	return obs, readings
}

// Three published two-way studies (the file names them), whose interaction comes out negative and is pooled: the components
// to the file's digits, and each operator's bias with its uncertainty, which in a balanced study is the mean of its readings
// less that of all, and sqrt(MSe/n (1 - 1/o)) of n readings an operator.
func TestPublishedStudies(t *testing.T) {
	var f struct {
		Automotive published `toml:"automotive_10x3x3"`
		Textbook   published `toml:"textbook_20x3x2"`
	}
	expect.Values(t, "gauge_study.toml", &f)
	for name, c := range map[string]struct {
		study   *published
		e, o, p float64
		freedom float64
	}{
		"automotive": {&f.Automotive, f.Automotive.Pooled.Components.E, f.Automotive.Pooled.Components.O, f.Automotive.Pooled.Components.P, float64(f.Automotive.Pooled.FreedomOfError)},
		"textbook":   {&f.Textbook, f.Textbook.Recomputed.E, f.Textbook.Recomputed.O, f.Textbook.Recomputed.P, 98},
	} {
		obs, readings := c.study.readings()
		s, err := Of(obs)
		if err != nil {
			t.Fatal(err)
		}
		expect.Near(t, name+": repeatability", s.Repeatability, math.Sqrt(c.e), 1e-6)
		expect.Near(t, name+": reproducibility", s.Reproducibility, math.Sqrt(c.o), 4e-6) // six digits are printed of its square
		expect.Near(t, name+": boards", s.BoardToBoard, math.Sqrt(c.p), 1e-6)
		got := EffectsOf(readings)
		operators := len(c.study.Data[0])
		each := float64(len(obs) / operators)
		if len(got.All) != operators || got.Freedom != c.freedom {
			t.Fatalf("%s: %+v", name, got)
		}
		all, own := 0.0, map[string]float64{}
		for _, r := range readings {
			all += r.Value / float64(len(readings))
			own[r.Operator] += r.Value / each
		}
		for _, e := range got.All {
			expect.Within(t, name+": bias of "+e.Level, e.Bias, own[e.Level]-all, 1e-12)
			expect.Near(t, name+": its uncertainty", e.Uncertainty, math.Sqrt(c.e/each*(1-1/float64(operators))), 1e-6)
			if !e.Within || e.Factor != "operator" {
				t.Errorf("%s: %+v", name, e)
			}
		}
	}
}

// The same studies with every seventh reading dropped, as the published file says: components by Henderson's method 3,
// computed there by projections, to its digits; the interaction comes out negative.
func TestUnbalancedStudies(t *testing.T) {
	var f struct {
		Automotive published `toml:"automotive_10x3x3"`
		Textbook   published `toml:"textbook_20x3x2"`
		Unbalanced map[string]any
	}
	expect.Values(t, "gauge_study.toml", &f)
	for name, study := range map[string]*published{"automotive_10x3x3": &f.Automotive, "textbook_20x3x2": &f.Textbook} {
		want := f.Unbalanced[name].(map[string]any)["henderson3"].(map[string]any)
		all, _ := study.readings()
		var obs []Observation
		for i, o := range all {
			if i%7 != 3 {
				obs = append(obs, o)
			}
		}
		c := gather(obs).full()
		for key, got := range map[string]float64{"E": c.repeat, "PO": c.interaction, "O": c.station, "P": c.board} {
			expect.Near(t, name+": "+key, got, want[key].(float64), 6e-6) // six digits are printed of some
		}
	}
}

// A lot whose boards differ much is captured once on each of two of four benches: the boards' scatter is no repetition.
func TestBoardsAreNoRepetition(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 24))
	var obs []Observation
	for i := range 24 {
		board := 100 * random.NormFloat64()
		for k := range 2 {
			obs = append(obs, Observation{fmt.Sprint(i), fmt.Sprint((i + 2*k + k*(i%2)) % 4), board + 0.1*random.NormFloat64()})
		}
	}
	s, err := Of(obs)
	if err != nil || !(math.Abs(s.Repeatability-0.1) <= 0.06) || !(math.Abs(s.BoardToBoard-100) <= 50) {
		t.Errorf("%+v, %v", s, err)
	}
}

// world draws readings of a lot: three stations, two operators, boards captured at 15 to 35 °C.
type world struct {
	random                *rand.Rand
	station, operator     []float64
	perK, boards, repeats float64
}

func (w *world) readings(boards, each int) []Reading {
	var out []Reading
	for i := range boards {
		board := w.boards * w.random.NormFloat64()
		for range each {
			s, o := w.random.IntN(len(w.station)), w.random.IntN(len(w.operator))
			at := 15 + 20*w.random.Float64()
			out = append(out, Reading{fmt.Sprint("lamp ", i), fmt.Sprint("bench ", s), fmt.Sprint("hand ", o), &at,
				board + w.station[s] + w.operator[o] + w.perK*(at-25) + w.repeats*w.random.NormFloat64()})
		}
	}
	return out
}

// Crossed biases and the temperature's slope come back from unbalanced lots, where boards are measured three times and where
// each is measured once; their 95 % intervals cover the truth: 400 lots each, five standard errors.
func TestEffectsCover(t *testing.T) {
	w := &world{random: rand.New(rand.NewPCG(19, 21)), station: []float64{0, 0.004, -0.001}, operator: []float64{0.002, 0}, perK: -300e-6, boards: 0.01, repeats: 0.001}
	truth := map[string]float64{"bench 0": -0.001, "bench 1": 0.003, "bench 2": -0.002, "hand 0": 0.001, "hand 1": -0.001, "": -300e-6}
	for _, c := range []struct {
		boards, each int
		within       bool
	}{{20, 3, true}, {60, 1, false}} {
		hits, total := 0, 0
		sums, squares := map[string]float64{}, map[string]float64{}
		const lots = 400
		for range lots {
			e := EffectsOf(w.readings(c.boards, c.each))
			if len(e.All) != 6 {
				t.Fatalf("%+v", e)
			}
			for _, x := range e.All {
				if x.Within != c.within {
					t.Fatalf("%+v", x)
				}
				total++
				if x.Interval95[0] <= truth[x.Level] && truth[x.Level] <= x.Interval95[1] {
					hits++
				}
				d := x.Bias - truth[x.Level]
				sums[x.Level], squares[x.Level] = sums[x.Level]+d/lots, squares[x.Level]+d*d/lots
			}
		}
		share := float64(hits) / float64(total)
		expect.Within(t, fmt.Sprintf("coverage, %d each", c.each), share, 0.95, 5*math.Sqrt(0.95*0.05/lots/2)) // effects of one lot err together
		for level, d := range sums {
			expect.Within(t, "bias of the estimate of "+level, d, 0, 5*math.Sqrt(squares[level]/lots))
		}
	}
}

// Boards captured at 15 and at 35 °C that follow it by -300 ppm/K: the slope is told, and what is left is the repetition
// alone.
func TestTemperatureIsNoRepeatability(t *testing.T) {
	w := &world{random: rand.New(rand.NewPCG(19, 22)), station: []float64{0}, operator: []float64{0}, perK: -300e-6, boards: 0.01, repeats: 5e-5}
	e := EffectsOf(w.readings(12, 4))
	if len(e.All) != 1 || !e.All[0].Within || !(math.Abs(e.PerK+300e-6) <= 4*e.All[0].Uncertainty) || e.All[0].Uncertainty > 3e-6 {
		t.Errorf("%+v", e)
	}
	w.perK = 0
	if e := EffectsOf(w.readings(12, 4)); e.PerK != 0 && !(math.Abs(e.PerK) <= 1e-5) {
		t.Errorf("%+v", e)
	}
}

// Factors that always go together are not told apart, and what there is none of is no effect.
func TestEffectsThatAreNotTold(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 23))
	var together, plain []Reading
	for i := range 20 {
		k := i % 2
		together = append(together, Reading{Board: fmt.Sprint(i), Station: fmt.Sprint("bench ", k), Operator: fmt.Sprint("hand ", k), Value: random.NormFloat64()})
		plain = append(plain, Reading{Board: fmt.Sprint(i / 2), Station: "bench", Value: random.NormFloat64()})
	}
	if e := EffectsOf(together); len(e.All) != 0 || len(e.Notes) != 2 {
		t.Errorf("%+v", e)
	}
	same := 23.5
	for i := range plain {
		plain[i].Temperature = &same
	}
	if e := EffectsOf(plain); len(e.All) != 0 || len(e.Notes) != 0 {
		t.Errorf("%+v", e)
	}
	// Three readings tell two boards and a difference of stations, and leave nothing to judge it by; four leave one degree of freedom.
	few := []Reading{{Board: "1", Station: "a", Value: 1}, {Board: "1", Station: "b", Value: 2}, {Board: "2", Station: "a", Value: 4}, {Board: "2", Station: "b", Value: 5.2}}
	if e := EffectsOf(few[:3]); len(e.All) > 0 && e.All[0].Within {
		t.Errorf("%+v", e)
	}
	// By hand: differences of 1 and 1.2 halve to ±0.55, and scatter by 0.1/√2 in the mean of each board.
	if e := EffectsOf(few); len(e.All) != 2 || !e.All[0].Within || e.Freedom != 1 || !(math.Abs(e.All[0].Bias+0.55) <= 1e-12) || !(math.Abs(e.All[1].Bias-0.55) <= 1e-12) || !(math.Abs(e.All[0].Uncertainty-0.05) <= 1e-12) {
		t.Errorf("%+v", e)
	}
	if e := EffectsOf(nil); len(e.All) != 0 {
		t.Errorf("%+v", e)
	}
}
