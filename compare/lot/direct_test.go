package lot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot/chart"
	"offbeat/compare/lot/hierarchy"
)

// grid are normal points, their quantiles in turn along a direction, with a little across it: no chance is in them.
func grid(n int, middle, along point, width float64) []point {
	out := make([]point, n)
	for i := range out {
		q := width * distuv.UnitNormal.Quantile((float64(i)+0.5)/float64(n))
		e := 0.1 * width * math.Sin(float64(7*i))
		out[i] = point{middle[0] + q*along[0] - e*along[1], middle[1] + q*along[1] + e*along[0]}
	}
	return out
}

// Two groups that lie well apart, along either axis or across both, are found and split as they were made; one group, of any
// shape, is not, nor are too few boards, a group of two or one below a tenth of the lot.
func TestGroupsAsMade(t *testing.T) {
	even := func(n int) []point {
		out := grid(n, point{}, point{1, 0}, 0.01)
		for i := range out {
			out[i][0] = float64(i) / float64(n)
		}
		return out
	}
	lean := grid(300, point{}, point{1, 0.2}, 1) // lognormal
	for i := range lean {
		lean[i][0] = math.Exp(0.6 * lean[i][0])
	}
	for _, c := range []struct {
		name       string
		first      []point
		second     []point
		dimensions int
		two        bool
	}{
		{"along the high time", grid(14, point{}, point{0, 1}, 0.01), grid(8, point{0.2, 0}, point{0, 1}, 0.01), 2, true},
		{"along the low time", grid(14, point{}, point{1, 0}, 0.01), grid(8, point{0, -0.2}, point{1, 0}, 0.01), 2, true},
		{"across both", grid(8, point{}, point{0.6, 0.8}, 0.02), grid(8, point{0.3, -0.3}, point{0.6, 0.8}, 0.02), 2, true},
		{"the high time alone", grid(12, point{}, point{1, 0}, 0.01), grid(5, point{0.09, 0}, point{1, 0}, 0.01), 1, true},
		{"many boards", grid(24, point{}, point{1, 0}, 0.01), grid(16, point{0.09, 0}, point{1, 0}, 0.01), 1, true},
		{"eight boards", grid(4, point{}, point{0, 1}, 0.01), grid(4, point{0.2, 0}, point{0, 1}, 0.01), 2, true},
		{"seven boards", grid(4, point{}, point{0, 1}, 0.01), grid(3, point{0.2, 0}, point{0, 1}, 0.01), 2, false},
		{"a group of two", grid(14, point{}, point{0, 1}, 0.01), grid(2, point{0.2, 0}, point{0, 1}, 0.01), 2, false},
		{"a twentieth of the lot", grid(95, point{}, point{0, 1}, 0.01), grid(5, point{0.2, 0}, point{0, 1}, 0.01), 2, false},
		{"one normal group", grid(24, point{}, point{0.6, 0.8}, 0.02), nil, 2, false},
		{"an even group", even(24), nil, 2, false},
		{"a large even group", even(80), nil, 1, false},
		{"a group that leans", lean, nil, 1, false},
	} {
		m := twoGroups(append(slices.Clone(c.first), c.second...), c.dimensions)
		if (m != nil) != c.two {
			t.Errorf("%s: two groups %v", c.name, m != nil)
		}
		if m == nil {
			continue
		}
		a, b := slices.Max(m.member[:len(c.first)]), slices.Min(m.member[len(c.first):])
		if m.member[0] > 0.5 {
			a, b = 1-slices.Min(m.member[:len(c.first)]), 1-slices.Max(m.member[len(c.first):])
		}
		if a > 0.1 || b < 0.9 {
			t.Errorf("%s: the first group belongs to the second by %v at most, the second by %v at least", c.name, a, b)
		}
	}
}

// Groups closer together than two standard uncertainties of measuring a board, in either time, are one.
func TestGroupsBelowMeasuring(t *testing.T) {
	c := NewCollector(lamp())
	for k, noises := range [][]float64{{1.1e-10}, {1.1e-10, 0.8e-10}} {
		for _, noise := range noises { // 2e-5 is twice the root of 1e-10
			middle, along := point{}, point{}
			middle[k], along[1-k] = 2e-5, 1
			var rows []*Row
			for i, p := range append(grid(14, point{}, along, 1e-6), grid(8, middle, along, 1e-6)...) {
				r := &Row{Board: fmt.Sprint(i), predicted: [2]float64{4e-3, 3e-3}}
				r.times.High, r.times.Low, r.times.Noise.High, r.times.Noise.Low = p[0]+0.02, p[1]-0.01, 1e-14, 1e-14
				if k == 0 {
					r.times.Noise.High = noise
				} else {
					r.times.Noise.Low = noise
				}
				rows = append(rows, r)
			}
			b := c.batches(rows, &moved{}, Options{})
			if (b == nil) != (noise > 1e-10) {
				t.Errorf("noise %g: %d batches", noise, len(b))
			} else if b != nil {
				for i, r := range rows {
					if slices.Contains(b[0].rows, r) != (i < 14) || slices.Contains(b[1].rows, r) != (i >= 14) {
						t.Errorf("board %d belongs to the other batch", i)
					}
				}
			}
		}
	}
	if names := few([]string{"a", "b", "c"}, 3); names != "a, b, c" {
		t.Error(names)
	}
}

// How quantities go with the parts, by the textbook's ln 2 (R1 + R2) C and ln 2 R2 C (SLFS022I p. 11).
func TestSlopesByTheTextbook(t *testing.T) {
	const r1, r2 = 10e3, 47e3
	m, err := hierarchy.NewModel(lamp(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for quantity, want := range map[string][3]float64{
		"high_time":   {r1 / (r1 + r2), r2 / (r1 + r2), 1},
		"low_time":    {0, 1, 1},
		"period":      {r1 / (r1 + 2*r2), 2 * r2 / (r1 + 2*r2), 1},
		"frequency":   {-r1 / (r1 + 2*r2), -2 * r2 / (r1 + 2*r2), -1},
		"duty_factor": {r1/(r1+r2) - r1/(r1+2*r2), r2/(r1+r2) - 2*r2/(r1+2*r2), 0},
	} {
		for k, part := range []string{"R1", "R2", "C1"} {
			if got := slopeOf(m, quantity, part, [2]float64{r1 + r2, r2}); !(math.Abs(got-want[k]) <= 1e-3) {
				t.Errorf("%s by %s: %.5f, want %.5f", quantity, part, got, want[k])
			}
		}
	}
}

// A capture that is listed twice is said to be, by both of its names where they are two.
func TestListedTwice(t *testing.T) {
	b := &Board{Name: "lamp 7"}
	if d := b.copied("x.csv", "x.csv"); d.Detail != "lamp 7: x.csv is listed twice; it counts once" || len(d.Captures) != 1 {
		t.Errorf("%+v", d)
	}
	if d := b.copied("y.csv", "x.csv"); d.Detail != "lamp 7: y.csv is a copy of x.csv; it counts once" || len(d.Captures) != 2 {
		t.Errorf("%+v", d)
	}
}

// The chance of a signal in a steady lot of twenty, its limits from its own points, is that of the published simulation
// (ewma_arl.csv, estimated_20: own-set alarm share 0.0502, 40,000 charts); where nothing signals there is nothing to put down to chance.
func TestChanceOfASignal(t *testing.T) {
	d := drawing{rules: []int{1}}
	x := make([]float64, 20)
	random := rand.New(rand.NewPCG(19, 31))
	for i := range x {
		x[i] = random.NormFloat64()
	}
	x[7] = 9
	all, _ := d.of(x)
	if len(all[0].Signals) != 1 {
		t.Fatalf("%+v", all[0].Signals)
	}
	got := d.chances(all, len(x), 3)
	near(t, "one point beyond its limits", got[0], 0.0502, 5*math.Sqrt(0.0502*0.95/1000))
	for i := range all {
		all[i].Signals = nil
	}
	for _, p := range d.chances(all, len(x), 3) {
		near(t, "no signal", p, 1, 0)
	}
	two := []chart.Chart{{Signals: make([]chart.Signal, 1)}, {}}
	near(t, "as many or more than none", d.chances(two, len(x), 3)[1], 1, 1e-9)
}

// How boards follow the temperature is one regression with a mean for each board; its uncertainty is the larger of what the
// residuals say, Student's factor in, and what the captures state.
func TestSlopeOfBoards(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 32))
	for _, c := range []struct {
		boards, captures int
		u                float64
		against          bool // the low time scatters against the high one
	}{{3, 5, 1e-7, false}, {3, 5, 1e-3, false}, {3, 5, 1e-7, true}, {4, 2, 1e-7, false}, {3, 2, 1e-7, false}, {2, 3, 1e-5, false}} {
		var rows []*Row
		var tt, ty, yy, stated, widest float64
		for board := range c.boards {
			row := &Row{}
			var ts, ys []float64
			for k := range c.captures {
				at, e := 15+20*(float64(k)+0.5*random.Float64())/float64(c.captures), 1e-4*random.NormFloat64()
				y := math.Log(5e-3) + 0.01*float64(board) - 3e-4*at
				low, p := 0.4*math.Exp(y+e), math.Exp(y+e)
				if c.against {
					low, p = 0.4*math.Exp(y-e), 0.6*math.Exp(y+e)+0.4*math.Exp(y-e)
				}
				ts, ys = append(ts, at), append(ys, math.Log(p))
				row.Each = append(row.Each, Repeat{Temperature: &at, Values: [5]float64{0.6 * math.Exp(y+e), low, p}, Uncertainties: [5]float64{0.6 * p * c.u, low * c.u, p * c.u}})
			}
			row.Each = append(row.Each, Repeat{Values: [5]float64{1, 1, 1}}) // without a temperature
			mt, my := stat.Mean(ts, nil), stat.Mean(ys, nil)
			for i := range ts {
				a, b := ts[i]-mt, ys[i]-my
				tt, ty, yy, stated = tt+a*a, ty+a*b, yy+b*b, stated+a*a*c.u*c.u
			}
			widest = max(widest, slices.Max(ts)-slices.Min(ts))
			rows = append(rows, row)
		}
		d := NewCollector(lamp()).follows(rows)
		dof := float64(c.boards*c.captures - c.boards - 1)
		want := math.Sqrt(stated) / tt
		if dof >= 3 { // their scatter tells, where it is larger
			want = max(want, math.Sqrt((yy-ty*ty/tt)/tt/(dof-2)))
		}
		near(t, "slope", d.Value, ty/tt, 1e-12)
		near(t, "uncertainty", d.Uncertainty, want, 1e-9*want)
		near(t, "range", d.Range, widest, 1e-12)
		correlation := 0.0
		if dof >= 10 && c.u < 1e-4 {
			correlation = map[bool]float64{false: 0.999, true: -0.999}[c.against]
		}
		if d.Seen != (math.Abs(ty/tt) > compare.Seen*want) || d.High.Count != c.boards*c.captures || c.u < 1e-4 && d.Correlation != correlation {
			t.Errorf("%+v: %+v", c, d)
		}
		if !c.against {
			near(t, "high", d.High.Value, d.Value, 1e-12) // all times follow alike
		}
	}
}

// Of boards that are captured three times each those whose captures scatter far more than the others' are split, the worst first.
func TestUnlikeBoardsAreSplit(t *testing.T) {
	for _, c := range []struct {
		off  []float64 // of each board's last capture
		want string
	}{
		{[]float64{0, 0, 0, 0, 0, 0, 0, 0}, ""}, {[]float64{0, 0, 0.03, 0, 0, 0, 0, 0}, "b2"}, {[]float64{0, 0.05, 0, 0, 0.2, 0, 0, 0}, "b4 b1"},
		{[]float64{0.001, 0, 0, 0, 0.004, 0, 0, 0}, ""}, // below what boards of one kind differ by
	} {
		col := NewCollector(lamp())
		random := rand.New(rand.NewPCG(19, 33))
		for i, off := range c.off {
			row := Row{Board: fmt.Sprint("b", i), Verdict: "pass"}
			for k := range 3 {
				v := 1 + 1e-4*random.NormFloat64() + off*float64(k/2)
				row.Each = append(row.Each, Repeat{Capture: "x", Values: [5]float64{4e-3 * v, 3e-3 * v}, Uncertainties: [5]float64{4e-7, 3e-7}})
			}
			col.rows = append(col.rows, row)
		}
		col.rows = append(col.rows, Row{Board: "broken", Error: "cut short", Each: make([]Repeat, 2)}, Row{Board: "alone", Each: make([]Repeat, 1)})
		col.unlike()
		var got []string
		for _, d := range col.duplicates {
			got = append(got, d.Boards[0])
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%v: %q, want %q", c.off, got, c.want)
		}
	}
}

// What most boards fail by, and what the target bears of it: the frequency goes as one over C (SLFS022I p. 11), so a batch off by z
// makes f exp(shift) / (1 + z), which two standard deviations of the boards must not take beyond the limits.
func TestHeadlineByHand(t *testing.T) {
	d := lamp()
	d.Targets[0].Low, d.Targets[0].High = 135, 142
	c := NewCollector(d)
	var rows []*Row
	f := []float64{144.5, 145, 145.5, 145.2, 144.8, 170}
	for i, x := range f {
		r := &Row{Board: fmt.Sprint(i), predicted: [2]float64{57, 47}}
		r.Values[3] = x
		rows = append(rows, r)
	}
	mean, sd := stat.MeanStdDev(f[:5], nil)
	value := 95e-9
	report := func() *Report {
		return &Report{Boards: Count{Pass: 1, Fail: 4, Undecided: 1}, Outliers: []string{"5"}, Causes: []compare.Cause{{Cause: cause.Nothing, Probability: 0.8}},
			Parts: []Part{{Name: "R1", Shift: Estimate{Value: 0.01}}, {Name: "C1", Shift: Estimate{Value: math.Log(0.95)}, OutOfTolerance: 0.2}}}
	}
	h := c.headline(report(), rows)
	if h == nil || h.Part != "C1" || !h.Inside || h.Failing != 4 || h.Boards != 6 || h.Bears == nil || h.Likely != 0.8 || h.Aside != 1 {
		t.Fatalf("%+v", h)
	}
	near(t, "mean", h.Mean, mean, 1e-9)
	near(t, "shift", h.Shift, -0.05, 1e-12)
	near(t, "tolerance", h.Tolerance, 0.1, 0)
	near(t, "least borne", h.Bears[0], mean*0.95/(142-2*sd)-1, 1e-6)
	near(t, "most borne", h.Bears[1], mean*0.95/(135+2*sd)-1, 1e-6)
	for name, k := range map[string]struct {
		spoil func(r *Report)
		none  bool // no headline; else one without a part
		part  string
	}{
		"half pass":          {func(r *Report) { r.Boards.Pass = 4 }, true, ""},
		"two boards":         {func(r *Report) { r.Boards = Count{Fail: 2} }, true, ""},
		"dead boards among":  {func(r *Report) { r.Boards = Count{Pass: 4, Fail: 6, Silent: 3} }, true, ""},
		"dead boards aside":  {func(r *Report) { r.Boards = Count{Fail: 9, Silent: 7} }, true, ""},
		"two batches":        {func(r *Report) { r.Batches = make([]Batch, 2) }, true, ""},
		"nothing moved much": {func(r *Report) { r.Parts = nil }, false, ""},
		"two parts alike":    {func(r *Report) { r.Parts[0].Shift.Value = -0.4 }, false, ""},
		"another cause":      {func(r *Report) { r.Causes[0] = compare.Cause{Cause: "leakage", Parts: []string{"C1"}} }, false, ""},
		"not told":           {func(r *Report) { r.Causes = nil }, false, ""},
		"by the cause it names": {func(r *Report) {
			r.Causes[0] = compare.Cause{Cause: "shifted", Parts: []string{"C1"}, Value: &value, Unit: "F"}
		}, false, "C1"},
		"a value of another kind": {func(r *Report) {
			r.Causes[0] = compare.Cause{Cause: "shifted", Parts: []string{"C1"}, Value: &value, Unit: "ohm"}
		}, false, ""},
		"takes none off target": {func(r *Report) { r.Parts[1].Shift.Value = -0.2 }, false, ""},
	} {
		r := report()
		k.spoil(r)
		if h := c.headline(r, rows); (h == nil) != k.none || h != nil && h.Part != k.part {
			t.Errorf("%s: %+v", name, h)
		}
	}
	r := report()
	c.design.Parts[2].Minus = 0.04
	if h := c.headline(r, rows); h == nil || h.Inside || h.Tolerance != 0.04 {
		t.Errorf("a part below a narrower side: %+v", h)
	}
	c.design.Parts[2].Minus = 0.1
	r.Parts[1].OutOfTolerance = 0.6
	if h := c.headline(r, rows); h == nil || h.Inside {
		t.Errorf("likely out of tolerance: %+v", h)
	}
	for _, p := range []struct {
		spread, u float64
		want      bool
	}{{0.07, 0.004, true}, {0.07, 0.01, false}, {0.05, 0, false}} { // a rectangle of 10 %: 5.8 %
		r := &Report{Parts: []Part{{Name: "C1", Spread: Estimate{Value: p.spread, Uncertainty: p.u}}}}
		if got := r.scattering(d) != nil; got != p.want {
			t.Errorf("spread %v ± %v: scatters %v", p.spread, p.u, got)
		}
	}
}

// Names are kept once, and what a board that stands out is said to have is said against the others.
func TestNamesAndTitles(t *testing.T) {
	if got := With(With(With(nil, ""), "a"), "a"); !slices.Equal(got, []string{"a"}) {
		t.Error(got)
	}
	r := &Row{Cause: compare.Cause{Cause: "shifted", Parts: []string{"C1"}}}
	own := r.CauseTitle()
	r.Apart = new(Apart)
	if got := r.CauseTitle(); got == own || got != AgainstOthers(own) {
		t.Errorf("%q, against the others %q", own, got)
	}
	c := NewCollector(lamp())
	if c.others(nil) != nil || c.others([]Part{{Name: "R1"}}) != nil {
		t.Error("others without parts")
	}
	some := Estimate{Value: 0.01}
	if all := []Part{{Name: "R1", Spread: some}, {Name: "R2", Spread: some}, {Name: "C1", Spread: some}}; c.others(all) == nil {
		t.Error("no others")
	}
}

// What the boards have in common is told of the centre's parts as logarithms: an interval of 95 % of a normal value is 1.96 standard uncertainties
// wide to either side, and parts that did not move did not for the whole lot.
func TestWhatBoardsHaveInCommon(t *testing.T) {
	const u = 0.012
	wide := math.Exp(distuv.UnitNormal.Quantile(0.975) * u)
	m := &moved{}
	spread := hierarchy.Spread{Value: 0.02, Standard: 0.003, Interval95: [2]float64{0.01, 0.03}}
	m.common(&compare.Finding{Causes: []compare.Cause{{Cause: cause.Nothing, Detail: "x"}, {Cause: "shifted", Detail: "y"}},
		Parts: []compare.Part{{Name: "C1", Nominal: 100e-9, Value: 93e-9, Interval95: [2]float64{93e-9 / wide, 93e-9 * wide}, OutOfTolerance: 0.1}}}, &hierarchy.Result{Spreads: []hierarchy.Spread{spread}})
	p := m.parts[0]
	near(t, "shift", p.Shift.Value, math.Log(0.93), 1e-12)
	near(t, "its uncertainty", p.Shift.Uncertainty, u, 1e-12)
	near(t, "least", p.Shift.Interval95[0], math.Log(0.93/wide), 1e-12)
	near(t, "most", p.Shift.Interval95[1], math.Log(0.93*wide), 1e-12)
	if p.Name != "C1" || p.OutOfTolerance != 0.1 || p.Spread != (Estimate{0.02, 0.003, spread.Interval95}) || !strings.Contains(m.causes[0].Detail, "whole lot") || m.causes[1].Detail != "y" {
		t.Errorf("%+v %+v", p, m.causes)
	}
}

// A board is split where its captures scatter by more than chance allows of one board in 10 000 lots: against their stated uncertainty by the tail
// of chi-square, against the other boards' repeats by that of F, and against few of these by a hundred times their variance.
func TestHowFarCapturesOfABoardScatter(t *testing.T) {
	ratioOf := func(tail func(ratio float64) float64, risk float64) float64 { // by halving
		lo, hi := 1.0, 1e9
		for range 200 {
			if mid := math.Sqrt(lo * hi); tail(mid) > risk {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}
	for _, c := range []struct {
		boards, each int
		stated       float64 // relative, of each capture
		others       float64 // standard deviation of the other boards' captures
	}{{1, 2, 1e-3, 0}, {1, 4, 2e-3, 0}, {12, 3, 1e-9, 1e-3}, {2, 2, 1e-9, 1e-3}, {3, 2, 1e-3, 1e-9}, {12, 2, 1e-4, 2e-3}} {
		n := float64(c.each - 1)
		risk := 1e-4 / float64(2*c.boards)
		limit := c.stated * c.stated * ratioOf(func(r float64) float64 { return distuv.ChiSquared{K: n}.Survival(r * n) }, risk)
		if c.boards > 1 {
			f := ratioOf(func(r float64) float64 { return distuv.F{D1: n, D2: n * float64(c.boards-1)}.Survival(r) }, risk)
			limit = max(limit, c.others*c.others*min(f, 100))
		}
		for _, by := range []float64{0.97, 1.03} {
			col := NewCollector(lamp())
			for b := range c.boards {
				sd := c.others
				if b == 0 {
					sd = by * math.Sqrt(limit)
				}
				row := Row{Board: fmt.Sprint("b", b), Verdict: "pass"}
				for k := range c.each { // a standard deviation of sd, in the high time alone
					v := math.Exp(sd * (float64(k) - n/2) / math.Sqrt(float64(c.each)*float64(c.each+1)/12))
					row.Each = append(row.Each, Repeat{Values: [5]float64{4e-3 * v, 3e-3}, Uncertainties: [5]float64{4e-3 * v * c.stated, 3e-3 * c.stated}})
				}
				col.rows = append(col.rows, row)
			}
			col.unlike()
			if got := len(col.duplicates); got != map[bool]int{true: 1}[by > 1] {
				t.Errorf("%+v: %d boards split at %g of the limit", c, got, by)
			}
		}
	}
}

// By how much a part must differ is generalised least squares under the scatter of the two groups' means, pooled (gonum's inverse), whatever its
// shape; groups that do not scatter at all are told by the part that leaves nothing over.
func TestDifferenceUnderScatter(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 34))
	d := lamp()
	model, err := hierarchy.NewModel(d, nil)
	if err != nil {
		t.Fatal(err)
	}
	for range 20 {
		a, b := &Batch{}, &Batch{High: 0.03 + 0.002*random.NormFloat64(), Low: 0.03 + 0.002*random.NormFloat64()}
		v := mat.NewSymDense(2, nil)
		for k, g := range []*Batch{a, b} {
			for range 6 + 3*k {
				c := 0.01 * random.NormFloat64()
				off := []float64{c + 0.001*random.NormFloat64(), 1.2*c + 0.002*random.NormFloat64()}
				g.usual = append(g.usual, &Row{times: hierarchy.Board{High: g.High + off[0], Low: g.Low + off[1]}})
				v.SymRankOne(v, (1./6+1./9)/13, mat.NewVecDense(2, off))
			}
		}
		var inverse mat.Dense
		if err := inverse.Inverse(v); err != nil {
			t.Fatal(err)
		}
		gap := mat.NewVecDense(2, []float64{b.High - a.High, b.Low - a.Low})
		want, chi := map[string]float64{}, map[string]float64{}
		best := math.Inf(1)
		for _, p := range d.Parts {
			h, l := model.Slope(p.Name)
			s := mat.NewVecDense(2, []float64{h, l})
			x := mat.Inner(s, &inverse, gap) / mat.Inner(s, &inverse, s)
			var left mat.VecDense
			left.AddScaledVec(gap, -x, s)
			c := mat.Inner(&left, &inverse, &left)
			if c < fits || mat.Norm(&left, 2) < missed*mat.Norm(gap, 2) {
				want[p.Name], chi[p.Name] = x, c
				best = min(best, c)
			}
		}
		for name, c := range chi {
			if c > best+fits {
				delete(want, name)
			}
		}
		got := difference(d, a, b)
		if len(got) != len(want) {
			t.Errorf("%+v, want %v", got, want)
		}
		for _, p := range got {
			near(t, p.name, p.by, want[p.name], 1e-9)
		}
	}
	h, l := model.Slope("R1")
	a, b := &Batch{usual: []*Row{{}, {}}}, &Batch{High: 0.02 * h, Low: 0.02 * l}
	b.usual = []*Row{{times: hierarchy.Board{High: b.High, Low: b.Low}}, {times: hierarchy.Board{High: b.High, Low: b.Low}}}
	if got := difference(d, a, b); len(got) != 1 || got[0].name != "R1" || !(math.Abs(got[0].by-0.02) <= 1e-9) {
		t.Errorf("without scatter: %+v", got)
	}
}

// Chance splits a few boards of one group so well that their likelihood alone would call them two; against lots of one group it does not. Groups
// that lie some five deviations apart are told though they are few.
func TestChanceSplitsNoGroup(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 35))
	tempted, called := 0, 0
	for range 60 {
		points := make([]point, 12)
		for i := range points {
			points[i] = point{random.NormFloat64(), 0}
		}
		if gain, _ := mixtureGain(points, 1); gain > 2*math.Log(12) {
			tempted++
			if twoGroups(points, 1) != nil {
				called++
			}
		}
	}
	if tempted < 8 || called > 0 {
		t.Errorf("of %d groups that look like two by their likelihood alone %d are called so", tempted, called)
	}
	if twoGroups(append(grid(9, point{}, point{1, 0}, 0.01), grid(7, point{0.065, 0}, point{1, 0}, 0.01)...), 1) == nil {
		t.Error("two groups are missed")
	}
}

// Boards of single pulses have no low time, and are split by their high time alone.
func TestBatchesOfSinglePulses(t *testing.T) {
	var rows []*Row
	for i, p := range append(grid(14, point{}, point{1, 0}, 0.01), grid(8, point{0.2, 0}, point{1, 0}, 0.01)...) {
		r := &Row{Board: fmt.Sprint(i), predicted: [2]float64{4e-3, 0}}
		r.times.High, r.times.Noise.High = p[0], 1e-12
		rows = append(rows, r)
	}
	d := lamp()
	d.Circuit = "none" // which part moved is another matter
	b := NewCollector(d).batches(rows, &moved{}, Options{})
	if len(b) != 2 || len(b[0].rows) != 14 || len(b[1].rows) != 8 || b[0].rows[0] != rows[0] {
		t.Fatalf("%+v", b)
	}
	near(t, "what sets them apart", b[1].High-b[0].High, 0.2, 1e-9)
}
