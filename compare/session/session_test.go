package session

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/listen"
	"offbeat/acquire/open"
	"offbeat/compare"
	"offbeat/fit"
)

// lamp is the harbour's astable; its timer is ideal, so that one back-solve is quick.
func lamp() *fit.Design {
	return &fit.Design{Title: "Harbour lamp 3", Circuit: "astable", Family: fit.Ideal, History: fit.Worked, Supply: fit.Reading{Value: 5, Half: 0.1},
		ClockLimit: 100e-6,
		Parts: []fit.Part{
			{Name: "R1", Nominal: 10e3, Minus: 0.01, Plus: 0.01},
			{Name: "R2", Nominal: 47e3, Minus: 0.01, Plus: 0.01},
			{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1},
		}}
}

// The lamp's nominal times by the first-order law, (R1+R2) C ln 2 and R2 C ln 2, worked out by hand.
const (
	high = 3.950939e-3
	low  = 3.257792e-3
)

// heard hears a stream of a lamp whose times are scaled as given, with marks, into a session. after is called
// with each block.
func heard(t *testing.T, s *Session, seconds float64, scale func(at float64) (high, low float64), marks map[float64]string, after func()) {
	t.Helper()
	text := stream(t, seconds, scale, marks)
	src, err := open.NewStream("-", bytes.NewReader(text), acquire.StreamOptions{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := src.Next()
	if err != nil {
		t.Fatal(err)
	}
	w := s.Watch(c, src, after)
	var b acquire.Block
	for err == nil {
		err = w.Read(&b)
	}
	if err != io.EOF {
		t.Fatal(err)
	}
	s.End(src)
}

// stream is what a board prints, with the user's marks between its lines as a saved log has them.
func stream(t *testing.T, seconds float64, scale func(at float64) (high, low float64), marks map[float64]string) []byte {
	t.Helper()
	var b bytes.Buffer
	times := func(at float64) (float64, float64) {
		h, l := scale(at)
		return high * h, low * l
	}
	if err := listen.Simulate(t.Context(), &b, listen.SimulateOptions{Times: times, Jitter: 2e-6, Edges: int(seconds / (high + low) * 2)}); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	for line := range bytes.Lines(b.Bytes()) {
		var us float64
		fmt.Sscanf(string(line), "%f,", &us)
		for at, text := range marks {
			if us >= at*1e6 {
				fmt.Fprintf(&out, "# offbeat mark %s\n", text)
				delete(marks, at)
			}
		}
		out.Write(line)
	}
	return out.Bytes()
}

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %g, want %g ± %g", what, got, want, tolerance)
	}
}

// C1 loses 1 % from 20 s on, with a time constant of 2 s; both times follow it exactly, since they are
// proportional to C. R1 is shorted out to 99 % from 50 s on: by hand the high time falls by 1 % of 10/57 and the
// low time stays.
func TestStepsAtMarks(t *testing.T) {
	s := New(lamp())
	scale := func(at float64) (float64, float64) {
		c := 1.0
		if at > 20 {
			c -= 0.01 * (1 - math.Exp(-(at-20)/2))
		}
		h := c
		if at > 50 {
			h *= 1 - 0.01*10/57
		}
		return h, c
	}
	heard(t, s, 80, scale, map[float64]string{20: "cooled C1", 50: "bridged R1"}, func() {})
	sh := s.Snapshot()
	if len(sh.Marks) != 2 || sh.Marks[0].Text != "cooled C1" || sh.Marks[1].Number != 2 {
		t.Fatalf("marks %+v", sh.Marks)
	}
	for i, want := range []struct {
		high, low float64
		part      string
		change    float64
	}{{-0.01, -0.01, "C1", -0.01}, {-0.01 * 10 / 57, 0, "R1", -0.01}} {
		m := sh.Marks[i]
		// Steps are logarithms: ln 0.99 is 5e-5 beyond -0.01. Three standard deviations besides.
		within(t, m.Text+": high time", m.High.Relative, want.high, 3*m.High.Uncertainty+6e-5)
		within(t, m.Text+": low time", m.Low.Relative, want.low, 3*m.Low.Uncertainty+6e-5)
		if u := m.High.Uncertainty; !(u > 1e-6 && u < 2e-4) {
			t.Errorf("%s: uncertainty %g of a step seen in 2 us of jitter on 4 ms, 140 times a second", m.Text, u)
		}
		best := m.Parts[0]
		if best.Name != want.part || best.Fit == nil || *best.Fit < 0.01 {
			t.Errorf("%s: best part %+v, want %s", m.Text, best, want.part)
		}
		within(t, m.Text+": "+best.Name, best.Relative, want.change, 3*best.Uncertainty+1e-4)
		for _, p := range m.Parts[1:] {
			if *p.Fit > 1e-3 {
				t.Errorf("%s: %s fits too, with probability %g", m.Text, p.Name, *p.Fit)
			}
		}
	}
	within(t, "settling time of C1", sh.Marks[0].High.Settling, 2, 0.5)
	// From start to end: both times -1 %, the high time another 1 % of 10/57 less.
	within(t, "drift of the high time", sh.Drift.High.Value, 0.99*(1-0.01*10/57)-1, 5*sh.Drift.High.Uncertainty)
	within(t, "drift of the low time", sh.Drift.Low.Value, -0.01, 5*sh.Drift.Low.Uncertainty)
	if sh.Stream.Edges == 0 || sh.Stream.Lines != sh.Stream.Edges {
		t.Errorf("counts %+v", sh.Stream)
	}
}

// Judging while rows come in: the parts' trend follows a capacitor that grows by 20 % half way.
func TestPartsFollow(t *testing.T) {
	s := New(lamp())
	judged := 0
	heard(t, s, 60, func(at float64) (float64, float64) {
		if at > 30 {
			return 1.2, 1.2
		}
		return 1, 1
	}, nil, func() {
		if s.solve() { // a block holds 15 s
			judged++
		}
	})
	if s.solve() {
		judged++
	}
	if s.Judge(); s.Judge() {
		t.Error("judged the same points twice")
	}
	sh := s.Snapshot()
	if sh.Failed != nil || sh.Finding == nil || judged == 0 {
		t.Fatalf("judged %d times: %v", judged, sh.Failed)
	}
	c1 := sh.Parts[2]
	if c1.Name != "C1" || len(c1.Time) != judged || len(c1.Median) != len(c1.Time) || len(c1.Interval) != len(c1.Time) {
		t.Fatalf("%s: %d times, %d values, judged %d times", c1.Name, len(c1.Time), len(c1.Median), judged)
	}
	// R2's tolerance of 1 % is what C1 is known to.
	within(t, "C1 at first", c1.Median[0], 100e-9, 1.5e-9)
	within(t, "C1 at last", c1.Median[len(c1.Median)-1], 120e-9, 2e-9)
	if top := sh.Finding.Causes[0]; top.Cause != "shifted" || top.Parts[0] != "C1" {
		t.Errorf("cause %+v, want C1 shifted", top)
	}
}

// Traced afterwards, the trend is even and the same each time.
func TestTrace(t *testing.T) {
	s := New(lamp())
	s.Trace() // of nothing
	heard(t, s, 130, func(at float64) (float64, float64) {
		if at > 65 {
			return 1.2, 1.2
		}
		return 1, 1
	}, nil, func() {})
	s.Trace()
	c1 := s.Snapshot().Parts[2]
	n := len(c1.Time)
	if n < traced-2 || n > traced+1 {
		t.Fatalf("%d values", n)
	}
	within(t, "C1 at first", c1.Median[0], 100e-9, 1.5e-9)
	within(t, "C1 at last", c1.Median[n-1], 120e-9, 2e-9)
	for i := 1; i < n; i++ {
		if d := c1.Time[i] - c1.Time[i-1]; d < Latest/2 || d > 2*Latest {
			t.Errorf("%g s between values %d and %d", d, i, i+1)
		}
	}
	s.Trace()
	if again := s.Snapshot().Parts[2]; fmt.Sprint(again) != fmt.Sprint(c1) {
		t.Errorf("traced again\n%v\nwas\n%v", again, c1)
	}
}

func TestWithoutDesign(t *testing.T) {
	s := New(nil)
	heard(t, s, 20, func(float64) (float64, float64) { return 1, 1 }, map[float64]string{19.9: "late"}, func() {})
	if s.solve() {
		t.Error("judged without a design")
	}
	sh := s.Snapshot()
	if sh.Finding != nil || sh.Now == nil || len(sh.Parts) != 0 {
		t.Errorf("%+v", sh)
	}
	within(t, "high time", sh.Now.High.Value, high, 4*sh.Now.High.Uncertainty)
	within(t, "frequency", sh.Now.Frequency.Value, 1/(high+low), 4*sh.Now.Frequency.Uncertainty)
	if m := sh.Marks[0]; m.High != nil || m.Note == "" {
		t.Errorf("a mark at the end has a step: %+v", m)
	}
}

// A jump of the period is said while the stream goes on, with its time and both periods, and before it nothing is said of one.
func TestSaysAJumpWhileHeard(t *testing.T) {
	const at, jump = 80.0, 1.002
	s, early, late := New(nil), 0, 0
	heard(t, s, 150, func(now float64) (float64, float64) {
		if now < at {
			return 1, 1
		}
		return jump, jump
	}, nil, func() {
		s.mu.Lock()
		now, _, _ := s.follower.Now()
		s.mu.Unlock()
		if now < 60 || now > 75 && now < 130 {
			return
		}
		switch runs := s.Snapshot().Runs; {
		case now < at && len(runs.Changes) > 0:
			early++
		case now > at && len(runs.Changes) == 1:
			late++
			within(t, "time of the change", runs.Changes[0].Time, at, 4)
			within(t, "period before", runs.Changes[0].Before, high+low, 1e-4*(high+low))
			within(t, "period after", runs.Changes[0].After, jump*(high+low), 1e-4*(high+low))
		}
	})
	if early > 0 || late == 0 {
		t.Errorf("a change was said %d times before it was, and %d times after", early, late)
	}
}

func TestEmpty(t *testing.T) {
	s := New(lamp())
	if sh := s.Snapshot(); s.Judge() || sh.Now != nil || sh.Finding != nil || len(sh.Marks) != 0 {
		t.Errorf("something of nothing: %+v", sh)
	}
}

func TestTrendIsBounded(t *testing.T) {
	s := New(lamp())
	f := &compare.Finding{Parts: []compare.Part{{Name: "R1"}}}
	for i := range 100_000 {
		f.Parts[0].Value = float64(i)
		s.trend(float64(i), f)
	}
	p := s.parts[0]
	n := len(p.Time)
	if n > maxTrend+1 || n < maxTrend/4 || p.Time[n-1] != 99_999 || p.Time[0] != 0 {
		t.Fatalf("%d values from %g to %g s", n, p.Time[0], p.Time[n-1])
	}
	for i := 2; i < n-1; i++ {
		if p.Time[i]-p.Time[i-1] != p.Time[1]-p.Time[0] {
			t.Fatalf("uneven at %g s", p.Time[i])
		}
	}
	for i, at := range p.Time {
		if p.Median[i] != at {
			t.Fatalf("value %g at %g s", p.Median[i], at)
		}
	}
}
