package open_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/acquire/open"
)

// read opens a text that must be readable and reads all of it.
func read(t *testing.T, text string, opt acquire.Options) ([]*acquire.Capture, [][]row, acquire.Counts) {
	t.Helper()
	s, err := open.OpenReader("x", strings.NewReader(text), opt)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	caps, rows := readAll(t, s)
	return caps, rows, s.Counts()
}

// TestHeadersInAllSpellings: the four ways to write units in a header mean the same (S02 of the catalogue).
func TestHeadersInAllSpellings(t *testing.T) {
	for _, header := range []string{"Time (s),Channel 1 (V)", "in s,C1 in V", "[s],CH1[V]", "TIME,CH1", "time_s,CH1_V", "Time/s,CH1/V", "s,V", "Time (\xc2\xb5s),CH1 (V)", "Time (\xb5s),CH1 (V)"} {
		scale := 1.0
		if strings.Contains(header, "\xb5") { // once in UTF-8, once in an old code page
			scale = 1e6
		}
		caps, rows, n := read(t, header+"\n"+ramp(10, "%.6f,2.5\n", 350e-6*scale), acquire.Options{})
		if c := caps[0]; len(rows[0]) != 10 || n.Header != 1 || c.Channels[0].Unit != "V" || !(math.Abs(c.Step-350e-6) <= 1e-12) {
			t.Errorf("%s: %d rows, %+v, step %g, %v", header, len(rows[0]), c.Channels, c.Step, n)
		}
	}
}

// TestLogicIsTold: rows that repeat a state at even times are samples; rows that each change one are transitions,
// even where the changes come evenly.
func TestLogicIsTold(t *testing.T) {
	for text, kind := range map[string]acquire.Kind{
		"t,a\n0,0\n1,0\n2,1\n3,1\n4,0\n":             acquire.Logic,
		"t,a\n0,0\n1,1\n2,0\n3,1\n4,0\n":             acquire.Transitions,
		"t,a\n0,0\n1,1\n2.5,0\n3,1\n5,0\n":           acquire.Transitions,
		"t,a\n0,L\n1,L\n2,H\n3,H\n4,L\n":             acquire.Logic,
		"t (s),a (V)\n0,0\n1,0\n2,1\n3,1\n4,0\n":     acquire.Samples,
		"t,a\n0,0.0\n1,0.0\n2,1.0\n3,1.0\n4,0.0\n":   acquire.Logic,
		"t,a\n0,0\n1,0\n2,1\n3,1\n4,0.5\n5,0\n6,1\n": acquire.Samples,
	} {
		if caps, _, _ := read(t, text, acquire.Options{}); caps[0].Kind != kind {
			t.Errorf("%q is of kind %d, expected %d: %q", text, caps[0].Kind, kind, caps[0].Evidence)
		}
	}
}

// TestChannels: by name, by number, in the order asked for; units go with them.
func TestChannels(t *testing.T) {
	const text = "Time,A,B,7\n(ms),(V),(mV),(V)\n0,1,10,5\n1,2,20,6\n2,3,30,7\n"
	for _, c := range []struct {
		want  []string
		first []float64
		names string
	}{
		{[]string{"A"}, []float64{1}, "[{A 1 V}]"},
		{[]string{"2"}, []float64{0.01}, "[{B 2 V}]"},
		{[]string{"b"}, []float64{0.01}, "[{B 2 V}]"},
		{[]string{"7", "A"}, []float64{5, 1}, "[{7 3 V} {A 1 V}]"},
		{[]string{"3", "2", "1"}, []float64{5, 0.01, 1}, "[{7 3 V} {B 2 V} {A 1 V}]"},
		{[]string{"B", "B"}, []float64{0.01, 0.01}, "[{B 2 V} {B 2 V}]"},
	} {
		caps, rows, _ := read(t, text, acquire.Options{Channels: c.want})
		if got := fmt.Sprint(caps[0].Channels); got != c.names || !slices.Equal(rows[0][0].v, c.first) {
			t.Errorf("%q: channels %s with %v, expected %s with %v", c.want, got, rows[0][0].v, c.names, c.first)
		}
	}
}

// TestEdgesAsWritten: the same edges, under a gap column that rises as a time does, in letters, and under units of which one is
// unknown and one name reads as a unit.
func TestEdgesAsWritten(t *testing.T) {
	for _, text := range []string{
		"Time [s],Delta [s],OUT\n0,0,0\n36,36,1\n77,41,0\n149,72,1\n",
		"Time [s],Gap [s],OUT\n0,36,0\n36,41,1\n77,72,0\n149,80,1\n",
		"edge,time (s)\nF,0\nR,36\nF,77\nR,149\n",
		"t,A,B\n[s],[V],[C]\n0,0,25.1\n36,1,25.1\n77,0,25.1\n149,1,25.1\n",
		"Time [s],Bus,OUT\n0,0x00,0\n36,0x00,1\n77,0x25,0\n149,0x4A,1\n",
	} {
		caps, rows, _ := read(t, text, acquire.Options{Channels: map[bool][]string{true: {"A"}}[strings.Contains(text, ",B\n")]})
		if want := "[{0 [0]} {36 [1]} {77 [0]} {149 [1]}]"; fmt.Sprint(rows[0]) != want {
			t.Errorf("%q: %v, expected %s: %q", text, rows[0], want, caps[0].Evidence)
		}
	}
}

// TestOverrides: each guess gives way to an option.
func TestOverrides(t *testing.T) {
	const table = "0.0,1.5\n1.0,1.5\n2.0,2.5\n3.0,1.5\n"
	for _, c := range []struct {
		name  string
		text  string
		opt   acquire.Options
		start float64
		step  float64
		first float64
	}{
		{"time unit", table, acquire.Options{TimeUnit: "us"}, 0, 1e-6, 1.5},
		{"unit for a count", "n,v\n5,1.5\n6,2.5\n7,1.5\n", acquire.Options{TimeUnit: "us"}, 5e-6, 1e-6, 1.5},
		{"time unit against header", "t (s),v (V)\n" + table, acquire.Options{TimeUnit: "ms"}, 0, 1e-3, 1.5},
		{"interval in place of times", "t (s),v (V)\n" + table, acquire.Options{Interval: 2e-6}, 0, 2e-6, 1.5},
		{"interval for values", "61\n-44\n61\n", acquire.Options{Interval: 1e-5}, 0, 1e-5, 61},
		{"interval for a row of samples", strings.Repeat("61,-44,", 12) + "3\n", acquire.Options{Interval: 1e-5}, 0, 1e-5, 61},
		{"interval for a count", "n,v\n5,1.5\n6,2.5\n7,1.5\n", acquire.Options{Interval: 1e-5}, 5e-5, 1e-5, 1.5},
		{"invert levels", table, acquire.Options{}, 0, 1, 1.5},
		{"delimiter", "0.0 1.5\n1.0 2.5\n2.0 1.5\n", acquire.Options{Delimiter: "space"}, 0, 1, 1.5},
		{"invert", table, acquire.Options{Invert: true}, 0, 1, -1.5},
		{"invert states", "t,a\n0,0\n1,0\n2,1\n3,1\n4,0\n", acquire.Options{Invert: true}, 0, 1e-6, 1},
		{"shape", "t,a\n0,0\n1,1\n2,0\n3,1\n4,0\n", acquire.Options{Shape: "sampled logic"}, 0, 1e-6, 0},
	} {
		caps, rows, _ := read(t, c.text, c.opt)
		if k := caps[0]; len(caps) != 1 || k.Start != c.start || !(math.Abs(k.Step-c.step) <= 1e-15) || rows[0][0].v[0] != c.first {
			t.Errorf("%s: %d records, start %g, step %g, first %v; expected %g, %g, %g", c.name, len(caps), k.Start, k.Step, rows[0][0].v, c.start, c.step, c.first)
		}
	}
}

// TestIntervalBesideTimes: an interval takes the place of a time column of another step only with a word about it.
func TestIntervalBesideTimes(t *testing.T) {
	const table = "0.0,1.5\n1.0,1.5\n2.0,2.5\n3.0,1.5\n"
	for interval, want := range map[float64]string{1: "", 20: "the interval of 20 s that was asked for stands in place of the time column, whose mean step is 1 s"} {
		caps, _, _ := read(t, "t (s),v (V)\n"+table, acquire.Options{Interval: interval})
		if got := strings.Join(caps[0].Notes, "; "); got != want {
			t.Errorf("interval %g: notes %q, want %q", interval, got, want)
		}
	}
}

// TestGapsSplitRecords: where an even time column leaves out samples, falls back or goes on after a bad row, a new
// record begins.
func TestGapsSplitRecords(t *testing.T) {
	grid := func(from, n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, "%.6f,1.5\n", float64(from+i)*1e-6)
		}
		return b.String()
	}
	for _, c := range []struct {
		name  string
		text  string
		rows  []int64
		start []float64
	}{
		{"one sample lost", grid(0, 50) + grid(51, 50), []int64{50, 50}, []float64{0, 51e-6}},
		{"many samples lost", grid(0, 50) + grid(500, 50), []int64{50, 50}, []float64{0, 500e-6}},
		{"time falls back", grid(100, 50) + grid(0, 50), []int64{50, 50}, []float64{100e-6, 0}},
		{"a sample twice", grid(0, 50) + grid(49, 50), []int64{50, 50}, []float64{0, 49e-6}},
		{"a bad row", grid(0, 50) + "0.000050,oops\n" + grid(51, 50), []int64{50, 50}, []float64{0, 51e-6}},
		{"a blank line and a comment", grid(0, 50) + "\n# still here\n" + grid(50, 50), []int64{100}, []float64{0}},
		{"a lone row between gaps", grid(0, 50) + grid(60, 1) + grid(70, 50), []int64{50, 1, 50}, []float64{0, 60e-6, 70e-6}},
		{"gaps in a long file", grid(0, 40_000) + grid(40_001, 40_000) + grid(0, 10), []int64{40_000, 40_000, 10}, []float64{0, 40_001e-6, 0}},
		{"the header again", "t,v\n" + grid(0, 50) + "t,v\n" + grid(50, 50), []int64{50, 50}, []float64{0, 50e-6}},
	} {
		caps, _, n := read(t, c.text, acquire.Options{})
		var rows []int64
		var start []float64
		for _, k := range caps {
			rows = append(rows, k.Rows)
			start = append(start, k.Start)
			if k.Rows > 2 && !(math.Abs(k.Step-1e-6) <= 1e-12) {
				t.Errorf("%s: step %g", c.name, k.Step)
			}
		}
		if !slices.Equal(rows, c.rows) || !slices.EqualFunc(start, c.start, func(a, b float64) bool { return math.Abs(a-b) < 1e-12 }) {
			t.Errorf("%s: records of %v rows from %v on, expected %v from %v", c.name, rows, start, c.rows, c.start)
		}
		if lines := int64(strings.Count(c.text, "\n")); n.Lines != lines || n.Sum() != lines {
			t.Errorf("%s: %+v for %d lines", c.name, n, lines)
		}
	}
}

// TestRecordsOfDifferentIntervals: each record finds its own grid.
func TestRecordsOfDifferentIntervals(t *testing.T) {
	caps, rows, _ := read(t, "t (s),v (V)\n"+ramp(3000, "%.6f,1.5\n", 1e-6)+ramp(3000, "%.6f,1.5\n", 5e-6)+ramp(100, "%.6f,1.5\n", 2e-6), acquire.Options{})
	if len(caps) != 3 {
		t.Fatalf("%d records, expected 3: %v", len(caps), caps[0].Notes)
	}
	for i, step := range []float64{1e-6, 5e-6, 2e-6} {
		if !(math.Abs(caps[i].Step-step) <= 1e-12) || rows[i][0].t != 0 {
			t.Errorf("record %d: step %g, expected %g", i+1, caps[i].Step, step)
		}
	}
}

func TestOnlyOneRecord(t *testing.T) {
	text := "t (s),v (V)\n" + ramp(30, "%.6f,1.5\n", 1e-6) + ramp(20, "%.6f,2.5\n", 1e-6) + ramp(10, "%.6f,3.5\n", 1e-6)
	caps, rows, n := read(t, text, acquire.Options{Record: 2})
	if len(caps) != 1 || caps[0].Record != 2 || len(rows[0]) != 20 || rows[0][0].v[0] != 2.5 || n.Rows != 60 {
		t.Errorf("%d captures, record %d with %d rows, %+v", len(caps), caps[0].Record, len(rows[0]), n)
	}
}

// TestUnevenTimesAreKept: a table whose steps vary more than its digits allow keeps each time as printed.
func TestUnevenTimesAreKept(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var b strings.Builder
	var want []float64
	x := 0.0
	for range 5000 {
		x += 1e-3 * (0.5 + r.Float64())
		x = math.Round(x*1e9) / 1e9
		want = append(want, x)
		fmt.Fprintf(&b, "%.9f,%d\n", x, 100+r.IntN(800))
	}
	caps, rows, _ := read(t, b.String(), acquire.Options{})
	if len(caps) != 1 || caps[0].Kind != acquire.Samples || len(rows[0]) != len(want) {
		t.Fatalf("%d records, %d rows", len(caps), len(rows[0]))
	}
	for i := range want {
		if rows[0][i].t != want[i] {
			t.Fatalf("row %d lies at %v, written at %v", i, rows[0][i].t, want[i])
		}
	}
}

// TestCoarseTimes: the true interval comes back from times that are printed with too few digits, within what is
// stated, with and without a stated interval.
func TestCoarseTimes(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 8 {
		step := 1e-8 * (1 + 9*r.Float64())
		start := -1e-3 * r.Float64()
		const rows = 60_000
		var b strings.Builder
		for i := range rows {
			fmt.Fprintf(&b, "%.3e,%.2f\n", start+float64(i)*step, r.Float64())
		}
		caps, _, _ := read(t, "time (s),v (V)\n"+b.String(), acquire.Options{})
		c := caps[0]
		if len(caps) != 1 || c.Rows != rows {
			t.Fatalf("%d records, %d rows: %q", len(caps), c.Rows, c.Notes)
		}
		// The rounding's sawtooth averages better than the white noise that the uncertainty supposes; three
		// times the stated uncertainty is a bound that only a mistake breaks.
		if off := math.Abs(c.Step/step - 1); off > 3*c.StepRelative || c.StepRelative > 1e-2 || c.StepRelative == 0 {
			t.Errorf("step %.9g, truly %.9g: off by %.2g, stated %.2g", c.Step, step, off, c.StepRelative)
		}
		if !c.Regressed || c.TimeResolution == 0 || !slices.ContainsFunc(c.Notes, func(s string) bool { return strings.Contains(s, "regression") }) {
			t.Errorf("resolution %g, notes %q", c.TimeResolution, c.Notes)
		}
		caps, _, _ = read(t, fmt.Sprintf("Sample Interval,%.12e\ntime (s),v (V)\n%s", step, b.String()), acquire.Options{})
		if c := caps[0]; !(math.Abs(c.Step/step-1) <= 1e-11) || !(math.Abs(c.Start-start) <= c.TimeResolution/10) {
			t.Errorf("with the interval stated: step %.12g, start %.9g; truly %.12g and %.9g", c.Step, c.Start, step, start)
		}
	}
}

// TestCoarseTimesToTheEnd is S04 of the catalogue at full length: 100000 rows of 50 ns from -1.5 ms end at 3.5 ms.
func TestCoarseTimesToTheEnd(t *testing.T) {
	var b strings.Builder
	b.WriteString("Record Length,100000,,\nSample Interval,5.0E-08,,q\nHorizontal Units,us,,\nTIME,CH1,,\n")
	for i := range 100_000 {
		fmt.Fprintf(&b, "%.2E,0.1,,\n", -1.5e-3+float64(i)*50e-9)
	}
	caps, rows, _ := read(t, b.String(), acquire.Options{})
	c := caps[0]
	if end := c.Start + float64(c.Rows-1)*c.Step; len(caps) != 1 || c.Regressed || c.Step != 50e-9 || !(math.Abs(c.Start+1.5e-3) <= 1e-6) || !(math.Abs(end-3.49995e-3) <= 1e-6) {
		t.Errorf("%d records, %d rows, step %g, from %g to %g; %q", len(caps), len(rows[0]), c.Step, c.Start, end, c.Notes)
	}
}

// TestStatedIntervalContradicts: at the end of a coarse column, too.
func TestStatedIntervalContradicts(t *testing.T) {
	var b strings.Builder
	b.WriteString("Sample Interval,5.0E-08\nTIME (s),CH1 (V)\n")
	for i := range 100_000 {
		fmt.Fprintf(&b, "%.2E,0.1\n", -1.5e-3+float64(i)*51e-9)
	}
	err := firstError([]byte(b.String()), acquire.Options{})
	if err == nil || !strings.Contains(err.Error(), "contradicts") || !strings.HasPrefix(err.Error(), "capture.csv:1:17:") {
		t.Errorf("error %v", err)
	}
}

// TestDecimated: a column that keeps every tenth sample of the stated interval is believed, and said.
func TestDecimated(t *testing.T) {
	caps, _, _ := read(t, "Sample Interval,1e-7\ntime (s),v (V)\n"+ramp(100, "%.7f,1.5\n", 1e-6), acquire.Options{})
	if c := caps[0]; !(math.Abs(c.Step-1e-6) <= 1e-12) || len(c.Notes) != 1 || !strings.Contains(c.Notes[0], "one sample in 10") {
		t.Errorf("step %g, notes %q", c.Step, c.Notes)
	}
}

// TestSlipsAreNoGaps: an interval that is no whole number of printed units makes a step longer now and then.
func TestSlipsAreNoGaps(t *testing.T) {
	for _, step := range []float64{1.3e-6, 2.0004e-6, 1e-6 / 3, 0.99e-6} {
		text := fmt.Sprintf("Sample Interval,%.12e\ntime (s),v (V)\n", step) + ramp(30_000, "%.6f,1.5\n", step)
		caps, _, _ := read(t, text, acquire.Options{})
		if len(caps) != 1 || !(math.Abs(caps[0].Step/step-1) <= 1e-9) {
			t.Errorf("step %g: %d records, step %g; %q", step, len(caps), caps[0].Step, caps[0].Notes)
		}
	}
}

func TestProgressAndClose(t *testing.T) {
	path := filepath.Join(t.TempDir(), "long.csv")
	text := "t (s),v (V)\n" + ramp(300_000, "%.6f,1.5\n", 1e-6)
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	var told []int64
	opt := acquire.Options{Progress: func(read, total int64) {
		if total != int64(len(text)) {
			t.Errorf("total %d of %d", total, len(text))
		}
		told = append(told, read)
	}}
	s, err := open.Open(path, opt)
	if err != nil {
		t.Fatal(err)
	}
	readAll(t, s)
	if !slices.IsSorted(told) || len(told) < 4 || told[len(told)-1] != int64(len(text)) {
		t.Errorf("told %v of %d bytes", told, len(text))
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	// Closing early, and reading on, does no harm.
	s, err = open.Open(path, acquire.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := s.Next()
	if err != nil {
		t.Fatal(err)
	}
	var b acquire.Block
	if err := c.Read(&b); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if _, err := s.Next(); err != io.EOF {
		t.Errorf("after Close: %v", err)
	}
}

// TestCutLastLine: a last line without a line end is a row if it is whole.
func TestCutLastLine(t *testing.T) {
	for text, rows := range map[string]int{
		"t,v\n0.0,1.50\n0.1,1.50\n0.2,1.50\n0.3,1.50\n0.4,1.50": 5,
		"t,a\n0,0\n1,0\n2,1\n3,1\n4,0":                          5,
		"t,v\n0.0,1.5\n0.1,1.25\n0.2,1.125\n0.3,1.5\n0.4,1":     5, // decimals vary: nothing tells a cut number
	} {
		if _, got, _ := read(t, text, acquire.Options{}); len(got[0]) != rows {
			t.Errorf("%q: %d rows, expected %d", text, len(got[0]), rows)
		}
	}
}

// TestPeakMemory: the blocks of a long input reuse their memory.
func TestReadAllocatesLittle(t *testing.T) {
	var text bytes.Buffer
	if err := acquiretest.TimeVolt(&text, acquiretest.Astable(3.95e-3, 3.26e-3, 400), acquiretest.Form{Step: 5e-6, Time: "%.7e", Level: "%.6e"}); err != nil {
		t.Fatal(err)
	}
	rows := int64(0)
	allocs := testing.AllocsPerRun(3, func() {
		s, err := open.OpenReader("x", bytes.NewReader(text.Bytes()), acquire.Options{})
		if err != nil {
			t.Fatal(err)
		}
		c, err := s.Next()
		if err != nil {
			t.Fatal(err)
		}
		if err := drain(c); err != io.EOF {
			t.Fatal(err)
		}
		rows = c.Rows
	})
	// The recogniser looks at a thousand lines, with some ten allocations each; the rows behind them need none.
	if allocs > 15_000 {
		t.Errorf("%.0f allocations for %d rows", allocs, rows)
	}
}

// TestRoundingThatGrows: with a fixed number of significant digits the last digit stands for more and more as time
// goes on; that is no gap.
func TestRoundingThatGrows(t *testing.T) {
	for _, form := range []string{"%.4e,1.5\n", "%.3e,1.5\n", "%.6g,1.5\n"} {
		for _, step := range []float64{1.3e-6, 2e-6, 1e-6 / 3} {
			caps, _, _ := read(t, "time (s),v (V)\n"+ramp(60_000, form, step), acquire.Options{})
			if c := caps[0]; len(caps) != 1 || !(math.Abs(c.Step/step-1) <= 3*c.StepRelative) {
				t.Errorf("%q step %g: %d records, the first of %d rows, step %.9g ± %.2g; %q", form, step, len(caps), c.Rows, c.Step, c.StepRelative, c.Notes)
			}
		}
	}
}

// TestSinglePrecision: times kept as float32 and printed with nine or seventeen digits.
func TestSinglePrecision(t *testing.T) {
	for _, form := range []string{"%.8e,1.5\n", "%.17g,1.5\n"} {
		for _, start := range []float64{0, -0.06} {
			var b strings.Builder
			b.WriteString("time (s),v (V)\n")
			for i := range 20_000 {
				fmt.Fprintf(&b, form, float64(float32(start+float64(i)*2.5e-6)))
			}
			caps, _, _ := read(t, b.String(), acquire.Options{})
			if c := caps[0]; len(caps) != 1 || !(math.Abs(c.Step/2.5e-6-1) <= 3*c.StepRelative+1e-9) {
				t.Errorf("%q from %g: %d records, the first of %d rows, step %.9g ± %.2g; %q", form, start, len(caps), c.Rows, c.Step, c.StepRelative, c.Notes)
			}
		}
	}
}

// TestLongRows: a record of a hundred thousand samples in one row.
func TestLongRows(t *testing.T) {
	row := strings.Repeat(",1.90", 60_000) + strings.Repeat(",0.10", 40_000)
	caps, rows, _ := read(t, "shot,rate,count,data\n1,250,100000"+row+"\n2,500,100000"+row+"\n", acquire.Options{})
	if len(caps) != 2 || len(rows[1]) != 100_000 || caps[0].Step != 4e-3 || caps[1].Step != 2e-3 || rows[1][59_999].v[0] != 1.9 || rows[1][60_000].v[0] != 0.1 {
		t.Errorf("%d records", len(caps))
	}
	caps, rows, _ = read(t, strings.TrimPrefix(row, ","), acquire.Options{Interval: 1e-6})
	if len(caps) != 1 || len(rows[0]) != 100_000 {
		t.Errorf("bare row: %d records", len(caps))
	}
}

// TestJoinedFilesKeepTheirIntervals: a preamble repeated within the file holds for what stands below it.
func TestJoinedFilesKeepTheirIntervals(t *testing.T) {
	caps, rows, n := read(t, "Memory Length,4\nSampling Period,2.5E-05\n61\n-44\n61\n-44\nMemory Length,3\nSampling Period,1.0E-05\n-44\n61\n61\n", acquire.Options{})
	if len(caps) != 2 || caps[0].Step != 25e-6 || caps[1].Step != 10e-6 || len(rows[0]) != 4 || len(rows[1]) != 3 || n.Preamble != 4 || rows[1][2].t != 20e-6 {
		t.Errorf("%d records, steps %g", len(caps), caps[0].Step)
	}
}

// TestStatedLength: rows that are missing from what the preamble states are said.
func TestStatedLength(t *testing.T) {
	for text, missing := range map[string]bool{
		"Record Length,30\nt (s),v (V)\n" + ramp(30, "%.6f,1.5\n", 1e-6): false,
		"Record Length,31\nt (s),v (V)\n" + ramp(30, "%.6f,1.5\n", 1e-6): false,
		"Record Length,60\nt (s),v (V)\n" + ramp(30, "%.6f,1.5\n", 1e-6): true,
	} {
		caps, _, _ := read(t, text, acquire.Options{})
		if said := slices.ContainsFunc(caps[0].Notes, func(s string) bool { return strings.Contains(s, "states 60 rows, the file holds 30") }); said != missing {
			t.Errorf("%q: notes %q", text[:20], caps[0].Notes)
		}
	}
}

// TestLineNumbersFarDown: the place of a fault is right after blank lines, comments and bad rows in chunks before.
func TestLineNumbersFarDown(t *testing.T) {
	var b strings.Builder
	b.WriteString("t (s),v (V)\n")
	line := 1
	put := func(s string) {
		b.WriteString(s)
		line++
	}
	for i := range 60_000 {
		put(fmt.Sprintf("%.6f,1.5\n", float64(i)*1e-6))
		if i%7 == 0 {
			put("\n")
		}
	}
	put("0.06,oops\n")
	caps, _, n := read(t, b.String(), acquire.Options{})
	want := fmt.Sprintf("line %d is skipped", line)
	if !slices.ContainsFunc(caps[0].Notes, func(s string) bool { return strings.Contains(s, want) }) || n.Lines != int64(line) {
		t.Errorf("notes %q, %d lines, expected %q", caps[0].Notes, n.Lines, want)
	}
}

// TestFewBadRowsPass: a slip in a long file is skipped and said; one row in a hundred is no slip.
func TestFewBadRowsPass(t *testing.T) {
	for every, ok := range map[int]bool{1000: true, 50: false} {
		var b strings.Builder
		b.WriteString("t (s),v (V)\n")
		for i := range 20_000 {
			if i%every == every-1 {
				fmt.Fprintf(&b, "%.6f,oops\n", float64(i)*1e-6)
				continue
			}
			fmt.Fprintf(&b, "%.6f,1.5\n", float64(i)*1e-6)
		}
		if err := firstError([]byte(b.String()), acquire.Options{}); (err == nil) != ok {
			t.Errorf("one bad row in %d: %v", every, err)
		}
	}
}

// TestCounterBackAtZero: without a word between, a 32-bit counter has wrapped; after chatter the board was reset.
func TestCounterBackAtZero(t *testing.T) {
	const before, after = "10:00:01 -> 4294960000,0\n10:00:01 -> 4294967290,1\n", "10:00:01 -> 14,0\n10:00:01 -> 9014,1\n"
	caps, rows, _ := read(t, before+after, acquire.Options{})
	if len(caps) != 1 || !(math.Abs(rows[0][2].t-rows[0][1].t-20e-6) <= 1e-12) {
		t.Errorf("wrapped: %d records, %v", len(caps), rows)
	}
	caps, rows, _ = read(t, before+"10:00:01 -> ready\n"+after, acquire.Options{})
	if len(caps) != 2 || rows[1][0].t != 14e-6 {
		t.Errorf("reset: %d records, %v", len(caps), rows)
	}
	caps, rows, _ = read(t, before+after, acquire.Options{TimeUnit: "ms"})
	if len(caps) != 1 || !(math.Abs(rows[0][2].t-rows[0][1].t-20e-3) <= 1e-9) {
		t.Errorf("milliseconds: %d records, %v", len(caps), rows)
	}
}

// TestIntervalUncertainty: a round interval is what the instrument was set to; any other is known as well as its
// digits and its column tell.
func TestIntervalUncertainty(t *testing.T) {
	for _, c := range []struct {
		name string
		text string
		step float64
		want float64 // relative standard uncertainty, to 1 %
	}{
		{"round steps", "t (s),v (V)\n" + ramp(100, "%.6f,1.5\n", 2e-6), 2e-6, 0},
		{"round steps, scientific", "t (s),v (V)\n" + ramp(100, "%.7e,1.5\n", 2.5e-6), 2.5e-6, 0},
		{"round interval stated", "Sample Interval,5.0E-08\nt (s),v (V)\n" + ramp(3000, "%.2E,1.5\n", 5e-8), 5e-8, 0},
		{"round rate stated", "Sample rate,62500 Hz\n" + ramp(100, "%.0f\n", 1), 16e-6, 0},
		// half a unit of the last digit over the square root of 3: 5e-12/1.7321/1.302083e-5
		{"many digits stated", "Sample Interval,1.302083e-05\n" + ramp(100, "%.0f\n", 1), 1.302083e-5, 2.217e-7},
		// both ends rounded to 1e-6: 1e-6/2.4495 over a span of 999 x 33.33e-6
		{"steps that slip", "t (s),v (V)\n" + ramp(1000, "%.6f,1.5\n", 1e-4/3), 1e-4 / 3, 1.226e-5},
		// rounded to 1e-6, coarse: 1e-6/sqrt(12) over sqrt(1000^3/12) x 3.333e-6
		{"steps that slip by much of themselves", "t (s),v (V)\n" + ramp(1000, "%.6f,1.5\n", 1e-5/3), 1e-5 / 3, 9.487e-6},
	} {
		caps, _, _ := read(t, c.text, acquire.Options{})
		k := caps[0]
		if len(caps) != 1 || !(math.Abs(k.Step/c.step-1) <= 3*c.want+1e-15) || !(math.Abs(k.StepRelative-c.want) <= 0.01*c.want) {
			t.Errorf("%s: %d records, step %.17g ± %.4g, expected %.17g ± %.4g", c.name, len(caps), k.Step, k.StepRelative, c.step, c.want)
		}
	}
}

// TestShortestDigits: where zeros at the end of a time are left out, the first rows do not show how many digits there are at
// most; the interval is that of all rows, whether the digits run out later or never do.
func TestShortestDigits(t *testing.T) {
	for form, start := range map[string]float64{
		"%.15g": 1e-12,
		"%.4g":  1e-4, // from 10 s on rounded to 10 ms: twice the standard uncertainty of where a line through 13000 such times begins, 10 ms/sqrt(12) × 2/sqrt(13000)
		"%.5g":  1e-12,
	} {
		var b strings.Builder
		b.WriteString("Time (s),V\n")
		for i := range 13_000 {
			fmt.Fprintf(&b, form+",%d.5\n", float64(i)*1e-3, i/50%2)
		}
		s, err := open.OpenReader("x", strings.NewReader(b.String()), acquire.Options{})
		if err != nil {
			t.Fatal(err)
		}
		caps, _ := readAll(t, s)
		if len(caps) != 1 || caps[0].Rows != 13_000 || !(math.Abs(caps[0].Step-1e-3) <= 2e-3*caps[0].StepRelative+1e-12) || !(math.Abs(caps[0].Start) <= start) {
			t.Errorf("%s: %d records, the first of %d rows, %g s apart, from %g s; %q", form, len(caps), caps[0].Rows, caps[0].Step, caps[0].Start, caps[0].Notes)
		}
	}
}

// TestStatedInterval: however a line above levels states how far they lie apart, in words of several languages, it is that; a unit
// that is not known is not passed over.
func TestStatedInterval(t *testing.T) {
	for _, line := range []string{"Sampling interval 2500 ns", "% interval 2.5 us", "sample spacing 2.5 microseconds", "Increment,2.5,us", "Sampling Frequency (kHz);400", "Abtastintervall: 2,5 us",
		"Abtastrate: 400 kHz", "Période d'échantillonnage: 2.5 µs", "rate 0.4 MHz", "400000 samples per second", "ADC rate 0.4 MSPS", "XINC 2.5E-6", "Horizontal Increment : 0.0000025", "Interval (us),2.5"} {
		for _, names := range []string{"", "volt\n"} {
			text := line + "\n" + names + strings.Repeat("0.1\n4.9\n4.9\n0.1\n", 20)
			if caps, _, _ := read(t, text, acquire.Options{}); !(math.Abs(caps[0].Step/2.5e-6-1) <= 1e-9) {
				t.Errorf("%q above %q: an interval of %g s", line, names, caps[0].Step)
			}
		}
	}
	for _, line := range []string{"Interval (div),2.5", "Sampling interval 2500 ticks"} {
		if src, err := open.OpenReader("x", strings.NewReader(line+"\nvolt\n"+strings.Repeat("0.1\n4.9\n", 20)), acquire.Options{}); !errors.Is(err, acquire.ErrTime) {
			t.Errorf("%q is taken: %v, %v", line, src, err)
		}
	}
}
