package lot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"offbeat/acquire/manifest"
)

// Where a reel was changed is found to a few boards, in steady lots nothing is, and a drift or a swing is no change.
func TestWhereBoardsChange(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 72))
	lots := func(lots, n int, course func(x float64) float64) (found []int) {
		for range lots {
			points := make([]point, n)
			for i := range points {
				v := 0.012*random.NormFloat64() + course(float64(i)/float64(n))
				points[i] = point{v + 0.002*random.NormFloat64(), v + 0.003*random.NormFloat64()}
			}
			if at := changeAt(points, 2); at > 0 {
				found = append(found, at)
			}
		}
		return found
	}
	for name, c := range map[string]struct {
		lots, n, most int
		course        func(x float64) float64
	}{
		"steady": {1000, 60, 4, func(float64) float64 { return 0 }}, // one a thousand is asked, of which four are three standard deviations more
		"slope":  {50, 200, 1, func(x float64) float64 { return 0.04 * x }},
		"swing":  {20, 500, 1, func(x float64) float64 { return 0.015 * math.Sin(2*math.Pi*x) }},
	} {
		if found := lots(c.lots, c.n, c.course); len(found) > c.most {
			t.Errorf("%s: a change in %d of %d lots", name, len(found), c.lots)
		}
	}
	found := lots(50, 60, func(x float64) float64 { return 0.036 * math.Floor(x+0.5) })
	off := 0
	for _, at := range found {
		if at < 28 || at > 32 {
			off++
		}
	}
	if len(found) < 45 || off > 2 {
		t.Errorf("three standard deviations half way: found in %d of 50 lots, more than two boards off in %d", len(found), off)
	}
}

// A reel changed half way is named beside boards of another fault, which neither hide it nor bend the course of the others.
func TestReelIsChanged(t *testing.T) {
	d := lamp()
	b := &bench{random: rand.New(rand.NewPCG(19, 73)), spread: [3]float64{0.003, 0.003, 0.01}, noise: 1e-4}
	var s sampled
	for i := range 40 {
		b.shift[1], b.shift[2] = 0, 0.05*float64(i/20)
		switch i {
		case 4:
			b.shift[1] = math.Log(0.1)
		case 9:
			b.shift[2] += math.Log(3)
		}
		s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1)}, b.capture(b.board(t), "x"))
	}
	r := s.report(t, d, Options{})
	if len(r.Batches) != 2 || r.Batches[0].From != "" || len(r.Batches[0].Boards)+len(r.Batches[1].Boards) != 40 || r.Batches[0].Boards[0] != "lamp 1" {
		t.Fatalf("%+v", r.Batches)
	}
	near(t, "boards before", float64(len(r.Batches[0].Boards)), 20, 1)
	near(t, "difference", r.Batches[1].High-r.Batches[0].High, 0.05, 0.01)
	if from := r.Batches[1].From; from != r.Batches[1].Boards[0] || !strings.HasPrefix(r.Finding, "From about "+from+" on the boards are of another batch: ") || !strings.Contains(r.Finding, "as if C1 of the second were +") {
		t.Error(r.Finding)
	}
	if strings.Join(r.Outliers, " ") != "lamp 5 lamp 10" || len(r.Trends) != 0 {
		t.Errorf("%q %+v", r.Outliers, r.Trends)
	}
}

// What both batches have in common is said of each: it is no less wrong since another reel began.
func TestWhatBatchesHaveInCommon(t *testing.T) {
	d := lamp()
	b := &bench{random: rand.New(rand.NewPCG(19, 74)), spread: [3]float64{0.003, 0.003, 0.008}, noise: 1e-4}
	var s sampled
	for i := range 40 {
		b.shift[1], b.shift[2] = math.Log(1.4), 0.05*float64(i/20)
		s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1)}, b.capture(b.board(t), "x"))
	}
	r := s.report(t, d, Options{})
	if len(r.Batches) != 2 || !strings.Contains(r.Finding, "For the first batch, another preferred value is fitted as R2") || !strings.Contains(r.Finding, "For the second, another preferred value is fitted as R2") {
		t.Error(r.Finding)
	}
}
