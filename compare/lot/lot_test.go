package lot

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"offbeat/acquire/manifest"
	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot/acceptance"
	"offbeat/compare/lot/hierarchy"
	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v ± %v", what, got, want, tolerance)
	}
}

// lamp is the harbour lamp's astable with an ideal timer.
func lamp() *fit.Design {
	return &fit.Design{
		Title: "Harbour lamp", Circuit: "astable", Family: fit.Ideal, History: fit.New, Supply: fit.Reading{Name: "supply", Value: 5},
		Parts: []fit.Part{
			{Name: "R1", Kind: fit.Resistor, Nominal: 10e3, Minus: 0.05, Plus: 0.05},
			{Name: "R2", Kind: fit.Resistor, Nominal: 47e3, Minus: 0.05, Plus: 0.05},
			{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1},
		},
		Targets: []fit.Target{{Quantity: "frequency", Value: 138.7, Low: 138.7 * 0.85, High: 138.7 * 1.15}},
	}
}

// bench makes boards: each gets parts about the reels' means, and times from the Kirchhoff integration.
type bench struct {
	random        *rand.Rand
	shift, spread [3]float64 // of R1, R2, C1 as logarithms
	noise         float64    // relative, of each capture's times
}

type times struct{ high, low float64 }

func (b *bench) board(t testing.TB) times {
	t.Helper()
	var z [3]float64
	for j := range z {
		z[j] = math.Exp(b.shift[j] + b.spread[j]*b.random.NormFloat64())
	}
	high, low, err := fittest.Integrate(fittest.Network{Circuit: fittest.Astable, Supply: 5, R1: 10e3 * z[0], R2: 47e3 * z[1], C: 100e-9 * z[2]})
	if err != nil {
		t.Fatal(err)
	}
	return times{high, low}
}

// capture measures a board once, with noise of the stated size.
func (b *bench) capture(x times, source string) *fit.Measurement {
	of := func(v float64) fit.Estimate {
		return fit.Estimate{Value: v * (1 + b.noise*b.random.NormFloat64()), Uncertainty: v * b.noise, Count: 100}
	}
	return &fit.Measurement{Source: source, High: of(x.high), Low: of(x.low), Cycles: 100}
}

// sampled is a lot on the bench: entries of a manifest and what each capture measures.
type sampled struct {
	entries  []manifest.Entry
	captures map[string]*fit.Measurement
}

func (s *sampled) add(e manifest.Entry, m *fit.Measurement) {
	if s.captures == nil {
		s.captures = map[string]*fit.Measurement{}
	}
	e.Capture = fmt.Sprintf("%s-%d.csv", e.Board, len(s.entries))
	s.captures[e.Capture] = m
	s.entries = append(s.entries, e)
}

// work reconciles a board from its captures; a nil one can't be read.
func (s *sampled) work(d *fit.Design) Work {
	judge := NewReconciler(d)
	return func(ctx context.Context, b *Board) (*compare.Finding, []Measured, error) {
		var each []Measured
		var ms []*fit.Measurement
		for i := range b.Captures {
			m := s.captures[b.Captures[i].Capture]
			if m == nil {
				return nil, nil, errors.New(b.Captures[i].Capture + ":17:3: cut short")
			}
			each = append(each, Measured{&b.Captures[i], m})
			ms = append(ms, m)
		}
		f, err := judge.Board(ctx, b, ms)
		return f, each, err
	}
}

func (s *sampled) report(t testing.TB, d *fit.Design, opt Options) *Report {
	t.Helper()
	c := NewCollector(d)
	err := Run(context.Background(), Group(s.entries), s.work(d), RunOptions{}, func(o *Outcome) error {
		c.Add(o)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	r, err := c.Report(opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A lot with the capacitors' reel 16 % low, one board whose R2 is far off, and one capture that is cut short.
func TestReelIsOff(t *testing.T) {
	d := lamp()
	b := &bench{random: rand.New(rand.NewPCG(8, 30)), spread: [3]float64{0.015, 0.015, 0.02}, shift: [3]float64{0, 0, math.Log(0.84)}, noise: 1e-4}
	var s sampled
	for i := range 40 {
		x := b.board(t)
		switch i {
		case 11:
			// R2 half as large again: ln 2 (R1+R2) C and ln 2 R2 C
			x.low *= 1.5
			x.high += x.low / 3
			s.add(manifest.Entry{Board: "lamp 12"}, b.capture(x, "lamp 12"))
		case 20:
			s.add(manifest.Entry{Board: "lamp 21"}, nil)
		default:
			s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1)}, b.capture(x, "x"))
		}
	}
	r := s.report(t, d, Options{})
	if len(r.Failed) != 1 || r.Failed[0].Board != "lamp 21" || !strings.Contains(r.Failed[0].Error, ":17:3:") {
		t.Errorf("failed: %+v", r.Failed)
	}
	if !slices.Equal(r.Outliers, []string{"lamp 12"}) || !slices.Equal(r.Standing[0].Cause.Parts, []string{"R2"}) {
		t.Errorf("outliers: %+v", r.Standing)
	}
	if c := r.Causes[0]; c.Cause != "shifted" || c.Parts[0] != "C1" || c.Probability < 0.7 {
		t.Errorf("cause: %+v", c)
	}
	c := r.Parts[2]
	near(t, "shift of C1", c.Shift.Value, math.Log(0.84), 3*c.Shift.Uncertainty)
	near(t, "spread of C1", c.Spread.Value, 0.02, 3*c.Spread.Uncertainty)
	// Thresholds that noise trips early, all resistors alike, a bad contact at C1 and the clock make the same times with C1 in
	// tolerance. They hold a quarter, more than the 2.5 % beyond the interval's end, so that it reaches up to them.
	if c.Shift.Uncertainty > 0.08 || c.Shift.Interval95[1] < math.Log(0.9) || c.OutOfTolerance < 0.7 {
		t.Errorf("%+v", c)
	}
	if r.Acceptance.Result != acceptance.Reject || r.Acceptance.SampleSize != 39 {
		t.Errorf("%+v", r.Acceptance)
	}
	for _, want := range []string{"not accepted", "37 of 39 boards fail, most likely since the batch of C1 is 1", " low, outside its tolerance of 10 %", "on average, without the board that stands out, the frequency is", "One board stands out: lamp 12.", "1 board could not be judged"} {
		if !strings.Contains(r.Finding, want) {
			t.Errorf("%q lacks %q", r.Finding, want)
		}
	}
}

// A good lot: accepted, in control, capable. Cp is known: the target's width over six deviations of ln f, where
// ln f = -ln((R1 + 2 R2) C) - ..., so its deviation is sqrt((10/104 s1)² + (94/104 s2)² + sC²).
func TestGoodLot(t *testing.T) {
	d := lamp()
	b := &bench{random: rand.New(rand.NewPCG(8, 31)), spread: [3]float64{0.01, 0.01, 0.02}, noise: 1e-4}
	var s sampled
	for i := range 80 {
		s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1), Time: time.Date(2026, 1, 31, 8, i, 0, 0, time.UTC)}, b.capture(b.board(t), "x"))
	}
	r := s.report(t, d, Options{LotSize: 1000})
	a := r.Acceptance
	if a.Result != acceptance.Accept || a.SampleSize != 80 || a.Accept != 2 || a.Reject != 3 || a.Plan.Letter != "J" || a.Nonconforming != 0 {
		t.Errorf("%+v", a) // ISO 2859-1: lot 1000, level II, AQL 1.0: J, 80, 2/3
	}
	c := r.Capability["frequency"]
	sd := math.Sqrt(math.Pow(10./104*0.01, 2) + math.Pow(94./104*0.01, 2) + 0.02*0.02)
	near(t, "Pp", *c.Pp, 0.30/(6*sd), 4*0.30/(6*sd)/math.Sqrt(2*79))
	if c.CpInterval[0] > *c.Cp || *c.Cp > c.CpInterval[1] || *c.Normality.P < 0.001 {
		t.Errorf("%+v", c)
	}
	if len(r.Outliers) != 0 || len(r.Failed) != 0 || r.Boards.Pass != 80 || r.Causes[0].Cause != "nothing" {
		t.Errorf("%+v %+v %+v %+v", r.Outliers, r.Failed, r.Boards, r.Causes[0])
	}
	if len(r.Charts) != 3 || r.Charts[0].Chart != "individuals" || r.Charts[2].Chart != "EWMA" {
		t.Errorf("%+v", r.Charts)
	}
	if len(r.Variables) != 1 || r.Variables[0].Result != acceptance.Accept || r.Variables[0].Size != 35 {
		t.Errorf("%+v", r.Variables)
	}
	if v := s.report(t, d, Options{ByValue: true}).Acceptance; v.Method != "variables" || v.Result != acceptance.Accept {
		t.Errorf("%+v", v)
	}
}

// The sentence counts as many failing boards as the table, whether they stand out or not.
func TestFailingAreCounted(t *testing.T) {
	b := &bench{random: rand.New(rand.NewPCG(8, 32)), spread: [3]float64{0.01, 0.01, 0.02}, noise: 1e-4}
	var s sampled
	for i := range 12 {
		x := b.board(t)
		if i == 4 || i == 9 { // R2 half as large again
			x.low *= 1.5
			x.high += x.low / 3
		}
		s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1)}, b.capture(x, "x"))
	}
	r := s.report(t, lamp(), Options{})
	if r.Boards.Fail != 2 || len(r.Outliers) != 2 || !strings.Contains(r.Finding, "2 boards fail: lamp 5, lamp 10.") || !strings.Contains(r.Finding, "2 boards stand out: ") {
		t.Errorf("%d fail, %v stand out: %s", r.Boards.Fail, r.Outliers, r.Finding)
	}
}

// The verdicts of boards decide, whatever the rest: undecided boards count both ways.
func TestOpenVerdicts(t *testing.T) {
	d := lamp()
	c := NewCollector(d)
	for i := range 20 {
		v := "pass"
		if i == 7 {
			v = "undecided"
		}
		c.rows = append(c.rows, Row{Board: fmt.Sprint(i), Verdict: v})
	}
	a, _, err := c.accept(c.rows, Options{AQL: 1})
	if err != nil {
		t.Fatal(err)
	}
	if a.Result != acceptance.Undecided || a.Open != 1 || a.SampleSize != 20 { // n = 13, Ac = 0
		t.Errorf("%+v", a)
	}
	for _, bad := range []Options{{LotSize: 19}, {Inspection: "strict"}, {AQL: 1.1}, {Level: "IV"}, {AQL: 0.01, ByValue: true}} {
		if err := bad.Check(20); err == nil {
			t.Errorf("%+v was taken", bad)
		}
	}
	d.Targets = nil
	if a, _, _ = c.accept(c.rows, Options{AQL: 1}); a.Result != acceptance.Undecided || !strings.Contains(a.Reason, "no target") {
		t.Errorf("%+v", a)
	}
}

func TestSeveralLots(t *testing.T) {
	d := lamp()
	b := &bench{random: rand.New(rand.NewPCG(8, 32)), spread: [3]float64{0.01, 0.01, 0.01}, noise: 1e-4}
	var s sampled
	for k, shift := range []float64{0, math.Log(0.8), math.Log(1.25)} {
		b.shift[2] = shift
		for i := range 15 {
			s.add(manifest.Entry{Board: fmt.Sprint(i + 1), Lot: fmt.Sprint("week ", k+1)}, b.capture(b.board(t), "x"))
		}
	}
	r := s.report(t, d, Options{})
	if len(r.Lots) != 3 || r.Lots[0].Acceptance.Result != acceptance.Accept || r.Lots[1].Acceptance.Result != acceptance.Reject || r.Lots[2].Acceptance.Result != acceptance.Reject ||
		r.Acceptance.Result != acceptance.Reject || r.Acceptance.SampleSize != 45 {
		t.Fatalf("%+v", r.Lots)
	}
	if !strings.Contains(r.Switching, "tightened") { // two of three lots not accepted
		t.Error(r.Switching)
	}
	near(t, "week 2's C1", r.Lots[1].Parts[2].Shift.Value, math.Log(0.8), 3*r.Lots[1].Parts[2].Shift.Uncertainty)
	if r.Charts[0].Chart != "mean" || r.Charts[0].Signals == nil || r.Charts[0].Signals[0].At == "week 1" && len(r.Charts[0].Signals) == 1 {
		t.Errorf("%+v", r.Charts[0])
	}
}

// Three captures of each board on two stations, one of which runs 2 % fast: the share of the target follows.
func TestGaugeOfLot(t *testing.T) {
	d := lamp()
	b := &bench{random: rand.New(rand.NewPCG(8, 33)), spread: [3]float64{0.01, 0.01, 0.03}, noise: 2e-3}
	var s sampled
	for i := range 12 {
		x := b.board(t)
		for k := range 6 {
			station, y := "quay", x
			if k%2 == 1 {
				station, y = "shed", times{x.high * 0.98, x.low * 0.98}
			}
			s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1), Station: station}, b.capture(y, "x"))
		}
	}
	r := s.report(t, d, Options{})
	if len(r.Gauge) != 1 {
		t.Fatalf("%+v", r.Gauge)
	}
	g := r.Gauge[0]
	// The period adds two independent times of 57/104 and 47/104 of it, each good to 0.2 %.
	want := 138.7 * 2e-3 * math.Hypot(57./104, 47./104)
	if g.Stations != "station" || g.Boards != 12 || g.Observations != 72 || !(math.Abs(g.Repeatability-want) <= 4*want/math.Sqrt(2*48)) {
		t.Errorf("%+v, repeatability %v", g, want)
	}
	// Two stations 2 % apart have a standard deviation of 2 %/sqrt(2).
	near(t, "reproducibility", *g.Reproducibility, 138.7*0.02/math.Sqrt2, 0.3)
	near(t, "share", *g.Share, 6*g.Total/(138.7*0.30), 1e-9)
	if *g.Share < 0.2 || !strings.Contains(strings.Join(r.Warnings, "\n"), "of the tolerance") {
		t.Errorf("%v %v", *g.Share, r.Warnings)
	}
}

// A board of a lot gets what the main job says of it by itself, to 0.01, but for what a lot does not print; and the same bytes
// whatever boards were judged before it.
func TestReconcilerSaysTheSame(t *testing.T) {
	for _, family := range []string{fit.Ideal, fit.CMOS, fit.Bipolar} {
		d := lamp()
		d.Family = family
		d.Supply.Half = 0.1
		b := &bench{random: rand.New(rand.NewPCG(8, 36)), spread: [3]float64{0.01, 0.01, 0.02}, noise: 1e-4}
		var boards []Board
		var captures [][]*fit.Measurement
		for i, shift := range [][3]float64{{}, {}, {0.06, 0, 0}, {0, 0.2, 0}, {0, 0, -0.4}, {0.5, 0, 0}} {
			b.shift = shift
			boards = append(boards, Board{Captures: []manifest.Entry{{Supply: &quantity.Quantity{Value: 5 + 4*float64(i%2)}}}})
			captures = append(captures, []*fit.Measurement{b.capture(b.board(t), "x")})
		}
		r, other := NewReconciler(d), NewReconciler(d)
		first := make([]*compare.Finding, len(boards))
		for i := len(boards) - 1; i >= 0; i-- {
			var err error
			if first[i], err = other.Board(t.Context(), &boards[i], captures[i]); err != nil {
				t.Fatal(err)
			}
		}
		for i := range boards {
			got, err := r.Board(t.Context(), &boards[i], captures[i])
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(got, first[i]) {
				t.Errorf("%s, board %d: %+v\nafter others %+v", family, i, got, first[i])
			}
			want, err := reconcile.Run(boards[i].Design(d), captures[i])
			if err != nil {
				t.Fatal(err)
			}
			if len(want.Groups) == 0 || len(got.Groups) > 0 || len(got.Next) > 0 {
				t.Errorf("%s: %d groups and %d readings", family, len(got.Groups), len(got.Next))
			}
			told := map[string]float64{}
			for _, c := range got.Causes {
				told[cause.Key(c.Cause, c.Parts)] = c.Probability
			}
			for _, c := range want.Causes {
				near(t, fmt.Sprintf("%s, board %d, %s %v", family, i, c.Cause, c.Parts), told[cause.Key(c.Cause, c.Parts)], c.Probability, 0.01)
			}
			for k, p := range want.Parts {
				near(t, family+", "+p.Name+" out of tolerance", got.Parts[k].OutOfTolerance, p.OutOfTolerance, 0.01)
				near(t, family+", "+p.Name, got.Parts[k].Value, p.Value, 0.05*(p.Interval95[1]-p.Interval95[0]))
			}
		}
	}
}

func TestRunKeepsOrderAndGoesOn(t *testing.T) {
	boards := make([]Board, 100)
	for i := range boards {
		boards[i] = Board{Name: fmt.Sprint(i), Captures: make([]manifest.Entry, 1)}
	}
	work := func(_ context.Context, b *Board) (*compare.Finding, []Measured, error) {
		i, _ := strconv.Atoi(b.Name)
		time.Sleep(time.Duration((i*37)%5) * time.Millisecond)
		switch {
		case i == 40:
			panic("the ground gave way")
		case i == 41:
			return nil, nil, errors.New("cut short")
		case i == 42:
			return nil, nil, nil
		}
		return &compare.Finding{}, nil, nil
	}
	var got []string
	var failed []string
	var told int
	err := Run(context.Background(), boards, work, RunOptions{Workers: 7, Progress: func(done, total int) { told = done * 1000 / total }}, func(o *Outcome) error {
		got = append(got, o.Board.Name)
		if o.Err != nil {
			failed = append(failed, o.Board.Name+": "+o.Err.Error())
		}
		return nil
	})
	if err != nil || len(got) != 100 || told != 1000 {
		t.Fatalf("%v, %d boards, progress %d", err, len(got), told)
	}
	for i, name := range got {
		if name != fmt.Sprint(i) {
			t.Fatalf("place %d: board %s", i, name)
		}
	}
	if len(failed) != 3 || !strings.Contains(failed[0], "40: internal failure: the ground gave way") || !strings.Contains(failed[1], "cut short") || !strings.Contains(failed[2], "nothing was measured") {
		t.Errorf("%q", failed)
	}
}

func TestRunEndsEarly(t *testing.T) {
	boards := make([]Board, 1000)
	for i := range boards {
		boards[i].Captures = make([]manifest.Entry, 1)
	}
	var begun atomic.Int64
	work := func(context.Context, *Board) (*compare.Finding, []Measured, error) {
		begun.Add(1)
		return &compare.Finding{}, nil, nil
	}
	full := errors.New("disk full")
	n := 0
	err := Run(context.Background(), boards, work, RunOptions{Workers: 3}, func(*Outcome) error {
		if n++; n == 10 {
			return full
		}
		return nil
	})
	if err != full || begun.Load() > 10+3*(ahead+2) {
		t.Errorf("%v after %d boards", err, begun.Load())
	}
	ctx, cancel := context.WithCancel(context.Background())
	n = 0
	err = Run(ctx, boards, work, RunOptions{Workers: 3}, func(*Outcome) error {
		if n++; n == 10 {
			cancel()
		}
		return nil
	})
	if !errors.Is(err, context.Canceled) || n > 10+3*(ahead+2) {
		t.Errorf("%v after %d boards", err, n)
	}
	if err := Run(context.Background(), nil, work, RunOptions{}, nil); err != nil {
		t.Error(err)
	}
}

func TestEmptyLot(t *testing.T) {
	r, err := NewCollector(lamp()).Report(Options{})
	if err != nil || r.Acceptance.Result != acceptance.Undecided || len(r.Parts) != 0 {
		t.Errorf("%+v, %v", r, err)
	}
}

// TestLotCalibration draws lots from the priors: nothing, or one part's reel shifted with the design's odds, the
// reels' spreads small. The stated probabilities of the causes add up to the number of right ones (a reliability
// check in the large), and the 95 % interval of each reel's shift holds the truth. OFFBEAT_CALIBRATION sets the
// number of lots, and takes other seeds.
func TestLotCalibration(t *testing.T) {
	lots, seed, errors := 7, uint64(34), 2.8
	if n, err := strconv.Atoi(os.Getenv("OFFBEAT_CALIBRATION")); err == nil && n > 0 {
		lots, seed, errors = n, 7034, 4
	}
	random := rand.New(rand.NewPCG(8, seed))
	odds := map[string]float64{"shifted": 0.4, "two_shifted": 0, "other_value": 0, "exchanged": 0, "leakage": 0, "thresholds": 0, "discharge": 0, "clock": 0, "unexplained": 0}
	var stated, variance float64
	right, covered := 0, 0
	for range lots {
		d := lamp()
		d.Odds = odds
		b := &bench{random: random, spread: [3]float64{0.01, 0.01, 0.02}, noise: 1e-3}
		for j, p := range d.Parts {
			b.shift[j] = math.Log(1 + p.Plus*(2*random.Float64()-1)) // uniform in tolerance
		}
		which := -1 // odds 1 : 0.4 : 0.4 : 0.4
		if u := random.Float64() * 2.2; u > 1 {
			which = min(int((u-1)/0.4), 2)
			e := 0.25 * random.ExpFloat64()
			if random.IntN(2) == 0 {
				b.shift[which] = math.Log(1-d.Parts[which].Minus) - e
			} else {
				b.shift[which] = math.Log(1+d.Parts[which].Plus) + e
			}
		}
		var s sampled
		for i := range 20 {
			s.add(manifest.Entry{Board: fmt.Sprint(i)}, b.capture(b.board(t), "x"))
		}
		c := NewCollector(d)
		for i := range s.entries { // the boards' own back-solves are not looked at, so they are left out
			m := s.captures[s.entries[i].Capture]
			row := Row{Board: s.entries[i].Board, Verdict: "no target"}
			var err error
			if row.times, err = boardTimes(row.Board, m); err != nil {
				t.Fatal(err)
			}
			c.rows = append(c.rows, row)
		}
		moved := c.moved(judged(c.rows), Options{Seed: random.Uint64() >> 8})
		var mean, square float64 // of the probability given to the truth, if the statement is calibrated
		for _, cause := range moved.causes {
			p := cause.Probability
			mean, square = mean+p*p, square+p*p*p
			if cause.Cause == "nothing" && which < 0 || cause.Cause == "shifted" && which >= 0 && cause.Parts[0] == d.Parts[which].Name {
				stated += p
				right++
			}
		}
		stated -= mean
		variance += square - mean*mean
		for j, p := range moved.parts {
			if p.Shift.Interval95[0] <= b.shift[j] && b.shift[j] <= p.Shift.Interval95[1] {
				covered++
			}
		}
	}
	t.Logf("%d lots of 20 boards: probability of the truth less its expectation %.3f ± %.3f a lot; the 95 %% intervals of the reels' shifts held %.1f ± %.1f %%",
		lots, stated/float64(lots), math.Sqrt(variance)/float64(lots), 100*float64(covered)/float64(3*lots), 100*math.Sqrt(0.95*0.05/float64(lots)))
	if right != lots {
		t.Fatalf("the truth was listed in %d of %d lots", right, lots)
	}
	near(t, "probability of the truth less its expectation", stated/float64(lots), 0, errors*math.Sqrt(variance)/float64(lots))
	// The three parts of a lot err together, along the ridge that the two times leave open: one lot is one trial.
	near(t, "coverage of the shifts", float64(covered)/float64(3*lots), 0.95, errors*math.Sqrt(0.95*0.05/float64(lots))+0.01)
}

// boardTimes compares a measurement with the first-order times, ln 2 (R1+R2) C and ln 2 R2 C (SLFS022I p. 11).
func boardTimes(name string, m *fit.Measurement) (hierarchy.Board, error) {
	return hierarchy.BoardOf(name, []*fit.Measurement{m}, math.Ln2*57e3*100e-9, math.Ln2*47e3*100e-9)
}

// A lot captured at temperatures between 5 and 45 °C: with the capacitor's coefficient in the design the manifest's
// temperatures take its part of the scatter out, and the spread is the parts' own.
func TestTemperatureIsTakenOut(t *testing.T) {
	d := lamp()
	d.Parts[2].Tempco = -1e-3
	b := &bench{random: rand.New(rand.NewPCG(8, 35)), spread: [3]float64{0.002, 0.002, 0.004}, noise: 1e-4}
	c := NewCollector(d)
	for i := range 40 {
		at := 5 + 40*b.random.Float64()
		b.shift[2] = math.Log(1 - 1e-3*(at-25))
		m := b.capture(b.board(t), "x")
		e := manifest.Entry{Board: fmt.Sprint("lamp ", i+1), Capture: "x", Temperature: &at}
		f := &compare.Finding{Predicted: compare.Times[compare.Predicted]{High: &compare.Predicted{Nominal: math.Ln2 * 57e3 * 100e-9}, Low: &compare.Predicted{Nominal: math.Ln2 * 47e3 * 100e-9}}}
		c.Add(&Outcome{Board: &Board{Name: e.Board, Captures: []manifest.Entry{e}}, Finding: f, Each: []Measured{{&e, m}}})
	}
	moved := c.moved(judged(c.rows), Options{})
	// ±20 K of 0.1 %/K would be a spread of 1.2 %.
	near(t, "spread of C1", moved.parts[2].Spread.Value, 0.004, 4*0.004/math.Sqrt(2*39))
}

func TestBoardsOwnConditions(t *testing.T) {
	volts := func(text string) *quantity.Quantity {
		q, err := quantity.Parse(text, quantity.Volt)
		if err != nil {
			t.Fatal(err)
		}
		return &q
	}
	ohms := func(text string) quantity.Quantity {
		q, err := quantity.Parse(text, quantity.Ohm)
		if err != nil {
			t.Fatal(err)
		}
		return q
	}
	d := lamp()
	d.Supply.Half = 0.1
	d.Readings = []fit.Reading{{Name: "R1", Value: 1}, {Name: "R2", Value: 2}}
	b := Board{Captures: []manifest.Entry{
		{Supply: volts("4.9 V ± 0.1 V"), Readings: []manifest.Reading{{Name: "R2", Quantity: ohms("46k ± 1 %")}}},
		{Supply: volts("5.2 V"), Readings: []manifest.Reading{{Name: "R2", Quantity: ohms("47k ± 1 % (k=2)")}}},
	}}
	got := b.Design(d)
	near(t, "lowest supply", got.Supply.Value-got.Supply.Half, 4.8, 1e-9)
	near(t, "highest supply", got.Supply.Value+got.Supply.Half, 5.2*1.02, 1e-9) // the design's 2 %
	if len(got.Readings) != 2 || got.Readings[1].Value != 47e3 || got.Readings[1].Half != 0 {
		t.Errorf("%+v", got.Readings)
	}
	near(t, "standard uncertainty", got.Readings[1].Standard, 235, 1e-9)
	if d.Readings[1].Value != 2 || d.Supply.Value != 5 {
		t.Error("the lot's design was changed")
	}
	if same := (&Board{Captures: make([]manifest.Entry, 1)}).Design(d); same.Supply != d.Supply {
		t.Errorf("%+v", same.Supply)
	}
}

// Boards whose times are absurd, or no numbers, cost their own verdict at most: the lot is judged, and nothing in its report
// is NaN.
func TestLotGoesOn(t *testing.T) {
	for name, absurd := range map[string]times{"tiny": {1e-300, 1e-300}, "huge": {1e280, 1e280}, "unlike": {1e-9, 1e9}, "no number": {math.NaN(), 1}, "infinite": {math.Inf(1), 1}, "nought": {0, 0}, "negative": {-1, 1}} {
		b := &bench{random: rand.New(rand.NewPCG(19, 41)), spread: [3]float64{0.01, 0.01, 0.02}, noise: 1e-4}
		var s sampled
		for i := range 14 {
			x := b.board(t)
			if i == 5 {
				x = absurd
			}
			s.add(manifest.Entry{Board: fmt.Sprint("lamp ", i+1)}, b.capture(x, "x"))
		}
		r := s.report(t, lamp(), Options{})
		if r.Boards.Boards != 14 || r.Boards.Pass < 13 || r.Acceptance.Plan.Size == 0 {
			t.Errorf("%s: %+v %+v", name, r.Boards, r.Acceptance)
		}
		for i := range r.Failed { // it may say what is no number
			r.Failed[i].Error = ""
		}
		if text, err := json.Marshal(r); err != nil || strings.Contains(strings.ToLower(string(text)), "nan") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
