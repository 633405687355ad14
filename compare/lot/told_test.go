package lot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot/acceptance"
	"offbeat/compare/lot/capability"
	"offbeat/fit"
)

// Boards without a verdict count against a lot's score as those that fail do (ISO 2859-1 9.3.3: 3 where the next tighter AQL would
// have accepted too, else 0), and a lot without a decision leaves it as it is.
func TestScoreOfLots(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 41))
	lot := func(name string, fail, open int) []Row {
		rows := steady(random, name, 80)
		for i := range rows[:fail+open] {
			rows[i].Verdict = map[bool]string{true: "fail", false: "undecided"}[i < fail]
		}
		return rows
	}
	for _, c := range []struct {
		rows [][]Row
		want string
	}{
		{[][]Row{lot("a", 0, 0), lot("b", 0, 0)}, "score 6 of 30"},
		{[][]Row{lot("a", 0, 0), lot("b", 0, 3)}, "score 3 of 30"},
		{[][]Row{lot("a", 0, 0), lot("b", 1, 1)}, "score 0 of 30"},
	} {
		col := NewCollector(lamp())
		col.design.Circuit = "none" // what they have in common is another matter
		col.rows = slices.Concat(c.rows...)
		r := &Report{}
		if err := col.decide(r, Options{LotSize: 1000}.usual()); err != nil || !strings.Contains(r.Switching, c.want) {
			t.Errorf("%q lacks %q; %v", r.Switching, c.want, err)
		}
	}
	col := NewCollector(lamp())
	col.design.Circuit = "none"
	col.rows = slices.Concat(lot("a", 0, 0), lot("b", 0, 0), lot("c", 0, 0))
	for i := range 2 {
		col.rows[80*i] = Row{Board: "unread", Lot: col.rows[80*i].Lot, Error: "cut short"}
	}
	r := &Report{}
	if err := col.decide(r, Options{ByValue: true}.usual()); err != nil || r.Lots[1].Acceptance.Result != acceptance.Undecided || !strings.HasPrefix(r.Switching, "normal inspection goes on") {
		t.Errorf("%q, %v", r.Switching, err)
	}
	for _, byValue := range []bool{false, true} { // the plans by variables begin at 0.04
		col := NewCollector(lamp())
		col.rows = lot("a", 0, 0)
		if err := col.decide(&Report{}, Options{ByValue: byValue, AQL: 0.01}.usual()); (err != nil) != byValue {
			t.Errorf("by value %v: %v", byValue, err)
		}
	}
}

// Boards that fail are named where neither a headline nor batches count them.
func TestFailingAreNamedOnce(t *testing.T) {
	r := Report{failing: []string{"lamp 1"}}
	batches := []Batch{{Boards: []string{"a"}}, {Boards: []string{"b"}}}
	for _, c := range []struct {
		headline *Headline
		batches  []Batch
		named    bool
	}{{nil, nil, true}, {&Headline{Quantity: "frequency"}, nil, false}, {nil, batches, false}} {
		r.Headline, r.Batches = c.headline, c.batches
		if got := r.sentence(lamp()); strings.Contains(got, "One board fails: lamp 1.") != c.named {
			t.Errorf("%+v: %q", c, got)
		}
	}
	r = Report{Parts: []Part{{Name: "C1", Spread: Estimate{Value: 0.123, Uncertainty: 0.015}}}}
	if got := r.sentence(lamp()); !strings.Contains(got, "as if C1 did by (12.3 ± 1.5) %") {
		t.Error(got)
	}
}

// A board changes inside where any of its captures jumps or moves, and the first of them tells how.
func TestWhichCaptureChanges(t *testing.T) {
	jumps := compare.Capture{Stability: &compare.Stability{Changes: make([]fit.Change, 2)}}
	moves := compare.Capture{Stability: &compare.Stability{Moves: fit.Moves{By: 0.1}}}
	still := compare.Capture{Stability: &compare.Stability{}}
	for _, c := range []struct {
		captures []compare.Capture
		jumps    int
		by       float64
		inside   bool
	}{{nil, 0, 0, false}, {[]compare.Capture{{}, still}, 0, 0, false}, {[]compare.Capture{still, jumps, moves}, 2, 0, true}, {[]compare.Capture{moves, jumps}, 0, 0.1, true}} {
		row := Row{}
		c0 := NewCollector(lamp())
		err := c0.measured(&row, &Outcome{Board: &Board{}, Finding: &compare.Finding{Captures: c.captures, Predicted: compare.Times[compare.Predicted]{High: &compare.Predicted{Nominal: 4e-3}}}})
		if (row.Inside != nil) != c.inside || c.inside && (len(row.Inside.Changes) != c.jumps || row.Inside.Moves.By != c.by) {
			t.Errorf("%+v: %+v, %v", c, row.Inside, err)
		}
	}
}

// What is told of a quantity's values: the short-term deviation is the mean moving range over 1.128 (ASTM E2587), each point is charted under its
// board's name, a moving range under the later board's; a steady lot is not warned of.
func TestLimitsByHand(t *testing.T) {
	const n = 24
	c := NewCollector(lamp())
	var rows []*Row
	var x []float64
	moving := 0.0
	for i := range n {
		r := &Row{Board: fmt.Sprint("lamp ", i+1), predicted: [2]float64{4e-3, 3e-3}}
		r.Values[3] = 138.7 + 2*distuv.UnitNormal.Quantile((float64(7*i%n)+0.5)/n) // in a scattered order
		if i == 12 {
			r.Values[3] += 60
		}
		rows, x = append(rows, r), append(x, r.Values[3])
		if i > 0 {
			moving += math.Abs(x[i]-x[i-1]) / (n - 1)
		}
	}
	r := &Report{Capability: map[string]Capability{}, Values: map[string][]float64{}}
	c.short = 2
	c.limits(r, rows, Options{})
	got, sd := r.Capability["frequency"], stat.StdDev(x, nil)
	near(t, "Cp", *got.Cp, 0.3*138.7/(6*moving/1.128), 1e-3)
	near(t, "Pp", *got.Pp, 0.3*138.7/(6*sd), 1e-9)
	if len(r.Warnings) != 2 || !strings.HasPrefix(r.Warnings[0], "2 captures are shorter") || !strings.Contains(r.Warnings[1], "not normally distributed") {
		t.Errorf("%q", r.Warnings)
	}
	for _, chart := range r.Charts[:2] {
		if len(chart.Signals) == 0 || chart.Signals[0].At != "lamp 13" || len(chart.Labels) != len(chart.Drawing.Points) {
			t.Errorf("%+v", chart)
		}
	}
	rows[12].Values[3] -= 60
	c.short = 0
	r = &Report{Capability: map[string]Capability{}, Values: map[string][]float64{}}
	if c.limits(r, rows, Options{}); len(r.Warnings) != 0 || len(r.Trends) != 0 {
		t.Errorf("%q %+v", r.Warnings, r.Trends)
	}
	one := capabilityOf(capability.Result{Cp: capability.Index{Value: math.NaN()}, Cpk: capability.Index{Value: 1.2, Low: 1, High: 1.4}}, math.Inf(-1), 3)
	if one.Cp != nil || one.CpInterval != nil || one.Cpk == nil || *one.Cpk != 1.2 || *one.CpkLimits != [2]float64{1, 1.4} || one.Limits[0] != nil {
		t.Errorf("%+v", one)
	}
	big := drawing{rules: []int{1}}
	x[12] -= 60
	for len(x) < 500 {
		x = append(x, x[len(x)-n])
	}
	x[77] += 60
	all, _ := big.of(x)
	for _, p := range big.chances(all, len(x), 1) { // of 200 lots
		near(t, "chance", 200*p, math.Round(200*p), 1e-9)
	}
}

// What most boards fail by is the quantity that is furthest out for its size; dead boards are no part of it, nor are those that stand out, and three
// boards, or half of those judged, are enough.
func TestHeadlineOfSeveralTargets(t *testing.T) {
	d := lamp()
	d.Targets = []fit.Target{{Quantity: "duty_factor", Low: 0.45, High: 0.5}, {Quantity: "frequency", Low: 135, High: 142}, {Quantity: "period", Low: 6.9e-3, High: math.Inf(1)}}
	c := NewCollector(d)
	var rows []*Row
	for i := range 4 {
		r := &Row{Board: fmt.Sprint(i), predicted: [2]float64{57, 47}}
		r.Values = [5]float64{0, 0, 7e-3, 160, 0.52}
		rows = append(rows, r)
	}
	rows[3].Values[4] = 0.9
	report := func(n Count) *Report { return &Report{Boards: n, Outliers: []string{"3"}} }
	h := c.headline(report(Count{Pass: 2, Fail: 4, Undecided: 1, Silent: 1}), rows)
	if h == nil || h.Quantity != "frequency" || h.Mean != 160 || *h.Limits[0] != 135 || *h.Limits[1] != 142 || h.Failing != 3 || h.Boards != 6 || h.Aside != 1 {
		t.Errorf("%+v", h)
	}
	for i := range rows { // 0.04 of 0.54 above is more than 7 of 149 Hz
		rows[i].Values[3], rows[i].Values[4] = 149, 0.54
	}
	if h := c.headline(report(Count{Fail: 3}), rows); h == nil || h.Quantity != "duty_factor" {
		t.Errorf("%+v", h)
	}
	for i := range rows {
		rows[i].Values[2], rows[i].Values[3], rows[i].Values[4] = 5e-3, 140, 0.48
	}
	if h := c.headline(report(Count{Fail: 3}), rows); h == nil || h.Quantity != "period" || h.Limits[1] != nil {
		t.Errorf("%+v", h)
	}
	if h := c.headline(report(Count{Fail: 3}), rows[1:]); h != nil { // two are left
		t.Errorf("%+v", h)
	}
	if h := c.headline(report(Count{Fail: 2, Pass: 3}), rows); h != nil {
		t.Errorf("%+v", h)
	}
	// A target with one limit bears any batch beyond the other: there is nothing to state.
	d.Targets = []fit.Target{{Quantity: "frequency", High: 142}}
	for i := range rows {
		rows[i].Values[3] = 150 + float64(i)
	}
	r := report(Count{Fail: 3})
	r.Parts = []Part{{Name: "C1", Shift: Estimate{Value: -0.1}}}
	r.Causes = []compare.Cause{{Cause: cause.Nothing, Probability: 0.7}}
	h = c.headline(r, rows)
	if h == nil || h.Part != "C1" || h.Bears == nil {
		t.Fatalf("%+v", h)
	}
	sd := stat.StdDev([]float64{150, 151, 152}, nil)
	near(t, "least", h.Bears[0], 151*math.Exp(-0.1)/(142-2*sd)-1, 1e-6)
	near(t, "most", h.Bears[1], 151*math.Exp(-0.1)/(2*sd)-1, 1e-4)
}

// Repeats are set beside each other as at the reference temperature, so that their deviation is that of the noise about one slope.
func TestGaugeAtReferenceTemperature(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 42))
	c := NewCollector(lamp())
	var rows []*Row
	const perK = 5e-3
	squares, freedom := 0.0, 0.0
	for b := range 12 {
		row := &Row{Board: fmt.Sprint(b), predicted: [2]float64{57, 47}}
		var own []float64
		for range 6 {
			at, v := 20+30*random.Float64(), 138.7*(1+1e-4*random.NormFloat64()+1e-3*float64(b%5))
			own = append(own, v)
			row.Each = append(row.Each, Repeat{Temperature: &at, Values: [5]float64{3: v * math.Exp(perK*(at-fit.ReferenceTemperature))}, Uncertainties: [5]float64{3: 1e-3}})
		}
		squares, freedom = squares+5*stat.Variance(own, nil), freedom+5
		rows = append(rows, row)
	}
	r := &Report{}
	c.gauges(r, rows)
	if len(r.Gauge) != 1 || r.Gauge[0].PerKelvin == nil {
		t.Fatalf("%+v", r.Gauge)
	}
	near(t, "slope", *r.Gauge[0].PerKelvin, perK, 1e-5)
	near(t, "repeatability", r.Gauge[0].Repeatability, math.Sqrt(squares/freedom), 0.05*math.Sqrt(squares/freedom))
}

// A drift is told of eight boards or more, and not of boards that do not scatter about their mean.
func TestLeastForATrend(t *testing.T) {
	x := []float64{100, 101.1, 102, 102.9, 104, 105.1, 106, 106.9}
	labels := make([]string, len(x))
	if trendOf("frequency", x, labels, nil) == nil || trendOf("frequency", x[1:], labels, nil) != nil {
		t.Error("eight boards are not told apart from seven")
	}
	for i := range x {
		x[i] = 128
	}
	if d := trendOf("frequency", x, labels, nil); d != nil {
		t.Errorf("one value drifts: %+v", d)
	}
}
