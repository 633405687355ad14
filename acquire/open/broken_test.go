package open_test

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/acquire/open"
)

// written gives a signal in one shape: the lines above the rows, and the rows, each with its line end.
func written(t *testing.T, w open.Writer, sig acquiretest.Signal, form acquiretest.Form) (head, rows []string) {
	t.Helper()
	var b bytes.Buffer
	if err := w.Write(&b, sig, form); err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(b.String(), "\n")
	lines = lines[:len(lines)-1]
	i := slices.IndexFunc(lines, func(l string) bool {
		return strings.ContainsRune("-+0123456789.,;@#[", rune(l[0])) || strings.HasPrefix(l, "S=") || w.Name == "words and durations" || w.Name == "table beside a preamble"
	})
	return lines[:i], lines[i:]
}

// edgesOf reads a source to its end: where the first channel's level crosses half of 5 V or its state changes, in the
// middle of the two rows; slack is half the distance between them.
func edgesOf(t *testing.T, text string) (edges, slack []float64, caps []*acquire.Capture) {
	t.Helper()
	caps, rows, _ := read(t, text, acquire.Options{})
	for k, c := range caps {
		for i := 1; i < len(rows[k]); i++ {
			a, b := rows[k][i-1], rows[k][i]
			half := 0.5
			if c.Kind == acquire.Samples {
				half = 2.5
			}
			switch {
			case (a.v[0] > half) == (b.v[0] > half):
			case c.Kind == acquire.Transitions:
				edges, slack = append(edges, b.t), append(slack, 0)
			default:
				edges, slack = append(edges, (a.t+b.t)/2), append(slack, (b.t-a.t)/2)
			}
		}
	}
	return edges, slack, caps
}

func sameEdges(t *testing.T, name string, w open.Writer, sig acquiretest.Signal, edges, slack []float64, caps []*acquire.Capture) {
	t.Helper()
	truth := w.Truth(sig)
	if len(edges) != len(truth) {
		t.Errorf("%s: %d edges, %d written; %d captures, the first %q of %d rows, notes %q", name, len(edges), len(truth), len(caps), caps[0].Shape, caps[0].Rows, caps[0].Notes)
		return
	}
	for i, e := range edges {
		if strings.Contains(w.Name, "pairs") {
			slack[i] *= 3 // a pair that spans the edge is half-way up, and noise puts it on either side
		}
		if !(math.Abs(e-truth[i]) <= slack[i]*1.01+1e-9+w.Tick+float64(i)*w.Digit) {
			t.Errorf("%s: edge %d at %.9g, written at %.9g; %q", name, i, e, truth[i], caps[0].Shape)
			return
		}
	}
}

// TestRowsPrintedAgain: rows that stand two, three or more times, all alike or at random, are the rows that stand once.
func TestRowsPrintedAgain(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	for _, w := range open.Writers {
		if w.Name == "values only" || w.Name == "increment without a sequence" || w.Name == "resolution by letter" {
			continue // equal levels without a time are samples
		}
		for trial := range 6 {
			high := math.Pow(10, -4+2*r.Float64())
			low := high * (0.6 + 0.8*r.Float64())
			sig := acquiretest.Astable(high, low, 6+r.IntN(8))
			for i := range sig.Edges { // no two pulses alike
				sig.Edges[i] += 0.02 * high * r.Float64()
			}
			if strings.Contains(w.Name, "pairs") {
				sig.Noise, sig.Rand = 0.02, r
			}
			head, rows := written(t, w, sig, acquiretest.Form{Step: high / 20})
			times := func() int { return 2 + trial%4 }
			if trial >= 4 {
				if strings.Contains(w.Name, "differences") || strings.Contains(w.Name, "words") || strings.Contains(w.Name, "pairs") {
					continue // without a time of their own only a pattern tells
				}
				times = func() int { return 1 + r.IntN(3) }
			}
			text := strings.Join(head, "")
			for _, row := range rows {
				text += strings.Repeat(row, times())
			}
			edges, slack, caps := edgesOf(t, text)
			sameEdges(t, fmt.Sprintf("%s, trial %d", w.Name, trial), w, sig, edges, slack, caps)
		}
	}
}

// TestPolledStates: states looked at at uneven times are known to the gap between two looks, and not better.
func TestPolledStates(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	sig := acquiretest.Astable(4e-3, 3e-3, 30)
	var b strings.Builder
	b.WriteString("time (s),OUT\n")
	now, state, next := 0.0, 0, 0
	square, n := 0.0, 0
	for now < sig.Duration {
		last := now
		if now += 1e-4 + 9e-4*r.Float64(); next < len(sig.Edges) && sig.Edges[next] <= now {
			next++
			state ^= 1
			square += (now - last) * (now - last)
			n++
		}
		fmt.Fprintf(&b, "%.9f,%d\n", now, state)
	}
	caps, _, _ := read(t, b.String(), acquire.Options{})
	if c := caps[0]; len(caps) != 1 || c.Kind != acquire.Logic || !(math.Abs(c.Step/math.Sqrt(square/float64(n))-1) <= 0.05) {
		t.Errorf("%d captures, kind %v, step %g, expected %g", len(caps), c.Kind, c.Step, math.Sqrt(square/float64(n)))
	}
}

// TestOneGuess: whole numbers without a unit are microseconds in every shape, decimals seconds; it is said in a word for
// an output of one line; and an epoch's whole seconds are no microseconds.
func TestOneGuess(t *testing.T) {
	for _, c := range []struct{ text, guess string }{
		{"0,0\n3950,1\n7210,0\n11160,1\n14420,0\n", "microseconds"},
		{"time,level\n0,0\n3950,1\n7210,0\n11160,1\n14420,0\n", "microseconds"},
		{"t,v\n0,0.1\n10,0.1\n20,4.9\n30,4.9\n40,0.1\n", "microseconds"},
		{"dt,D0\n,0\n3950,1\n3260,0\n3950,1\n", "microseconds"},
		{"start,duration,state\n0,3950,1\n3950,3260,0\n7210,3950,1\n", "microseconds"},
		{"H 3950\nL 3260\nH 3950\nL 3260\n", "microseconds"},
		{"raw[4] = {3950, 3260, 3950, 3260}\n", "microseconds"},
		{"10:00:01 -> 3950,1\n10:00:01 -> 7210,0\n10:00:02 -> 11160,1\n", "microseconds"},
		{"0.00000,0\n0.00395,1\n0.00721,0\n0.01116,1\n", "seconds"},
		{"t,v\n0.00,0.1\n0.01,0.1\n0.02,4.9\n0.03,4.9\n", "seconds"},
		{"H 0.00395\nL 0.00326\nH 0.00395\n", "seconds"},
		{"0.0,0\n3950.5,1\n7210.5,0\n11160.5,1\n", "microseconds"},
		{"t (s),a\n0,0\n2,1\n5,0\n", ""},
		{"H 3950us\nL 3260us\nH 3950us\n", ""},
		{"Sample Interval,1e-3\nt,v\n0.000,0.1\n0.001,0.1\n0.002,4.9\n0.003,4.9\n0.004,4.9\n0.005,4.9\n0.006,4.9\n0.007,4.9\n0.008,4.9\n0.009,4.9\n", ""},
		{"time,D0\n978343202,0\n978343212,1\n978343219,0\n978343228,1\n", "seconds"},
	} {
		caps, _, _ := read(t, c.text, acquire.Options{})
		want := ""
		if c.guess != "" {
			want = "time unit guessed: " + c.guess
		}
		k := caps[0]
		said := slices.ContainsFunc(k.Notes, func(s string) bool {
			return strings.Contains(s, "guess: "+c.guess) && strings.Contains(s, "unit of the time") || strings.Contains(s, "guess: "+c.guess) && !strings.Contains(s, "volts")
		})
		if k.Guess != want || said != (c.guess != "") {
			t.Errorf("%q: guess %q, notes %q, expected %q", c.text, k.Guess, k.Notes, c.guess)
		}
	}
}

// TestStreamAndTableAgree: the stream's reader makes of the same lines the same times.
func TestStreamAndTableAgree(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	for trial := range 200 {
		form := []string{"%.0f,%d\n", "%.2f,%d\n", "%.6f,%d\n", "%.0f,%d\n"}[trial%4]
		var b strings.Builder
		now, unit := math.Pow(10, 9*r.Float64()), math.Pow(10, 5*r.Float64()-2)
		if unit > 250 && unit < 500 {
			continue // the usual step is about where decimals cease to be seconds: the stream settles on twelve lines, the table on all
		}
		for i := range 20 + r.IntN(30) {
			now += unit * (1 + r.Float64())
			fmt.Fprintf(&b, form, now, i&1)
		}
		s, err := open.NewStream("x", strings.NewReader(b.String()), acquire.StreamOptions{})
		if err != nil {
			t.Fatal(err)
		}
		heard, err := s.Next()
		if err != nil {
			continue // times that stand still, and such: the table says so in its own way
		}
		src, err := open.OpenReader("x", strings.NewReader(b.String()), acquire.Options{})
		if err != nil {
			continue
		}
		c, err := src.Next()
		if err != nil {
			continue
		}
		if heard.Guess != c.Guess {
			t.Errorf("heard: %q; read: %q, in\n%s", heard.Guess, c.Guess, b.String())
		}
	}
}

// TestOddCells: a few cells that are no state leave a column of states what it is, and are unknown.
func TestOddCells(t *testing.T) {
	r := rand.New(rand.NewPCG(10, 10))
	for _, odd := range []string{"2", "-1", "0.5", "inf", "9.9E+37", "9.91E37", "1e9", "0.0001"} {
		for _, shape := range []string{"logic", "transitions"} {
			n := 40 + r.IntN(400)
			at := 8 + r.IntN(n-10)
			var b strings.Builder
			b.WriteString("time (s),OUT\n")
			for i := range n {
				state := fmt.Sprint(i & 1)
				now := float64(i) + 0.3*r.Float64()
				if shape == "logic" {
					state, now = fmt.Sprint(i/4&1), float64(i)
				}
				if i == at {
					state = odd
				}
				fmt.Fprintf(&b, "%.3f,%s\n", now, state)
			}
			caps, rows, _ := read(t, b.String(), acquire.Options{})
			c := caps[0]
			if c.Kind == acquire.Samples || len(caps) != 1 || len(rows[0]) != n || !math.IsNaN(rows[0][at].v[0]) {
				t.Errorf("%s with %q in row %d of %d: kind %v, %d captures, %v", shape, odd, at, n, c.Kind, len(caps), rows[0][min(at, len(rows[0])-1)])
			}
			if len(c.Notes) != 1 || !strings.Contains(c.Notes[0], "1 cells hold") && !strings.Contains(c.Notes[0], "1 levels are") {
				t.Errorf("%s with %q: notes %q", shape, odd, c.Notes)
			}
		}
	}
}

// TestOverrange: an instrument's marks for "too high", "too low" and "no number" (SCPI-99, volume 1, 7.2.1.4 and 7.2.1.5:
// 9.9E37, -9.9E37, 9.91E37) are no volts, in whatever unit the column is.
func TestOverrange(t *testing.T) {
	for cell, want := range map[string]float64{"9.9E+37": math.Inf(1), "-9.9E+37": math.Inf(-1), "9.91E+37": math.NaN(), "9.91e37": math.NaN(), "9.90000000000000E+37": math.Inf(1),
		"+9.9E37": math.Inf(1), "9.9999E99": math.Inf(1), "inf": math.Inf(1), "-Infinity": math.Inf(-1), "1e400": math.Inf(1)} {
		for _, unit := range []string{"V", "mV"} {
			text := "time (s),OUT (" + unit + ")\n" + ramp(20, "%.3f,1.5\n", 0.001) + "0.020," + cell + "\n" + "0.021,1.5\n"
			caps, rows, _ := read(t, text, acquire.Options{})
			got := rows[0][20].v[0]
			if got != want && !(math.IsNaN(got) && math.IsNaN(want)) || len(rows[0]) != 22 || len(caps[0].Notes) != 1 {
				t.Errorf("%s %s: %g, expected %g; notes %q", cell, unit, got, want, caps[0].Notes)
			}
		}
	}
}

// TestLineEndsOfAllKinds: LF, CR LF and CR alone may alternate as they like: the rows are the same, and each line is
// counted once.
func TestLineEndsOfAllKinds(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 11))
	for _, w := range open.Writers {
		head, rows := written(t, w, acquiretest.Astable(4e-3, 3e-3, 12), acquiretest.Form{})
		lines := append(head, rows...)
		if w.Name == "time and volt, no header" { // long, so that most of it lies behind the head
			head, rows = written(t, w, acquiretest.Astable(4e-3, 3e-3, 250), acquiretest.Form{})
			lines = append(head, rows...)
		}
		plain := strings.Join(lines, "")
		_, want, counts := read(t, plain, acquire.Options{})
		for trial := range 4 {
			var b strings.Builder
			for i, l := range lines {
				end := []string{"\n", "\r\n", "\r"}[r.IntN(3)]
				if trial >= 3 && i < len(lines)/2 { // the head is plain
					end = "\n"
				}
				b.WriteString(strings.TrimSuffix(l, "\n") + end)
			}
			_, got, n := read(t, b.String(), acquire.Options{})
			if fmt.Sprint(got) != fmt.Sprint(want) || fmt.Sprint(n) != fmt.Sprint(counts) {
				t.Errorf("%s, trial %d: %d records, counts %+v, expected %d, %+v", w.Name, trial, len(got), n, len(want), counts)
			}
		}
	}
}

// TestGzipCutAnywhere: compressed data that end early are an error wherever they end, be the capture short or long.
func TestGzipCutAnywhere(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 12))
	for _, cycles := range []int{2, 12, 100} {
		var b bytes.Buffer
		if err := acquiretest.TimeVolt(&b, acquiretest.Astable(4e-3, 3e-3, cycles), acquiretest.Form{}); err != nil {
			t.Fatal(err)
		}
		z := zip(t, b.Bytes())
		for range 25 {
			n := 1 + r.IntN(len(z)-1)
			if n == 1 {
				continue // one byte is no gzip yet
			}
			if err := firstError(z[:n], acquire.Options{}); err == nil || n > 40 && !errors.Is(err, acquire.ErrTruncated) && !errors.Is(err, acquire.ErrShape) || err != nil && strings.Contains(err.Error(), "mid-row") {
				t.Errorf("%d cycles, cut at %d of %d bytes: %v", cycles, n, len(z), err)
			}
		}
	}
}

// TestFalseTimes: rows whose times are no numbers, past any bench, or denied by their neighbours never enter.
func TestFalseTimes(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 13))
	for _, w := range open.Writers {
		if !slices.Contains([]string{"transitions", "time and volt, no header", "sampled logic", "units on their own row"}, w.Name) {
			continue
		}
		for _, lie := range []string{"1e300", "-1e300", "1e400", "inf", "nan", "9.9E37", "7e6", "-7e6", "0.5"} {
			sig := acquiretest.Astable(4e-3, 3e-3, 40)
			head, rows := written(t, w, sig, acquiretest.Form{})
			at := len(rows)/2 + r.IntN(len(rows)/4)
			_, cell, _ := strings.Cut(rows[at], ",")
			rows[at] = lie + "," + cell
			caps, got, _ := read(t, strings.Join(append(head, rows...), ""), acquire.Options{})
			n := 0
			for k, c := range caps {
				for _, x := range got[k] {
					n++
					if !(x.t >= -1e-9 && x.t <= sig.Duration+1e-6) || !(c.Step > 0 && c.Step < 1) || !(c.TimeResolution < 1e-3) {
						t.Fatalf("%s, %s in row %d: a row at %g s, step %g, resolution %g; %q", w.Name, lie, at, x.t, c.Step, c.TimeResolution, c.Notes)
					}
				}
			}
			if n != len(rows)-1 || len(caps) > 2 {
				t.Errorf("%s, %s in row %d: %d rows of %d in %d captures; %q", w.Name, lie, at, n, len(rows), len(caps), caps[0].Notes)
			}
		}
	}
}

// TestBombs: little that unpacks to very much is refused before the memory or the day is gone.
func TestBombs(t *testing.T) {
	var z bytes.Buffer
	w := gzip.NewWriter(&z)
	line := []byte(strings.Repeat("0.001,1.5\n", 1<<16))
	io.WriteString(w, "time (s),v (V)\n")
	for range 120 {
		w.Write(line)
	}
	w.Close()
	err := firstError(z.Bytes(), acquire.Options{})
	if err == nil || !strings.Contains(err.Error(), "unpack to more than") {
		t.Errorf("%v", err)
	}
}

// TestCopiedRowCutsNothing: one row of samples on a grid that stands twice, wherever it is, is the same row: the record goes on.
func TestCopiedRowCutsNothing(t *testing.T) {
	sig := acquiretest.Astable(4e-4, 2.5e-4, 30)
	for _, w := range []string{"time and volt, no header", "units in the header", "sampled logic", "names with wide gaps"} {
		i := slices.IndexFunc(open.Writers, func(o open.Writer) bool { return o.Name == w })
		head, rows := written(t, open.Writers[i], sig, acquiretest.Form{Step: 1.5e-6})
		for _, at := range []int{0, 1, 536, len(rows) / 2, len(rows) - 1} {
			text := strings.Join(slices.Concat(head, rows[:at], rows[at:at+1], rows[at:]), "")
			src, err := open.OpenReader("copied", strings.NewReader(text), acquire.Options{})
			if err != nil {
				t.Fatalf("%s, row %d: %v", w, at, err)
			}
			records, n := 0, 0
			for {
				c, err := src.Next()
				if err != nil {
					break
				}
				records++
				for b := new(acquire.Block); c.Read(b) == nil; {
					n += b.N
				}
			}
			if records != 1 || n != len(rows) {
				t.Errorf("%s, row %d of %d printed twice: %d records, %d rows", w, at, len(rows), records, n)
			}
		}
	}
}

// TestCutBehindADelimiter: a last row that ends right behind what parts its cells is an error with its line, not a row with a level
// that is not known, and not no row at all.
func TestCutBehindADelimiter(t *testing.T) {
	sig := acquiretest.Astable(4e-4, 2.5e-4, 6)
	for _, w := range open.Writers {
		head, rows := written(t, w, sig, acquiretest.Form{Step: 1.5e-5})
		last := strings.TrimRight(rows[len(rows)-1], "\r\n")
		for i := 1; i < len(last); i++ {
			if !strings.ContainsRune(",;\t| ", rune(last[i-1])) || strings.Trim(last[:i], ",;\t| ") == "" || strings.Contains(last[:i], "-> 01") {
				continue // a line of delimiters alone is blank, and both states make a change whole
			}
			text := strings.Join(head, "") + strings.Join(rows[:len(rows)-1], "") + last[:i]
			var e *acquire.Error
			if err := firstError([]byte(text), acquire.Options{}); !errors.As(err, &e) || e.Line != len(head)+len(rows) {
				t.Errorf("%s, cut in %q: %v", w.Name, last[:i], err)
			}
		}
	}
}

// TestWordsBehindAList: words without a line end behind the rows are no row that was cut.
func TestWordsBehindAList(t *testing.T) {
	list := "start (ms),duration (ms)\n0,3\n7,3\n14,3\n21,3\n28,3\n"
	for _, words := range []string{"", "done", "end of list"} {
		edges, _, caps := edgesOf(t, list+words)
		if len(caps) != 1 || len(edges) != 9 {
			t.Errorf("%q behind the rows: %d captures with the edges %v", words, len(caps), edges)
		}
	}
}
