package train

import (
	"math"
	"testing"

	"offbeat/fit/transition"
)

// even is a train of cycles, 3 high and 5 low, that begin at 8, 16, …; after each of breaks cycles the record is broken.
func even(cycles int, breaks ...int) *Train {
	t := New(true, false)
	var e []transition.Edge
	for i := range cycles {
		x := 8 * float64(i+1)
		e = append(e, transition.Edge{X: x, Cell: 1, Slope: 1, Rise: true}, transition.Edge{X: x + 3, Cell: 1, Slope: 1})
		for _, b := range breaks {
			if i+1 == b {
				e = append(e, transition.Edge{X: x + 4, Break: true})
			}
		}
	}
	for i := 0; i < len(e); i += 777 {
		t.Add(e[i:min(i+777, len(e))])
	}
	t.End()
	return t
}

// TestAveragesStandWhereTheirCyclesDo: however long a train is, what is kept of it lies on the line of its cycles, holds each
// cycle once, and is bounded.
func TestAveragesStandWhereTheirCyclesDo(t *testing.T) {
	for _, n := range []int{12, 100, 1023, 2047, 2048, 2049, 3000, 4095, 4096, 4097, 8193, 20000, 70001} {
		train := even(n)
		r := train.Record()
		if r.Highs != n || r.Lows != n-1 || r.Whole != n-1 || train.Edges() != 2*n || train.Truncated() || train.Chatters() || train.Trimmed() {
			t.Errorf("%d cycles: %d high, %d low, %d whole, %d edges", n, r.Highs, r.Lows, r.Whole, train.Edges())
		}
		for name, all := range map[string][]Cycle{"cycles": r.Cycles, "sample": r.Sample, "digest": r.Digest} {
			if k := fineCap / 2; name == "sample" && len(all) > k && all[k].N > 1 && !all[k].Start {
				t.Errorf("%d: the averages of the sample go on with its single cycles", n)
			}
			sum, next := 0, 0.0
			for i, c := range all {
				if want := 8 * (c.Index + 1); !(math.Abs(c.Rise-want) <= 1e-9*want) || !(math.Abs(c.Fall-want-3) <= 1e-9*want) {
					t.Fatalf("%d, %s %d: %+v, expected at %g", n, name, i, c, want)
				}
				if c.N&(c.N-1) != 0 && i < len(all)-2 || c.Index != next+float64(c.N-1)/2 {
					t.Fatalf("%d, %s %d: %+v, expected from the cycle %g on", n, name, i, c, next)
				}
				if (i == 0) != c.Start && (name != "sample" || c.N == 1) {
					t.Fatalf("%d, %s %d: start %v", n, name, i, c.Start)
				}
				sum, next = sum+c.N, next+float64(c.N)
			}
			most := map[string]int{"cycles": storeCap, "sample": storeCap, "digest": digestCap}[name]
			least := map[string]int{"cycles": min(n, storeCap/2-1), "sample": min(n, fineCap/2), "digest": 0}[name]
			if n-sum > max(1, n/1000) || sum > n || len(all) > most || len(all) < least {
				if name != "digest" || all != nil {
					t.Errorf("%d: %d %s of %d cycles", n, len(all), name, sum)
				}
			}
		}
		if (r.Digest == nil) != (n <= digestCap) {
			t.Errorf("%d cycles: a digest of %d", n, len(r.Digest))
		}
		for i := range min(n, fineCap/2) {
			if r.Sample[i].N != 1 {
				t.Fatalf("%d: the sample's cycle %d is of %d", n, i, r.Sample[i].N)
			}
		}
		every := r.Series.Every
		if k := len(r.Series.Start); k > seriesCap || k != (n-1+every-1)/every || every > 1 && k <= seriesCap/2-1 {
			t.Errorf("%d: a series of %d, one of %d", n, k, every)
		}
		for i, x := range r.Series.Start {
			if x != 8*float64(1+i*every) || r.Series.High[i] != 3 || r.Series.Low[i] != 5 {
				t.Fatalf("%d: the series' %d at %g: high %g, low %g", n, i, x, r.Series.High[i], r.Series.Low[i])
			}
		}
		if train.Shortest() != 3 {
			t.Errorf("%d: the shortest is %g", n, train.Shortest())
		}
	}
}

// A broken train is runs, each of which counts its own cycles; many short ones fill the store for good.
func TestRuns(t *testing.T) {
	train := even(600, 100, 350)
	r := train.Record()
	starts := 0
	for i, c := range r.Cycles {
		if c.Start {
			starts++
			if c.Index != 0 || i != 0 && i != 100 && i != 350 {
				t.Errorf("a run starts at %d with the index %g", i, c.Index)
			}
		}
	}
	if starts != 3 || r.Highs != 600 || r.Lows != 597 || r.Whole != 597 || len(r.Series.Start) != 597 {
		t.Errorf("%d runs, %d high, %d low, %d whole, %d in the series", starts, r.Highs, r.Lows, r.Whole, len(r.Series.Start))
	}
	var breaks []int
	for i := 3; i < 12000; i += 3 {
		breaks = append(breaks, i)
	}
	if short := even(12000, breaks...); !short.Truncated() && len(short.Record().Cycles) > storeCap {
		t.Errorf("runs of three: %d cycles", len(short.Record().Cycles))
	}
}

// A part of a record holds what begins and ends in it, and nothing else.
func TestPart(t *testing.T) {
	for _, n := range []int{300, 5000} {
		r := even(n).Record()
		from, to := 8*float64(n)/4, 8*float64(n)/2
		p := r.Part(from, to)
		highs := 0
		for i, c := range p.Cycles {
			if c.Rise < from || c.Fall > to || c.Start != (i == 0) {
				t.Errorf("%d: %+v in %g … %g", n, c, from, to)
			}
			highs += c.N
		}
		if got := float64(highs) * 8; p.Highs != highs || p.Lows != highs-1 || p.Whole != highs-1 || !(math.Abs(got-(to-from)) <= 4*8) {
			t.Errorf("%d: %d high, %d low, %d whole in %g", n, p.Highs, p.Lows, p.Whole, to-from)
		}
		in := 0
		for _, x := range r.Series.Start {
			if x >= from && x <= to {
				in++
			}
		}
		if len(p.Series.Start) != in || len(p.Series.High) != in || len(p.Series.Low) != in || p.Series.Every != r.Series.Every || in == 0 || p.Series.Start[0] < from || p.Series.Start[in-1] > to {
			t.Errorf("%d: a series of %d, expected %d", n, len(p.Series.Start), in)
		}
		if whole := r.Part(0, 1e9); whole.Highs != r.Highs || whole.Lows != r.Lows || len(whole.Digest) != len(r.Digest) {
			t.Errorf("%d: the whole has %d high, %d low, a digest of %d", n, whole.Highs, whole.Lows, len(whole.Digest))
		}
		if few := r.Part(8, 8*16); few.Digest != nil {
			t.Errorf("%d: sixteen cycles have a digest of %d", n, len(few.Digest))
		}
	}
}

// Half a cycle is left out of averages, and what follows it at the start of a run starts that run.
func TestHalve(t *testing.T) {
	nan := math.NaN()
	one := func(x float64, start bool) Cycle { return Cycle{x, x + 1, x, 1, start} }
	got := halve([]Cycle{{nan, 1, 0, 1, true}, one(2, false), one(4, false), one(6, true), one(8, false), one(10, false), {12, nan, 12, 1, false}, one(14, true)}, 1)
	want := []Cycle{{3, 4, 3, 2, true}, {7, 8, 7, 2, true}, one(10, false), one(14, true)}
	if len(got) != len(want) {
		t.Fatalf("%+v", got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%d: %+v, want %+v", i, got[i], want[i])
		}
	}
	if m := merge(Cycle{0, 1, 0, 3, true}, Cycle{8, 9, 4, 1, false}); m != (Cycle{2, 3, 1, 4, true}) {
		t.Errorf("%+v", m)
	}
}

// Two cycles a run are averaged once and no further. A record of 3000 such runs fills the store with 2048 pairs; what comes
// behind them is left out, the digest has no fewer than they are, and the sample is 512 cycles and as many of the pairs.
func TestRunsTooShortToAverage(t *testing.T) {
	var breaks []int
	for i := 2; i < 6000; i += 2 {
		breaks = append(breaks, i)
	}
	train := even(6000, breaks...)
	r := train.Record()
	if train.Faults.Unknown != len(breaks) {
		t.Errorf("%d breaks, expected %d", train.Faults.Unknown, len(breaks))
	}
	if !train.Truncated() || r.Whole != 3000 || r.Highs != 6000 || r.Lows != 3000 {
		t.Errorf("truncated %v, %d whole, %d high, %d low", train.Truncated(), r.Whole, r.Highs, r.Lows)
	}
	if len(r.Cycles) != storeCap || len(r.Sample) != fineCap || r.Digest != nil {
		t.Fatalf("%d cycles, %d in the sample, %d in the digest", len(r.Cycles), len(r.Sample), len(r.Digest))
	}
	for i, c := range r.Cycles {
		if rise := 8 * (2*float64(i) + 1.5); c != (Cycle{rise, rise + 3, 0.5, 2, true}) {
			t.Fatalf("pair %d: %+v, expected at %g", i, c, rise)
		}
	}
	for i, c := range r.Sample {
		first, want := float64(i), Cycle{8 * float64(i+1), 8*float64(i+1) + 3, float64(i % 2), 1, i%2 == 0}
		if i >= fineCap/2 {
			first = fineCap/2 + 2*float64(i-fineCap/2)
			want = Cycle{8 * (first + 1.5), 8*(first+1.5) + 3, 0.5, 2, true}
		}
		if c != want {
			t.Fatalf("sample %d: %+v, want %+v", i, c, want)
		}
	}
}

// Once the usual pulses are known, no more edges wait than a burst of glitches may hold, however they come.
func TestFewEdgesWait(t *testing.T) {
	train := New(true, false)
	for i := range 3 * firstChunk {
		train.Add([]transition.Edge{{X: 4 * float64(i), Cell: 1, Slope: 1, Rise: i%2 == 0}})
		if most := maxCluster; i >= firstChunk && len(train.pending) > most {
			t.Fatalf("%d edges wait behind edge %d, expected at most %d", len(train.pending), i, most)
		}
	}
}
