package report

import (
	"errors"
	"math"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/session"
	"offbeat/fit"
	"offbeat/fit/follow"
)

// heardSnapshot is a session of two minutes that ends as the finding says; C1 was cooled after one.
func heardSnapshot(f *compare.Finding, d *fit.Design) *session.Snapshot {
	sh := &session.Snapshot{Design: d, Time: 120, Last: [2]float64{4e-3, 3.3e-3}, Finding: f}
	for i := range 120 {
		cooled := 1 - 0.012*(1-math.Exp(-max(float64(i)-60, 0)/6))
		p := follow.Point{Begin: float64(i), End: float64(i + 1), Cycles: 137}
		p.High = fit.Estimate{Value: 4e-3 * cooled * (1 + 1e-5*math.Sin(float64(7*i))), Uncertainty: 3e-8, Count: 137}
		p.Low = fit.Estimate{Value: 3.3e-3 * cooled, Uncertainty: 3e-8, Count: 137}
		sh.Points = append(sh.Points, p)
	}
	now := session.TimesOf(sh.Points[119])
	sh.Now = &now
	sh.Drift = compare.Times[compare.Measured]{High: &compare.Measured{Value: -0.012, Uncertainty: 4e-5}, Period: &compare.Measured{Value: -0.012, Uncertainty: 2e-5}, Duty: &compare.Measured{Value: 1.2e-5, Uncertainty: 2e-5}}
	for _, q := range f.Parts {
		t := session.Trend{Part: q}
		for i := range 20 {
			t.Time = append(t.Time, 6*float64(i)+3)
			t.Median = append(t.Median, q.Value*(1+0.001*float64(i)))
			t.Interval = append(t.Interval, q.Interval95)
		}
		sh.Parts = append(sh.Parts, t)
	}
	good, bad := 0.8, 1e-9
	sh.Stream = acquire.StreamCounts{Lines: 33000, Edges: 32990, Readings: 32993, Garbage: 7, Chatter: 5, Lost: 1, Wraps: 1, Reconnects: 2, Backward: 3}
	sh.Marks = []compare.Mark{
		{Number: 1, Time: 60, Text: "cooled C1 with <spray>", High: &compare.MarkStep{Relative: -0.012, Uncertainty: 1e-4, Settling: 6}, Low: &compare.MarkStep{Relative: -0.0119, Uncertainty: 1.3e-4},
			Parts: []compare.PartMoved{{Name: "C1", Relative: -0.01196, Uncertainty: 8e-5, Fit: &good}, {Name: "R2", Relative: -0.012, Uncertainty: 8e-5, Fit: &bad}}},
		{Number: 2, Time: 119, Text: "touched R2", Note: "no step yet: 50 points before the mark and 1 after it"},
	}
	return sh
}

// heardPage is a page with a session in it.
func heardPage(p Page) Page {
	p.Session = heardSnapshot(p.Finding, p.Design)
	return p
}

func TestSessionText(t *testing.T) {
	p := lampPage(t)
	sh := heardSnapshot(p.Finding, p.Design)
	var b strings.Builder
	if err := Session(&b, sh, Style{Width: 100}); err != nil {
		t.Fatal(err)
	}
	want := `
HEARD
  33000 lines heard, 32990 edges, 1 lost edge, 2 garbled lines, 5 lines of chatter, 3 lines with a
  false time, 1 wrap of its counter, 2 reconnects.
  high time −1.2000 ± 0.0040 % since the start
  period −1.2000 ± 0.0020 % since the start
  duty factor +12 ± 20 ppm since the start

MARKS
  1. at 60.0 s, cooled C1 with <spray>: high time −1.200 ± 0.010 %, low time −1.190 ± 0.013 %; as if
     C1 −1.1960 ± 0.0080 %
  2. at 119.0 s, touched R2: no step yet: 50 points before the mark and 1 after it
`
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}

func TestLive(t *testing.T) {
	p := lampPage(t)
	sh := heardSnapshot(p.Finding, p.Design)
	show := func(s Style) string {
		var b strings.Builder
		if err := Live(&b, sh, []string{"listening to a port with a rather long name", "second line"}, s); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	text := show(Style{Width: 100})
	for _, want := range []string{"listening to a port", "second line", "since the start", "−1.2000 ± 0.0020 %", "PARTS", p.Finding.Parts[2].Name, p.Finding.Finding[:30], "MARKS", "33000 lines heard"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if strings.Contains(text, "\x1b") || !strings.Contains(show(Style{Width: 100, Color: true}), "\x1b[1mlistening") {
		t.Error("colour where there should be none, or none where there should be some")
	}
	for _, l := range strings.Split(show(Style{Width: 40}), "\n") {
		if n := len([]rune(l)); n > 60 && !strings.Contains(l, "...") { // tables keep their first columns whole
			t.Errorf("a line of %d on a width of 40: %s", n, l)
		}
	}
	sh.Now, sh.Finding, sh.Failed = nil, nil, errors.New("the circuit does not run")
	if text := show(Style{Width: 100}); !strings.Contains(text, "No whole cycles yet.") || !strings.Contains(text, "No back-solve: the circuit does not run") {
		t.Errorf("of nothing:\n%s", text)
	}
	var b strings.Builder
	if err := LiveLine(&b, sh); err != nil || b.String() != "120.0 s: no whole cycles yet; "+Met(&sh.Stream)+"\n" {
		t.Errorf("%q, %v", b.String(), err)
	}
}

func TestSuits(t *testing.T) {
	fits, fails := 0.5, 0.001
	step := func(v float64) *compare.MarkStep { return &compare.MarkStep{Relative: v, Uncertainty: 1e-4} }
	moved := func(name string, fit *float64) compare.PartMoved {
		return compare.PartMoved{Name: name, Relative: 0.01, Uncertainty: 1e-4, Fit: fit}
	}
	for _, c := range []struct {
		mark compare.Mark
		want string
	}{
		{compare.Mark{High: step(2e-4), Low: step(-2e-4)}, "no step stands out of the noise"},
		{compare.Mark{High: step(1e-2), Low: step(0)}, "both times tell"},
		{compare.Mark{High: step(1e-2), Low: step(0), Parts: []compare.PartMoved{moved("R1", &fits), moved("C1", &fails)}}, "as if R1 +1.000 ± 0.010 %"},
		{compare.Mark{High: step(1e-2), Low: step(1e-2), Parts: []compare.PartMoved{moved("R2", &fits), moved("C1", &fits)}}, "as if R2 +1.000 ± 0.010 % or C1 +1.000 ± 0.010 %"},
		{compare.Mark{High: step(0), Low: step(1e-2), Parts: []compare.PartMoved{moved("R1", &fails)}}, "no single part's change explains both"},
		{compare.Mark{High: step(1e-2), Parts: []compare.PartMoved{moved("R1", nil)}}, "as if R1 +1.000 ± 0.010 %"},
	} {
		if got := suits(&c.mark); got != c.want {
			t.Errorf("%+v: %q, want %q", c.mark, got, c.want)
		}
	}
}

func TestChanged(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		want string
	}{
		{0.0123, 0.0004, "+1.230 ± 0.040 %"},
		{-0.25, 0.03, "−25.0 ± 3.0 %"},
		{1.5e-5, 2e-6, "+15.0 ± 2.0 ppm"},
		{1.5e-5, 2e-3, "0.00 ± 0.20 %"}, // nothing has no sign
		{0, 0, "0 ± 0 ppm"},
		{-5e-4, 1.2e-4, "−500 ± 120 ppm"},
	} {
		if got := changed(c.v, c.u); got != c.want {
			t.Errorf("%g ± %g: %q, want %q", c.v, c.u, got, c.want)
		}
	}
}

// The live page escapes what the user typed, and each place has what belongs there.
func TestLiveParts(t *testing.T) {
	p := lampPage(t)
	h := &Heard{Snapshot: *heardSnapshot(p.Finding, p.Design), Source: "a port", State: "listening", Gone: true, Saved: "x.log"}
	parts, err := LiveParts(h)
	if err != nil {
		t.Fatal(err)
	}
	for place, want := range map[string][]string{
		"state": {`class="state gone"`, "listening"}, "finding": {"C1"}, "times": {"Duty factor", "since the start"}, "parts": {"C1", "out of tolerance"},
		"marks": {"cooled C1 with &lt;spray&gt;", "60.0 s", "no step yet"}, "trends": {"High time, ms", "C1, nF"}, "heard": {"33000 lines heard", "kept in x.log"},
	} {
		for _, w := range want {
			if !strings.Contains(parts[place], w) {
				t.Errorf("%s: no %q in\n%s", place, w, parts[place])
			}
		}
	}
	if n := strings.Count(parts["trends"], "<svg"); n != 4+len(p.Finding.Parts) {
		t.Errorf("%d pictures", n)
	}
	var b strings.Builder
	if err := LivePage(&b, &Heard{Source: "<a port>"}); err != nil || !strings.Contains(b.String(), "<h1>&lt;a port&gt;</h1>") {
		t.Errorf("%v in\n%s", err, b.String())
	}
	if got := quantity.Format(p.Finding.Parts[2].Value, quantity.Farad); !strings.Contains(parts["parts"], got) {
		t.Errorf("no %s among the parts", got)
	}
}
