package lot

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"offbeat/acquire/manifest"
	"offbeat/compare"
	"offbeat/compare/lot/acceptance"
	"offbeat/fit"
	"offbeat/fit/measure"
)

// steady makes rows of boards whose frequency scatters normally about the middle of the lamp's target.
func steady(random *rand.Rand, lot string, n int) []Row {
	rows := make([]Row, n)
	for i := range rows {
		rows[i] = Row{Board: fmt.Sprint(lot, " ", i+1), Lot: lot, Verdict: "pass"}
		rows[i].Values[3] = 138.7 * (1 + 0.02*random.NormFloat64())
	}
	return rows
}

func decided(t *testing.T, rows []Row, opt Options) *Report {
	t.Helper()
	c := NewCollector(lamp())
	c.rows = rows
	r := &Report{}
	if err := c.decide(r, opt.usual()); err != nil {
		t.Fatal(err)
	}
	return r
}

// A board whose capture shows no pulses is nonconforming by either method, one that was not read is open by either, and
// a plan by variables accepts neither, nor a board that fails for sure, nor values that are not normal. The lot by itself
// is accepted.
func TestWhichBoardsCount(t *testing.T) {
	for _, c := range []struct {
		name                  string
		spoil                 func(rows []Row)
		attributes, variables acceptance.Result
	}{
		{"all good", func([]Row) {}, acceptance.Accept, acceptance.Accept},
		{"twenty dead", func(rows []Row) {
			for i := range 20 {
				rows[3*i] = Row{Board: rows[3*i].Board, Verdict: "fail", Silent: "flat"}
			}
		}, acceptance.Reject, acceptance.Reject},
		{"twenty unread", func(rows []Row) {
			for i := range 20 {
				rows[3*i] = Row{Board: rows[3*i].Board, Error: "cut short"}
			}
		}, acceptance.Undecided, acceptance.Undecided},
		{"one fails", func(rows []Row) { rows[7].Verdict = "fail" }, acceptance.Accept, acceptance.Reject}, // 50: Ac 1
		{"one unread", func(rows []Row) { rows[7] = Row{Board: "x", Error: "cut short"} }, acceptance.Accept, acceptance.Undecided},
		{"two batches", func(rows []Row) {
			for i := range rows {
				rows[i].Values[3] = 138.7 + math.Copysign(3, float64(i%2)-0.5) + 0.1*(rows[i].Values[3]-138.7)
			}
		}, acceptance.Accept, acceptance.Undecided},
	} {
		rows := steady(rand.New(rand.NewPCG(19, 1)), "", 60)
		c.spoil(rows)
		if r := decided(t, slices.Clone(rows), Options{}); r.Acceptance.Result != c.attributes {
			t.Errorf("%s: by attributes %s, %s", c.name, r.Acceptance.Result, r.Acceptance.Reason)
		}
		r := decided(t, rows, Options{ByValue: true, LotSize: 400})
		if r.Acceptance.Result != c.variables {
			t.Errorf("%s: by variables %s, %s", c.name, r.Acceptance.Result, r.Acceptance.Reason)
		}
		// Lot size 400, level II: letter H of Z1.9, n = 20 (variables_code_letters.csv); its risks, not those of attributes.
		if p := r.Acceptance.Plan; p.Letter != "H" || p.Size != 20 || p.K == nil || p.Accept != nil || !(p.Producer > 0 && p.Producer < p.Consumer) {
			t.Errorf("%s: %+v", c.name, p)
		}
	}
}

// Fewer boards than the plan of the lot's size asks for decide nothing.
func TestNotEnoughBoards(t *testing.T) {
	rows := steady(rand.New(rand.NewPCG(19, 2)), "", 19)
	for _, byValue := range []bool{false, true} {
		r := decided(t, rows, Options{ByValue: byValue, LotSize: 400})
		if r.Acceptance.Result != acceptance.Undecided || !strings.Contains(r.Acceptance.Reason, "not enough boards") {
			t.Errorf("%+v", r.Acceptance)
		}
	}
}

// Each of several lots keeps lot size and method; they are judged in the order of time, each under the inspection that
// the ones before it ask for (ISO 2859-1 9.3), whatever their order in the manifest.
func TestLotsInTime(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 3))
	var rows []Row
	for _, k := range []int{3, 1, 2, 4} { // the manifest's order
		name := fmt.Sprint("week ", k)
		lot := steady(random, name, 80)
		for i := range lot {
			lot[i].Time = time.Date(2026, 1, 7*k, 8, i, 0, 0, time.UTC)
			if k <= 2 && i < 5 {
				lot[i].Verdict = "fail"
			}
		}
		rows = append(rows, lot...)
	}
	r := decided(t, rows, Options{LotSize: 1000})
	var got []string
	for _, l := range r.Lots {
		a := l.Acceptance
		got = append(got, fmt.Sprint(l.Lot, " ", a.Plan.Inspection, " ", a.Plan.LotSize, " ", a.Plan.Size, "/", a.Accept, " ", a.Result))
	}
	want := []string{"week 1 normal 1000 80/2 reject", "week 2 normal 1000 80/2 reject", "week 3 tightened 1000 80/1 accept", "week 4 tightened 1000 80/1 accept"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if !strings.Contains(r.Switching, "tightened inspection until 5 consecutive lots are accepted; 2 so far") || r.Acceptance.Result != acceptance.Reject ||
		r.Acceptance.Reason != "2 of 4 lots rejected: week 1, week 2" {
		t.Errorf("%s\n%+v", r.Switching, r.Acceptance)
	}
	r = decided(t, rows, Options{LotSize: 1000, ByValue: true, Inspection: acceptance.Reduced})
	if l := r.Lots[0].Acceptance; l.Method != "variables" || l.Plan.Inspection != acceptance.Reduced || l.Plan.Size != 15 || r.Lots[1].Acceptance.Plan.Inspection != acceptance.Normal {
		t.Errorf("%+v", l) // J, reduced: n = 15; not accepted, so that the next is normal
	}
}

// A capture that was read and shows no pulses fails its board, wherever in its captures it stands.
func TestSilentBoard(t *testing.T) {
	boards := []Board{{Name: "lamp 1", Captures: make([]manifest.Entry, 2)}}
	work := func(context.Context, *Board) (*compare.Finding, []Measured, error) {
		return nil, nil, fmt.Errorf("lamp-1.csv: the line is flat: %w", measure.ErrFlat)
	}
	c := NewCollector(lamp())
	if err := Run(context.Background(), boards, work, RunOptions{}, func(o *Outcome) error { c.Add(o); return nil }); err != nil {
		t.Fatal(err)
	}
	r, err := c.Report(Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Boards != (Count{Boards: 1, Fail: 1, Silent: 1}) || len(r.Failed) != 0 || len(r.Silent) != 1 || !strings.Contains(r.Silent[0].Error, "lamp-1.csv") || r.Acceptance.Result != acceptance.Reject {
		t.Errorf("%+v", r)
	}
}

// A board whose times change inside its capture is named, with how, and what its table row says.
func TestBoardThatChangesInside(t *testing.T) {
	b := &bench{random: rand.New(rand.NewPCG(19, 31)), spread: [3]float64{0.004, 0.004, 0.006}, noise: 1e-4}
	var s sampled
	for i := range 3 {
		s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1)}, b.capture(b.board(t), "x"))
	}
	c := NewCollector(lamp())
	err := Run(context.Background(), Group(s.entries), s.work(lamp()), RunOptions{}, func(o *Outcome) error {
		if o.Board.Name == "lamp 2" {
			o.Finding.Captures = []compare.Capture{{Stability: &compare.Stability{Moves: fit.Moves{By: 0.01, Uncertainty: 0.0005}}}}
		}
		c.Add(o)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	r, err := c.Report(Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Changing) != 1 || r.Changing[0].Board != "lamp 2" || r.Changing[0].Moves.By != 0.01 || !strings.Contains(r.Finding, "One board changes inside its capture, which is never passed: lamp 2.") {
		t.Errorf("%+v %q %+v", r.Changing, r.Finding, r.Boards)
	}
	for i, row := range c.Rows() {
		if strings.Contains(row.CauseTitle(), "changes inside its capture") != (i == 1) {
			t.Error(row.CauseTitle())
		}
	}
}

// Of many steady boards some are said to change by chance, and a lot says how many; a board whose times no part makes, since a unit's
// prefix is wrong, is told first.
func TestChanceAndSlips(t *testing.T) {
	r := &Report{Boards: Count{Boards: 2100, Failed: 60, Silent: 40}, Changing: []Changing{{Board: "lamp 7"}}, slipped: []string{"lamp 9"}}
	text := r.sentence(lamp())
	if !strings.Contains(text, "which is never passed: lamp 7. Of 2000 steady boards about 3 are said to by chance: capture these again.") || !strings.HasPrefix(text, "One board has times a thousand") || !strings.Contains(text, "likely reason: lamp 9.") {
		t.Errorf("%q", text)
	}
	r.Boards.Boards, r.slipped = 400, nil
	if text := r.sentence(lamp()); strings.Contains(text, "by chance") || strings.Contains(text, "thousand") {
		t.Errorf("of 300: %q", text)
	}
}

// Boards that fail on both sides of a target that they are on on average fail by their scatter, whatever the batch's mean: the
// standard deviation of parts in a tolerance of 10 % is 5.8 % at most, that of a rectangle.
func TestScatterFails(t *testing.T) {
	rows := steady(rand.New(rand.NewPCG(19, 33)), "x", 12)
	var all []*Row
	for i := range rows {
		rows[i].Verdict, rows[i].Values[3] = "fail", 138.7*(1+0.1*float64(i%3-1))
		all = append(all, &rows[i])
	}
	for _, c := range []struct {
		spread, u float64
		scatters  bool
	}{{0.12, 0.012, true}, {0.08, 0.012, false}, {0.057, 0, false}, {0.059, 0, true}} {
		k := NewCollector(lamp())
		k.rows = rows
		r := &Report{Boards: count(rows), Parts: []Part{{Name: "R1", Spread: Estimate{Value: 0.003}}, {Name: "C1", Shift: Estimate{Value: -0.007}, Spread: Estimate{Value: c.spread, Uncertainty: c.u}}},
			Causes: []compare.Cause{{Cause: "nothing", Probability: 0.96}}}
		r.Headline = k.headline(r, all)
		if got := strings.Contains(r.sentence(lamp()), "The boards scatter by more than parts in tolerance do, as if C1 did by"); got != c.scatters || r.Headline == nil || c.scatters && r.Headline.Part != "" {
			t.Errorf("%g ± %g: %q %+v", c.spread, c.u, r.sentence(lamp()), r.Headline)
		}
	}
}
