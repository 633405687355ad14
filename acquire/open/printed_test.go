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
	{"an edge's word, at its time", "", func(n, t, from, level int64) string {
		return fmt.Sprintf("%s at %.6f s", []string{"falling edge", "rise"}[level], float64(t)/1e6)
	}},
	{"counted, with the unit", "", func(n, t, from, level int64) string { return fmt.Sprintf("%d,%.3f ms,%d", n, float64(t)/1e3, level) }},
	{"a time in quotes", "", func(n, t, from, level int64) string { return fmt.Sprintf(`{"t":"%d µs","level":%d}`, t, level) }},
	{"durations under their unit", "unit: us", func(n, t, from, level int64) string {
		return fmt.Sprintf("%c %d", "LH"[level], []int{3279, 3951}[level])
	}},
	{"durations under names", "n;low [ms];high [ms]", func(n, t, from, level int64) string {
		if level == 1 {
			return ""
		}
		return fmt.Sprintf("%d;3,279;3,951", n)
	}},
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
			if spoilt && (strings.ContainsAny(way.head, ",;") || strings.Contains(way.name, "unit")) {
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

// TestUnitSaid: a unit that words above the rows say, without a sign between, is the unit of times, and of durations beside their
// states; with a blank line behind each row, too.
func TestUnitSaid(t *testing.T) {
	for _, head := range []string{"# Horizontal Units ms\nt,v", "# units: ms\nt,v", "Time Unit ms\nt,v", "# unit: ms\nstate,t", "unit: ms", "state,time_ms", "n;low (ms);high (ms)"} {
		for _, end := range []string{"\n", "\n\n", "\r\r\n"} {
			text, at := strings.ReplaceAll(head, "\n", end)+end, int64(0)
			for n := range 100 {
				length := []int64{3951, 3279}[n&1]
				switch {
				case strings.HasSuffix(head, "t,v"):
					text += fmt.Sprintf("%.3f,%d%s", float64(at)/1e3, 1-n&1, end)
				case strings.HasPrefix(head, "n"):
					text += fmt.Sprintf("%d;3,279;3,951%s", n, end)
				default:
					text += fmt.Sprintf("%c,%.3f%s", "HL"[n&1], float64(length)/1e3, end)
				}
				at += length
			}
			if src, err := open.OpenReader("x", strings.NewReader(text), acquire.Options{}); err == nil {
				intervals(t, fmt.Sprintf("%q, lines that end %q", head, end), src)
			} else {
				t.Errorf("%q, lines that end %q: %v", head, end, err)
			}
		}
	}
}
