package session

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/open"
	"offbeat/fit/train"
)

// tenCycles hands out some ten cycles a time, as a port does.
type tenCycles struct{ r *bytes.Reader }

func (t tenCycles) Read(p []byte) (int, error) { return t.r.Read(p[:min(len(p), 200)]) }

// A jump of the period by 1 % (edges are uncertain by 0.03 % of it) is said some ten cycles after it, and nothing before.
func TestSaysAChangeSoon(t *testing.T) {
	const at = 2.0
	text := stream(t, 2.5, func(now float64) (float64, float64) {
		if now < at {
			return 1, 1
		}
		return 1.01, 1.01
	}, nil)
	src, err := open.NewStream("-", tenCycles{bytes.NewReader(text)}, acquire.StreamOptions{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := src.Next()
	if err != nil {
		t.Fatal(err)
	}
	s, said := New(nil), math.Inf(1)
	w := s.Watch(c, src, func() {
		s.Judge()
		if sh := s.Snapshot(); len(sh.Changes) > 0 {
			said = min(said, sh.Time)
		}
	})
	for b := (acquire.Block{}); err == nil; {
		err = w.Read(&b)
	}
	if late := (said - at) / (high + low); !(late > 0 && late < 25) {
		t.Errorf("said %.0f cycles after it", late)
	}
	all := s.Snapshot().Changes
	if len(all) != 1 {
		t.Fatalf("changes %v", all)
	}
	within(t, "time of the change", all[0].Time, at, 2*(high+low))
	within(t, "period before", all[0].Before, high+low, 1e-4*(high+low))
	within(t, "period after", all[0].After, 1.01*(high+low), 1e-3*(high+low))
}

// What changed stays known, once, when the cycles about it are no longer kept; a glitch that splits a pulse is no change.
func TestChangesStayKnown(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 2))
	s := New(nil)
	at, apart := 0.0, true
	for i := range 3000 {
		period := 1.0
		if i >= 500 && i < 520 || i >= 1400 {
			period = 1.05
		}
		edge := func(x float64) float64 { return at + x*period + 1e-3*rnd.NormFloat64() }
		c := train.Cycle{Rise: edge(0), Fall: edge(0.5), Index: float64(i), N: 1, Start: apart}
		apart = false
		more := []train.Cycle{c}
		if i%700 == 300 { // for an instant low
			first, second := c, c
			first.Fall, second.Rise, second.Index = edge(0.2), edge(0.22), c.Index+0.5
			more = []train.Cycle{first, second}
		}
		s.changes.take(more, 0)
		at += period
		if i%150 == 149 {
			s.look()
		}
	}
	want := []float64{500, 521, 1401}
	got := s.Snapshot()
	all := s.changes.all(got.Runs)
	if len(all) != len(want) {
		t.Fatalf("changes %v, want them at %v", all, want)
	}
	for i, j := range all {
		within(t, "time of a change", j.Time, want[i], 2)
		within(t, "by how much", math.Abs(j.After-j.Before), 0.05, 1e-3)
	}
	if len(s.changes.cycles) > mostCycles+150 {
		t.Errorf("%d cycles are kept", len(s.changes.cycles))
	}
	if s.look() {
		t.Error("looked at the same cycles twice")
	}
}
