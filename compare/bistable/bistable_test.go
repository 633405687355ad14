package bistable

import (
	"math"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/fit"
	"offbeat/fit/latch"
)

var board = &fit.Design{Title: "bridge", Circuit: "bistable", Inputs: fit.ActiveLow}

// table is that of a record in which each input state lasted one second.
func table(wrong float64) [4]latch.Row {
	return [4]latch.Row{{Expected: "holds", Time: 1, Wrong: wrong}, {Set: true, Expected: "high", Time: 1}, {Reset: true, Expected: "low", Time: 1}, {Set: true, Reset: true, Expected: "low", Time: 1}}
}

func TestVerdict(t *testing.T) {
	for _, c := range []struct {
		name         string
		result       latch.Result
		want         string
		says         string
		faultsInText int
	}{
		{"good", latch.Result{Sets: 2, Resets: 1}, "pass", "keeps its truth table: 2 sets, 1 reset, no fault", 0},
		{"missed", latch.Result{Sets: 1, Resets: 1, MissedSets: 1}, "fail", "a set press left the output low.", 1},
		{"several", latch.Result{Sets: 1, Resets: 1, FalseSets: 2, FalseResets: 1}, "fail", "the output rose 2 times without a set; the output fell once without a reset.", 2},
		{"reset does not hold", latch.Result{Sets: 1, FailedResets: 3}, "fail", "3 resets did not hold the output low.", 1},
		{"reset never tried", latch.Result{Sets: 3}, "undecided", "never reset", 0},
		{"set never tried", latch.Result{Resets: 1}, "undecided", "never set:", 0},
		{"nothing tried", latch.Result{}, "undecided", "never set and never reset", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.result.Table = table(0)
			f, err := Judge(board, []Check{{"a.csv", &c.result}})
			if err != nil {
				t.Fatal(err)
			}
			if f.Verdict.Result != c.want || f.Verdict.Quantity != Quantity || !strings.Contains(f.Finding, c.says) {
				t.Errorf("%s: %q, want %s with %q", f.Verdict.Result, f.Finding, c.want, c.says)
			}
			if c.want == "fail" && strings.Count(f.Finding, ";") != c.faultsInText-1 {
				t.Errorf("%q does not name %d faults", f.Finding, c.faultsInText)
			}
			if len(f.Latch.Advice) != c.faultsInText {
				t.Errorf("%d pieces of advice for %d kinds of fault", len(f.Latch.Advice), c.faultsInText)
			}
		})
	}
}

// Two captures of one board add up; the shortest press is the shorter of the two, its uncertainty that record's step
// over the square root of six (a triangle's half-width, JCGM 100 4.3.9).
func TestCapturesAddUp(t *testing.T) {
	first := latch.Result{Table: table(0), Sets: 2, Resets: 1, Bounces: [2]int{3, 0}, Shortest: 5e-3, Resolution: 1e-3, Settle: 2e-3, Unknown: 1}
	second := latch.Result{Table: table(0.25), Sets: 1, Resets: 2, FalseSets: 1, Bounces: [2]int{0, 2}, Shortest: 4e-3, Resolution: 6e-6, Settle: 1e-3,
		Events: []latch.Event{{Time: 7, What: "output rose without a set"}}}
	f, err := Judge(board, []Check{{"a.csv", &first}, {"b.csv", &second}})
	if err != nil {
		t.Fatal(err)
	}
	l := f.Latch
	if l.Sets != 3 || l.Resets != 3 || l.FalseSets != 1 || l.Bounces != 5 || l.SetBounces != 3 || l.ResetBounces != 2 || l.UnknownRows != 1 || l.Settling != 2e-3 {
		t.Errorf("%+v", l)
	}
	if s := l.Shortest; s.Value != 4e-3 || !(math.Abs(s.Uncertainty-2.449489742783178e-6) <= 1e-18) || s.Count != 3 {
		t.Errorf("shortest %+v", s)
	}
	if l.Table[0].Time != 2 || l.Table[0].Wrong != 0.25 || !l.Table[3].Set || !l.Table[3].Reset || l.Table[3].Expected != "low" {
		t.Errorf("%+v", l.Table)
	}
	if want := (compare.LatchEvent{Source: "b.csv", Time: 7, What: "output rose without a set"}); len(l.Events) != 1 || l.Events[0] != want {
		t.Errorf("%+v", l.Events)
	}
	if len(f.Warnings) != 1 || !strings.Contains(f.Warnings[0], "1 row ") {
		t.Errorf("%q", f.Warnings)
	}
}

func TestNothingToJudge(t *testing.T) {
	if _, err := Judge(board, nil); err == nil {
		t.Error("no capture was judged")
	}
}
