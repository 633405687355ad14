package listen

import (
	"bytes"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/iotest"
	"time"
)

func TestSimulatePrintsCounter(t *testing.T) {
	for _, c := range []struct {
		name string
		o    SimulateOptions
		want string
	}{
		{"plain", SimulateOptions{Times: Constant(300e-6, 100e-6), Edges: 4}, "0,1\n300,0\n400,1\n700,0\n"},
		{"for a time", SimulateOptions{Times: Constant(300e-6, 100e-6), For: 750e-6}, "0,1\n300,0\n400,1\n700,0\n"},
		{"banner", SimulateOptions{Times: Constant(300e-6, 100e-6), Edges: 1, Banner: true}, Banner + "0,1\n"},
		{"wraps", SimulateOptions{Times: Constant(300e-6, 100e-6), Edges: 3, Start: 1<<32 - 350}, "4294966946,1\n4294967246,0\n50,1\n"},
		{"ticks of 4 us", SimulateOptions{Times: Constant(303e-6, 100e-6), Edges: 3, Tick: 4e-6}, "0,1\n304,0\n404,1\n"},
		{"clock 1 % fast", SimulateOptions{Times: Constant(300e-6, 100e-6), Edges: 3, Clock: 0.01}, "0,1\n303,0\n404,1\n"},
	} {
		var b bytes.Buffer
		if err := Simulate(t.Context(), &b, c.o); err != nil || b.String() != c.want {
			t.Errorf("%s: %q, %v; want %q", c.name, b.String(), err, c.want)
		}
	}
}

func TestSimulateFollowsTimes(t *testing.T) {
	var b bytes.Buffer
	times := func(at float64) (float64, float64) { return 1e-3 * (1 + at), 1e-3 }
	if err := Simulate(t.Context(), &b, SimulateOptions{Times: times, Edges: 2000, Jitter: 2e-6, Rand: rand.New(rand.NewPCG(3, 9))}); err != nil {
		t.Fatal(err)
	}
	h := replay(t, b.String())
	// The cycle that begins at t has a high time of (1+t) ms, so T' = (2+T)/1000 a cycle: after k cycles
	// T = 2(1.001^k - 1) s, here k = 999 and the last row one high time later, 2.4 us of jitter apart.
	want := 2 * (math.Pow(1.001, 999) - 1)
	want += 1e-3 * (1 + want)
	rows := strings.Fields(h.rows[0])
	last := rows[len(rows)-1]
	if got := atof(t, strings.TrimSuffix(last, ":0")) * 1e-6; !(math.Abs(got-want) <= 15e-6) {
		t.Errorf("last row at %.6f s, want %.6f", got, want)
	}
	if h.counts.Edges != 2000 || h.counts.Lost != 0 {
		t.Errorf("counts %+v", h.counts)
	}
}

func TestSimulateStops(t *testing.T) {
	if err := Simulate(t.Context(), io.Discard, SimulateOptions{Times: Constant(0, 1)}); err == nil {
		t.Error("a high time of 0 was simulated")
	}
	broken := errors.New("broken pipe")
	w := writerFunc(func([]byte) (int, error) { return 0, broken })
	if err := Simulate(t.Context(), w, SimulateOptions{Times: Constant(1e-3, 1e-3)}); !errors.Is(err, broken) {
		t.Errorf("%v, want the writer's error", err)
	}
}

// TestSimulatePaces: a line is out when its time has come and not before.
func TestSimulatePaces(t *testing.T) {
	r, w := io.Pipe()
	begin := time.Now()
	go func() {
		Simulate(t.Context(), w, SimulateOptions{Times: Constant(30e-3, 20e-3), Edges: 3, Pace: true})
		w.Close()
	}()
	text, err := io.ReadAll(iotest.OneByteReader(r))
	if took := time.Since(begin); err != nil || string(text) != "0,1\n30000,0\n50000,1\n" || took < 50*time.Millisecond {
		t.Errorf("%q after %v, %v", text, took, err)
	}
}
