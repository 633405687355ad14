package lot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

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
			if at := changesAt(points, 2); at != nil {
				found = append(found, at[0])
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
		"slow":   {50, 60, 2, func(x float64) float64 { return 0.02 * math.Sin(2*math.Pi*(x+0.2)) }},
		"settle": {100, 60, 6, func(x float64) float64 { return 0.05 * math.Exp(-5*x) }}, // 18 without courses that settle
	} {
		if found := lots(c.lots, c.n, c.course); len(found) > c.most {
			t.Errorf("%s: a change in %d of %d lots", name, len(found), c.lots)
		}
	}
	random = rand.New(rand.NewPCG(19, 78))
	found := lots(50, 60, func(x float64) float64 { return 0.036 * math.Floor(x+0.5) })
	off := 0
	for _, at := range found {
		if at < 28 || at > 32 {
			off++
		}
	}
	if len(found) < 38 || off > 2 {
		t.Errorf("three standard deviations half way: found in %d of 50 lots, more than two boards off in %d", len(found), off)
	}
}

// Three reels are told as three, up and down, back again or by stairs, each to a few boards; boards that wander are not told to change.
func TestSeveralReels(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 75))
	const n = 120
	lot := func(course func(i int) float64) []int {
		points := make([]point, n)
		for i := range points {
			v := 0.01*random.NormFloat64() + course(i)
			points[i] = point{v + 0.002*random.NormFloat64(), v + 0.003*random.NormFloat64()}
		}
		return changesAt(points, 2)
	}
	for name, levels := range map[string][3]float64{"up and down": {0, 0.03, -0.02}, "back": {0, 0.035, 0}, "stairs": {0, 0.035, 0.07}} {
		right := 0
		for range 20 {
			at := lot(func(i int) float64 { return levels[i/45] })
			if len(at) == 2 && math.Abs(float64(at[0]-45)) <= 3 && math.Abs(float64(at[1]-90)) <= 3 {
				right++
			}
		}
		if right < 17 {
			t.Errorf("%s: three reels are told in %d of 20 lots", name, right)
		}
	}
	random = rand.New(rand.NewPCG(19, 80))
	told := 0
	for range 50 {
		v := random.NormFloat64()
		if lot(func(int) float64 {
			v = 0.95*v + 0.31*random.NormFloat64()
			return 0.015 * v
		}) != nil {
			told++
		}
	}
	if told > 3 { // beside a straight line and waves alone 7
		t.Errorf("in %d of 50 lots that wander a change is told", told)
	}
	for _, few := range [][]point{nil, make([]point, 5), make([]point, 40)} {
		if at := changesAt(few, 2); at != nil {
			t.Errorf("%d boards that are all alike change at %d", len(few), at)
		}
	}
	many := make([]point, 3000) // more than places are tried
	for i := range many {
		many[i] = point{0.01*random.NormFloat64() + 0.04*float64(i/1240), 0.01 * random.NormFloat64()}
	}
	if at := changesAt(many, 2); len(at) != 2 || math.Abs(float64(at[0]-1240)) > 1 || math.Abs(float64(at[1]-2480)) > 1 {
		t.Errorf("3000 boards change at %d, not at 1240 and 2480", at)
	}
}

// How likely a wandering level is, is that of the differences between neighbours: normal, their covariance 2 + q and -1 beside it.
func TestWanderByDifferences(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 79))
	const n = 12
	points := make([]point, n)
	level := 0.0
	for i := range points {
		level += 2 * random.NormFloat64()
		points[i][0] = level + random.NormFloat64()
	}
	d := mat.NewVecDense(n-1, nil)
	for i := range n - 1 {
		d.SetVec(i, points[i+1][0]-points[i][0])
	}
	likely := func(q float64) float64 {
		s := mat.NewSymDense(n-1, nil)
		for i := range n - 1 {
			s.SetSym(i, i, 2+q)
			if i > 0 {
				s.SetSym(i, i-1, -1)
			}
		}
		var c mat.Cholesky
		var x mat.VecDense
		if !c.Factorize(s) || c.SolveVecTo(&x, d) != nil {
			t.Fatal("no factor")
		}
		return -(n-1)/2.*math.Log(mat.Dot(d, &x)/(n-1)) - c.LogDet()/2
	}
	want := 0.0
	for q := 1e-4; q < 2; q *= 2 {
		want = max(want, likely(q)-likely(0)-math.Log(n)/2)
	}
	if want == 0 {
		t.Fatal("nothing to compare")
	}
	near(t, "wander", orderOf(points, 1).wander(), want, 1e-9)
}

// Each of three batches is told against the one before, with the board that it begins with.
func TestThreeReelsInWords(t *testing.T) {
	d := lamp()
	b := &bench{random: rand.New(rand.NewPCG(19, 76)), spread: [3]float64{0.003, 0.003, 0.008}, noise: 1e-4}
	var s sampled
	for i := range 60 {
		b.shift[2] = []float64{0, 0.05, -0.03}[i/20]
		s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1)}, b.capture(b.board(t), "x"))
	}
	r := s.report(t, d, Options{})
	if len(r.Batches) != 3 || len(r.Trends) != 0 {
		t.Fatalf("%+v %+v", r.Batches, r.Trends)
	}
	for _, want := range []string{"The boards are of 3 batches, others from about " + r.Batches[1].From + " on, from about " + r.Batches[2].From + " on: ", "as if C1 of the second were +", "as if C1 of the third were \u22127.", " against the second"} {
		if !strings.Contains(r.Finding, want) {
			t.Errorf("%q lacks %q", r.Finding, want)
		}
	}
}

// A course that is no straight line is told by where it is lowest and highest; where another batch would look alike that is said; neither in
// steady lots.
func TestCourseOfALot(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 77))
	labels := make([]string, 60)
	for i := range labels {
		labels[i] = fmt.Sprint(i)
	}
	of := func(course func(x float64) float64) *Trend {
		x := make([]float64, len(labels))
		for i := range x {
			x[i] = 100 * (1 + 0.01*random.NormFloat64() + course(float64(i)/60))
		}
		return trendOf("frequency", x, labels, nil)
	}
	board := func(s string) (n float64) {
		fmt.Sscan(s, &n)
		return n
	}
	told := 0
	for range 1000 {
		if of(func(float64) float64 { return 0 }) != nil {
			told++
		}
	}
	if told > 6 {
		t.Errorf("of 1000 steady lots %d run along the boards", told)
	}
	for range 20 {
		swing := of(func(x float64) float64 { return 0.03 * math.Sin(2*math.Pi*x) })
		if swing == nil || swing.Bent == nil || !strings.Contains(swing.words(), "no straight line: lowest about "+swing.Bent.Lowest+", highest about "+swing.Bent.Highest) {
			t.Fatalf("%+v", swing)
		}
		near(t, "highest", board(swing.Bent.Highest), 15, 6)
		near(t, "lowest", board(swing.Bent.Lowest), 45, 6)
		near(t, "apart", swing.Bent.Range, 0.06, 0.025)
		if wave := of(func(x float64) float64 { return 0.03 * math.Cos(2*math.Pi*x) }); wave == nil || wave.Bent == nil { // without any slope
			t.Errorf("%+v", wave)
		}
		line := of(func(x float64) float64 { return 0.06 * x })
		if line == nil || line.Bent != nil || strings.Contains(line.words(), "straight") {
			t.Errorf("%+v", line)
		}
	}
	alike := 0
	for range 20 {
		if step := of(func(x float64) float64 { return 0.02 * math.Floor(2*x) }); step != nil && len(step.Batches) == 1 && math.Abs(board(step.Batches[0])-30) < 8 && strings.HasSuffix(step.words(), " Another batch from about "+step.Batches[0]+" on would look alike.") {
			alike++
		}
	}
	if alike < 14 {
		t.Errorf("another batch is named beside a drift in %d of 20 lots", alike)
	}
}

// What goes with two mixed batches is said: their stations, or turns along the order.
func TestWhatGoesWithBatches(t *testing.T) {
	for name, c := range map[string]struct {
		group   func(i int) int
		station func(i int) string
		want    string
	}{
		"turns":       {func(i int) int { return i % 2 }, nil, "They come by turns along the order"},
		"runs":        {func(i int) int { return i / 5 % 2 }, nil, "They come in runs along the order."},
		"by chance":   {func(i int) int { return i * i % 7 % 2 }, nil, ""},
		"stations":    {func(i int) int { return i % 2 }, func(i int) string { return []string{"north", "south"}[i%2] }, "Each batch has its own stations (north; south)"},
		"one station": {func(i int) int { return i * i % 7 % 2 }, func(i int) string { return "north" }, ""},
	} {
		r := &Report{Batches: make([]Batch, 2)}
		var rows []*Row
		for i := range 40 {
			row := &Row{Board: fmt.Sprint(i)}
			if c.station != nil {
				row.Files = []File{{Station: c.station(i)}}
			}
			rows = append(rows, row)
			b := &r.Batches[c.group(i)]
			b.rows = append(b.rows, row)
		}
		if got := r.beside(rows); !strings.HasPrefix(got, c.want) || c.want == "" && got != "" {
			t.Errorf("%s: %q", name, got)
		}
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
