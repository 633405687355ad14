package latch

import (
	"io"
	"math"
	"testing"

	"offbeat/acquire"
)

// gridded makes a logic capture whose rows lie on a grid of start and step, active low as it stands on the wire.
func gridded(start, step float64, rows ...[3]float64) *acquire.Capture {
	done := false
	names := []acquire.Channel{{Name: "Q"}, {Name: "S"}, {Name: "R"}}
	return acquire.NewCapture(acquire.Capture{Source: "grid", Kind: acquire.Transitions, Channels: names, Start: start, Step: step}, func(b *acquire.Block) error {
		if done {
			return io.EOF
		}
		done = true
		*b = acquire.Block{N: len(rows), Value: make([][]float64, 3)}
		for _, r := range rows {
			for i := range 3 {
				b.Value[i] = append(b.Value[i], r[i])
			}
		}
		return nil
	})
}

// The truth table's times, in µs, worked out by hand from each list: how long the inputs stood so, and how much of that, the
// 10 µs of settling taken off, the output was wrong.
func TestTable(t *testing.T) {
	for _, c := range []struct {
		name string
		rows [][4]float64
		time [4]float64 // neither, set, reset, both
		bad  [4]float64
	}{
		{"missed set", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 1}, {1500, 0, 1, 1}, {9000, 0, 1, 1}},
			[4]float64{8500, 500, 0, 0}, [4]float64{0, 490, 0, 0}},
		{"reset without effect", [][4]float64{{0, 1, 1, 1}, {5000, 1, 1, 0}, {8000, 1, 1, 1}, {9000, 1, 1, 1}},
			[4]float64{6000, 0, 3000, 0}, [4]float64{0, 0, 2990, 0}},
		{"both pressed, and high", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 1}, {1004, 1, 0, 1}, {2000, 1, 0, 0}, {3000, 0, 0, 0}, {4000, 0, 1, 1}, {9000, 0, 1, 1}},
			[4]float64{6000, 1000, 0, 2000}, [4]float64{0, 0, 0, 990}},
		{"falls by itself while it should hold", [][4]float64{{0, 1, 1, 1}, {2000, 0, 1, 1}, {9000, 0, 1, 1}},
			[4]float64{9000, 0, 0, 0}, [4]float64{7000, 0, 0, 0}},
		{"follows exactly when the settling ends", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 1}, {1005, 0, 1, 1}, {1015, 1, 1, 1}, {9000, 1, 1, 1}},
			[4]float64{8995, 5, 0, 0}, [4]float64{0, 0, 0, 0}},
	} {
		r, err := Run(capture(c.rows...), Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range r.Table {
			if want := [4]string{"holds", "high", "low", "low"}[i]; row.Expected != want || row.Set != (i == 1 || i == 3) || row.Reset != (i >= 2) {
				t.Errorf("%s: row %d is %+v", c.name, i, row)
			}
			if !(math.Abs(row.Time-c.time[i]*1e-6) <= 1e-12) || !(math.Abs(row.Wrong-c.bad[i]*1e-6) <= 1e-12) {
				t.Errorf("%s: row %d: %g µs and %g wrong, by hand %g and %g", c.name, i, row.Time*1e6, row.Wrong*1e6, c.time[i], c.bad[i])
			}
		}
		if r.Rows != int64(len(c.rows)) || r.Settle != 10e-6 || r.Resolution != 1e-6 {
			t.Errorf("%s: %d rows, settling %g, resolution %g", c.name, r.Rows, r.Settle, r.Resolution)
		}
	}
}

// No kind of fault is good, alone or with another.
func TestGood(t *testing.T) {
	for _, r := range []Result{{MissedSets: 1}, {FalseSets: 1}, {FailedResets: 1}, {FalseResets: 1},
		{MissedSets: 1, FalseSets: 1}, {MissedSets: 1, FailedResets: 1}, {MissedSets: 1, FalseResets: 1}} {
		if r.Good() {
			t.Errorf("%+v is good", r)
		}
	}
	if !(&Result{Sets: 3, Resets: 2, Bounces: [2]int{1, 1}}).Good() {
		t.Error("presses and bounces are no faults")
	}
}

// Rows on a grid have their times from its start and step, and the output may take two steps to follow where these are longer
// than 10 µs.
func TestOnAGrid(t *testing.T) {
	const start, step = -0.25, 20e-6
	rows := [][3]float64{{0, 1, 1}, {0, 1, 1}, {0, 0, 1}, {0, 0, 1}, {1, 0, 1}, {1, 1, 1}, {1, 1, 1}, {1, 1, 1}}
	r, err := Run(gridded(start, step, rows...), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Sets != 1 || !r.Good() || r.Settle != 2*step || !(math.Abs(r.Shortest-3*step) <= 1e-12) {
		t.Errorf("%+v", r)
	}
	for i, k := range []int{0, 2, 4, 5, 7} {
		if len(r.States) != 5 || !(math.Abs(r.States[i].Time-(start+step*float64(k))) <= 1e-12) {
			t.Fatalf("states %+v", r.States)
		}
	}
}

// What lies just at a limit: a press as long ago as the settling, one that ends with the record, a repeat after the bounce.
func TestAtTheLimits(t *testing.T) {
	for _, c := range []struct {
		name string
		rows [][4]float64
		opt  Options
		want func(*Result) bool
	}{
		{"a set just in time", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 1}, {1003, 0, 1, 1}, {1013, 1, 1, 1}, {9000, 1, 1, 1}}, Options{Settle: 10.0001e-6},
			func(r *Result) bool { return r.Sets == 1 && r.FalseSets == 0 && r.MissedSets == 0 }},
		{"a set just too late", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 1}, {1003, 0, 1, 1}, {1013, 1, 1, 1}, {9000, 1, 1, 1}}, Options{Settle: 9.9999e-6},
			func(r *Result) bool { return r.Sets == 0 && r.FalseSets == 1 && r.MissedSets == 1 }},
		{"a press that the record cuts off is not judged", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 1}, {1005, 0, 0, 1}}, Options{},
			func(r *Result) bool { return r.MissedSets == 0 }},
		{"a press on a high output is no missed set", [][4]float64{{0, 1, 1, 1}, {1000, 1, 0, 1}, {2000, 1, 1, 1}, {9000, 1, 1, 1}}, Options{},
			func(r *Result) bool { return r.MissedSets == 0 && r.Good() }},
		{"a reset shorter than the settling is not judged", [][4]float64{{0, 1, 1, 1}, {1000, 1, 1, 0}, {1005, 1, 1, 1}, {9000, 1, 1, 1}}, Options{},
			func(r *Result) bool { return r.FailedResets == 0 }},
		{"the output falls while the settling of a reset runs", [][4]float64{{0, 1, 1, 1}, {1000, 1, 1, 0}, {1008, 0, 1, 0}, {2000, 0, 1, 1}, {9000, 0, 1, 1}}, Options{},
			func(r *Result) bool { return r.Resets == 1 && r.Good() }},
		{"repeats within the bounce time", [][4]float64{{0, 1, 1, 1}, {1000, 1, 0, 1}, {2000, 1, 1, 1}, {2900, 1, 0, 1}, {4000, 1, 1, 1}, {5100, 1, 0, 1}, {6000, 1, 1, 1}, {9000, 1, 1, 1}}, Options{Bounce: 1e-3},
			func(r *Result) bool { return r.Bounces == [2]int{1, 0} }},
		{"the shortest of three sets", [][4]float64{{0, 0, 1, 1}, {1000, 1, 0, 1}, {1400, 1, 1, 1}, {2000, 0, 1, 0}, {2500, 0, 1, 1}, {20000, 1, 0, 1}, {20300, 1, 1, 1}, {30000, 0, 1, 0}, {30500, 0, 1, 1}, {50000, 1, 0, 1}, {50900, 1, 1, 1}, {90000, 1, 1, 1}}, Options{},
			func(r *Result) bool { return r.Sets == 3 && r.Resets == 2 && math.Abs(r.Shortest-300e-6) < 1e-12 }},
		{"two rows are enough", [][4]float64{{0, 0, 1, 1}, {9000, 1, 1, 1}}, Options{}, func(r *Result) bool { return r.FalseSets == 1 }},
		{"active high", [][4]float64{{0, 0, 0, 0}, {1000, 1, 1, 0}, {2000, 1, 0, 0}, {3000, 0, 0, 1}, {4000, 0, 0, 0}, {9000, 0, 0, 0}}, Options{ActiveHigh: true},
			func(r *Result) bool { return r.Sets == 1 && r.Resets == 1 && r.Good() }},
	} {
		r, err := Run(capture(c.rows...), c.opt)
		if err != nil || !c.want(r) {
			t.Errorf("%s: %v %+v", c.name, err, r)
		}
	}
}
