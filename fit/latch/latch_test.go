package latch

import (
	"errors"
	"io"
	"math"
	"testing"

	"offbeat/acquire"
)

// capture makes a transition list of (time in us, out, set, reset), the inputs as they stand on the wire.
func capture(rows ...[4]float64) *acquire.Capture {
	done := false
	names := []acquire.Channel{{Name: "Q"}, {Name: "S"}, {Name: "R"}}
	return acquire.NewCapture(acquire.Capture{Source: "test", Kind: acquire.Transitions, Channels: names, Step: 1e-6}, func(b *acquire.Block) error {
		if done {
			return io.EOF
		}
		done = true
		*b = acquire.Block{N: len(rows), Value: make([][]float64, 3)}
		for _, r := range rows {
			b.Time = append(b.Time, r[0]*1e-6)
			for i := range 3 {
				b.Value[i] = append(b.Value[i], r[i+1])
			}
		}
		return nil
	})
}

const unknown = 0.5

// Each capture is written out by hand; the inputs are active low, so 1 is idle.
func TestLatch(t *testing.T) {
	for _, c := range []struct {
		name string
		rows [][4]float64
		want Result
	}{
		{"set and reset", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 1}, {1002, 1, 0, 1}, {1500, 1, 1, 1}, {90000, 1, 1, 0}, {90001, 0, 1, 0}, {90400, 0, 1, 1}, {99000, 0, 1, 1}},
			Result{Sets: 1, Resets: 1, Shortest: 500e-6}},
		{"missed set", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 1}, {1500, 0, 1, 1}, {99000, 0, 1, 1}},
			Result{MissedSets: 1}},
		{"output follows a pulse that is over", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 1}, {1003, 0, 1, 1}, {1008, 1, 1, 1}, {99000, 1, 1, 1}},
			Result{Sets: 1, Shortest: 3e-6}},
		{"false set", [][4]float64{{0, 0, 1, 1}, {5000, 1, 1, 1}, {99000, 1, 1, 1}},
			Result{FalseSets: 1}},
		{"false reset", [][4]float64{{0, 1, 1, 1}, {5000, 0, 1, 1}, {99000, 0, 1, 1}},
			Result{FalseResets: 1}},
		{"reset without effect", [][4]float64{{0, 1, 1, 1}, {5000, 1, 1, 0}, {9000, 1, 1, 1}, {99000, 1, 1, 1}},
			Result{FailedResets: 1}},
		{"reset does not hold", [][4]float64{{0, 1, 1, 1}, {5000, 1, 1, 0}, {5001, 0, 1, 0}, {7000, 1, 1, 0}, {7500, 0, 1, 0}, {9000, 0, 1, 1}, {99000, 0, 1, 1}},
			Result{Resets: 2, FailedResets: 1}},
		{"bouncing set", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 1}, {1002, 1, 0, 1}, {1040, 1, 1, 1}, {1200, 1, 0, 1}, {1300, 1, 1, 1}, {1350, 1, 0, 1}, {4000, 1, 1, 1}, {99000, 1, 1, 1}},
			Result{Sets: 1, Shortest: 40e-6, Bounces: [2]int{2, 0}}},
		{"reset overrides set", [][4]float64{{0, 0, 1, 1}, {1000, 0, 0, 0}, {2000, 0, 0, 0}, {3000, 0, 1, 0}, {4000, 0, 1, 1}, {99000, 0, 1, 1}},
			Result{}},
		{"unknown states", [][4]float64{{0, 0, 1, 1}, {500, unknown, 1, 1}, {1000, 0, 0, 1}, {1002, 1, 0, 1}, {1500, 1, 1, 1}, {99000, 1, 1, 1}},
			Result{Sets: 1, Shortest: 500e-6, Unknown: 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Run(capture(c.rows...), Options{})
			if err != nil {
				t.Fatal(err)
			}
			got := Result{Sets: r.Sets, Resets: r.Resets, MissedSets: r.MissedSets, FalseSets: r.FalseSets, FailedResets: r.FailedResets, FalseResets: r.FalseResets, Bounces: r.Bounces, Unknown: r.Unknown}
			want := c.want
			shortest := want.Shortest
			want.Shortest = 0
			if got.Sets != want.Sets || got.Resets != want.Resets || got.MissedSets != want.MissedSets || got.FalseSets != want.FalseSets ||
				got.FailedResets != want.FailedResets || got.FalseResets != want.FalseResets || got.Bounces != want.Bounces || got.Unknown != want.Unknown {
				t.Errorf("got %+v, want %+v; events %v", got, want, r.Events)
			}
			if !(math.Abs(r.Shortest-shortest) <= 1e-9) {
				t.Errorf("shortest set press %v, want %v", r.Shortest, shortest)
			}
			if faults := want.MissedSets + want.FalseSets + want.FailedResets + want.FalseResets; r.Good() != (faults == 0) || len(r.Events) != faults {
				t.Errorf("good %v with %d faults and %d events", r.Good(), faults, len(r.Events))
			}
			var whole, wrong float64
			for _, row := range r.Table {
				whole += row.Time
				wrong += row.Wrong
			}
			if !(math.Abs(whole-99000e-6) <= 1e-9) {
				t.Errorf("the table's times add up to %v, want the record's 99 ms", whole)
			}
			if r.Good() != (wrong == 0) {
				t.Errorf("good %v, and yet %v s of wrong output in the table %+v", r.Good(), wrong, r.Table)
			}
		})
	}
}

func TestRefuses(t *testing.T) {
	two := capture([4]float64{0, 0, 1, 1})
	two.Channels = two.Channels[:2]
	if _, err := Run(two, Options{}); !errors.Is(err, ErrChannels) {
		t.Errorf("two channels: %v", err)
	}
	analogue := capture([4]float64{0, 0, 1, 1})
	analogue.Kind = acquire.Samples
	if _, err := Run(analogue, Options{}); !errors.Is(err, ErrChannels) {
		t.Errorf("an analogue capture: %v", err)
	}
	if _, err := Run(capture([4]float64{0, 0, 1, 1}), Options{}); err == nil {
		t.Error("a capture in which nothing happens was judged")
	}
}
