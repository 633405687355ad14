package open_test

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/open"
)

// printed are ways in which boards print an edge at t us, the n-th, that came after another at from.
var printed = []struct {
	name, head string
	line       func(n, t, from int64, level int64) string
}{
	{"plain", "", func(n, t, from, level int64) string { return fmt.Sprintf("%d,%d", t, level) }},
	{"counted lines", "", func(n, t, from, level int64) string { return fmt.Sprintf("%d\t%d\t%d", n, t, level) }},
	{"named counter", "n,time_us,state", func(n, t, from, level int64) string { return fmt.Sprintf("%d,%d,%d", n, t, level) }},
	{"hexadecimal", "time in us", func(n, t, from, level int64) string { return fmt.Sprintf("0x%08x,%d", t, level) }},
	{"time of day", "", func(n, t, from, level int64) string { return fmt.Sprintf("12:00:%09.6f,%d", float64(t)/1e6, level) }},
	{"a letter at the time", "", func(n, t, from, level int64) string { return fmt.Sprintf("%c@%d", "FR"[level], t) }},
	{"edge by its name", "", func(n, t, from, level int64) string {
		return fmt.Sprintf("edge=%s t=%dus", []string{"falling", "rising"}[level], t)
	}},
	{"in a sentence", "", func(n, t, from, level int64) string { return fmt.Sprintf("[INFO] edge: %d us level %d", t, level) }},
	{"a tick's rate", "# counts at 2 MHz", func(n, t, from, level int64) string { return fmt.Sprintf("%d,%d", 2*t, level) }},
	{"behind a prompt", "", func(n, t, from, level int64) string { return fmt.Sprintf("> %d,%d", t, level) }},
	{"of a channel", "", func(n, t, from, level int64) string { return fmt.Sprintf("A,%d,%d\nB,%d,%d", t, level, t+7, 1-level) }},
	{"half and period", "", func(n, t, from, level int64) string {
		if level == 0 {
			return ""
		}
		return fmt.Sprintf("period_us=%d high_us=%d", t-from, 3951)
	}},
}

// TestPrintedAlike: however a board prints the same edges, and whatever garbage stands between its lines, the times are the same,
// heard or read from what a terminal kept; an interval across what was lost is none.
func TestPrintedAlike(t *testing.T) {
	for _, way := range printed {
		for _, spoilt := range []bool{false, true} {
			r := rand.New(rand.NewPCG(31, 5))
			lines, at := []string{}, int64(1_000_000)
			for n := range int64(120) {
				from := at - 3951 - 3279
				lines = append(lines, way.line(n+1, at, from, (n+1)&1))
				at += []int64{3951, 3279}[n&1]
			}
			if spoilt {
				for range 5 {
					k := 8 + r.IntN(len(lines)-8)
					lines[k] = lines[k][:r.IntN(len(lines[k])+1)] + "\xff\x01~"
				}
				lines[60] += "\nstill here"
			}
			text := strings.Join(append([]string{way.head}, lines...), "\n") + "\n"
			s, err := open.NewStream("x", strings.NewReader(text), acquire.StreamOptions{})
			if err != nil {
				t.Fatal(err)
			}
			intervals(t, way.name+", heard", s)
			if spoilt && strings.Contains(way.head, ",") {
				continue // a table, in which a row with too few cells is said
			}
			if src, err := open.OpenReader("x", strings.NewReader(text), acquire.Options{Channels: map[bool][]string{true: {"A"}}[way.name == "of a channel"]}); err == nil {
				intervals(t, way.name+", read", src)
			} else {
				t.Errorf("%s: %v", way.name, err)
			}
		}
	}
}

// intervals checks that those between known levels are the train's, and that few are lost.
func intervals(t *testing.T, name string, src interface {
	Next() (*acquire.Capture, error)
}) {
	t.Helper()
	sound := 0
	for {
		c, err := src.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return
		}
		was, before := math.NaN(), math.NaN()
		for b := (acquire.Block{}); c.Read(&b) == nil; {
			for i, at := range b.Time[:b.N] {
				v := b.Value[0][i]
				if v == before {
					continue
				}
				want := map[float64]float64{1: 3951e-6, 0: 3279e-6}[before]
				if !math.IsNaN(v) && want > 0 && !math.IsNaN(was) {
					if sound++; !(math.Abs(at-was-want) <= 1.01e-6) {
						t.Errorf("%s: %g s for %g s", name, at-was, want)
					}
				}
				if was = at; math.IsNaN(before) { // known again, but for no edge
					was = math.NaN()
				}
				before = v
			}
		}
	}
	if sound < 80 {
		t.Errorf("%s: %d intervals of 119", name, sound)
	}
}
