package stream

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// A pulse as a board saw it: level and whole microseconds.
type pulse struct {
	level int
	us    int64
}

// bench prints a pulse train as a board would, with faults. The truth is the list of pulses; durations are
// drawn from so wide a range that a wrong one will hardly be among them by chance.
type bench struct {
	rng   *rand.Rand
	now   int64 // us, counter
	level int
	truth map[pulse]bool
	lines []string
	want  Counts
}

func (b *bench) edge() {
	us := 150_000 + b.rng.Int64N(100_000)
	if b.level == 1 {
		us += 150_000
	}
	b.truth[pulse{b.level, us}] = true
	b.now, b.level = b.now+us, 1-b.level
	b.lines = append(b.lines, b.print())
}

func (b *bench) print() string { return fmt.Sprintf("%d,%d\n", uint32(b.now), b.level) }

// Faults change the last printed line, or what follows.
var faults = []struct {
	name string
	do   func(b *bench, last *string)
}{
	{"lost line", func(b *bench, last *string) { *last = ""; b.want.Lost++ }},
	{"garbled line", func(b *bench, last *string) { *last = "\x80" + (*last)[1:]; b.want.Lost++ }},
	{"two lines run together", func(b *bench, last *string) {
		*last = strings.TrimSuffix(*last, "\n")
		b.edge()
	}},
	{"two edges that the board missed", func(b *bench, last *string) {
		*last = "! edges were missed here\n"
		b.edge()
		b.lines[len(b.lines)-1] = ""
		b.want.Lost++
	}},
	{"line printed twice", func(b *bench, last *string) { *last += *last; b.want.Doubled++ }},
	{"leading digits lost", func(b *bench, last *string) {
		// Within a few steps after a wrap what is left of the number may be plausible: then nobody can know.
		if uint32(b.now) > 4_000_000 {
			*last = (*last)[4:]
			b.want.Backward++
		}
	}},
	{"digits doubled", func(b *bench, last *string) { *last = (*last)[:4] + *last; b.want.Backward++ }},
	{"noise", func(b *bench, last *string) { *last += "\xff\x00\xfe\n" }},
	{"chatter", func(b *bench, last *string) { *last += "temperature 23.1 C\n" }},
	{"restart", func(b *bench, last *string) {
		*last += "hello from the board\n"
		b.now, b.level = b.rng.Int64N(50_000), b.rng.IntN(2)
		b.lines = append(b.lines, b.print())
		b.want.Resets++
	}},
	{"port gone", func(b *bench, last *string) {
		*last += b.print()[:3] + CutMark + Gone(2e9)
		b.now += 2_000_000
		b.lines = append(b.lines, b.print()[5:]) // the first line after it lacks its beginning
		b.edge()
		b.want.Reconnects++
	}},
}

// TestNoWrongPulse: whatever one fault does to a stream, no pulse comes out that was not there, few are
// given up, and the fault is counted.
func TestNoWrongPulse(t *testing.T) {
	for _, f := range faults {
		t.Run(f.name, func(t *testing.T) {
			for seed := range uint64(20) {
				b := &bench{rng: rand.New(rand.NewPCG(seed, 7)), truth: map[pulse]bool{}}
				// The counter wraps in the middle of every other run.
				b.now = 1_000_000_000
				if seed%2 == 1 {
					b.now, b.want.Wraps = 1<<32-20_000_000, 1
				}
				const rounds = 20
				for range rounds {
					for range 5 + b.rng.IntN(4) {
						b.edge()
					}
					f.do(b, &b.lines[len(b.lines)-1])
				}
				for range 4 {
					b.edge()
				}
				if f.name == "restart" {
					b.want.Wraps = 0 // it begins anew long before
				}
				h := hear(strings.NewReader(strings.Join(b.lines, "")), Options{})
				if h.err != nil || len(h.records) != 1 {
					t.Fatalf("seed %d: %d records, %v", seed, len(h.records), h.err)
				}
				checkCounts(t, h)
				whole := wholePulses(h.rows[0])
				for _, p := range whole {
					if !b.truth[p] {
						t.Fatalf("seed %d: pulse of level %d and %d us was never there", seed, p.level, p.us)
					}
				}
				if least := len(b.truth) - 3*rounds - 3; len(whole) < least {
					t.Errorf("seed %d: %d of %d pulses came through, want at least %d", seed, len(whole), len(b.truth), least)
				}
				c := h.counts
				got := Counts{Lost: c.Lost, Resets: c.Resets, Wraps: c.Wraps, Reconnects: c.Reconnects, Backward: c.Backward, Doubled: c.Doubled}
				if got != b.want {
					t.Errorf("seed %d: counted %+v, want %+v", seed, got, b.want)
				}
			}
		})
	}
}

// wholePulses are the pulses between two edges of one unbroken run, as a reader of transitions sees them:
// the first row of a run is a state, not an edge.
func wholePulses(r Rows) []pulse {
	var ps []pulse
	run := 0
	for i := range r.Time {
		switch {
		case math.IsNaN(r.Value[i]):
			run = 0
			continue
		case run >= 2 && r.Value[i] != r.Value[i-1]:
			ps = append(ps, pulse{int(r.Value[i-1]), int64(math.Round((r.Time[i] - r.Time[i-1]) * 1e6))})
		}
		run++
	}
	return ps
}

// TestHours: a long stream passes through a reader that keeps nothing of it.
func TestHours(t *testing.T) {
	const lines = 400_000 // at 138 Hz, 24 minutes; the clock of the lines makes it 40 hours and 33 wraps
	src := &train{left: lines, step: 360_000}
	r, err := NewReader(src, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Next(); err != nil {
		t.Fatal(err)
	}
	var rows Rows
	var last float64
	total := 0
	for r.Read(&rows) == nil {
		total += rows.Len()
		last = rows.Time[rows.Len()-1]
		if rows.Len() > 2*batchRows || cap(r.frame.buf) > frameSize || len(r.p.window.readings)+len(r.p.run.recent)+len(r.p.run.misfit) > 64 {
			t.Fatal("the reader keeps more than it may")
		}
	}
	c := r.Counts()
	// Time goes on over all wraps: (lines-1) steps of 360 ms in 2^32 us.
	if want := float64(lines-1) * 0.36; total != lines || !(math.Abs(last-want) <= 1e-6) || c.Wraps != int64(want*1e6)>>32 {
		t.Errorf("%d rows, last at %.6f s, %d wraps; want %d, %.6f, %d", total, last, c.Wraps, lines, want, int64(want*1e6)>>32)
	}
}

// train is an endless source of lines.
type train struct {
	left int
	step uint32
	now  uint32
	rest []byte
}

func (s *train) Read(p []byte) (int, error) {
	for len(s.rest) < len(p) && s.left > 0 {
		s.rest = fmt.Appendf(s.rest, "%d,%d\n", s.now, s.left&1)
		s.now += s.step
		s.left--
	}
	n := copy(p, s.rest)
	s.rest = append(s.rest[:0], s.rest[n:]...)
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}
