package open_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/open"
)

// TestWordsOfOtherLanguages: a file says the same in the words of any language that exports are labelled in, and where its columns'
// units and numbers alone tell what they are. Words from memory, of dictionaries.
func TestWordsOfOtherLanguages(t *testing.T) {
	samples := "\n0,0.1\n1,0.1\n2,3.2\n3,3.2\n4,0.1\n5,0.1\n6,3.2\n7,3.2\n"
	segment := "0,0.1\n2e-6,0.1\n4e-6,3.2\n6e-6,3.2\n"
	for name, texts := range map[string][]string{
		"a rate":          of("# %: 500000\nn,v"+samples, "sample rate", "Abtastrate", "frequence d'echantillonnage", "frecuencia de muestreo", "frequenza di campionamento", "bemonsteringsfrequentie"),
		"an interval":     of("%,2e-6\nn,v"+samples, "Sample Interval", "Time Per Sample", "Abtastintervall", "intervalle d'echantillonnage", "periodo de muestreo", "intervallo di campionamento"),
		"high and low":    of("%\n3.25,4.75\n3.25,4.75\n3.5,4.75\n3.25,4.5\n", "high us,low us", "hoch (us),tief (us)", "haut us,bas us", "t_alto (us),t_bajo (us)", "ein [us],aus [us]"),
		"lines of states": of("%: 3.25 us\n&: 4.75 us\n%: 3.25 us\n&: 4.75 us\n%: 3.5 us\n&: 4.75 us\n", "high low", "hoch tief", "haut bas", "alto bajo", "hoog laag"),
		"edges":           of("t (us),e\n5,%\n8.25,&\n13,%\n16.25,&\n21,%\n24.5,&\n29,%\n", "1 0", "+ -", "rising falling", "posedge negedge", "steigend fallend", "montant descendant", "subida bajada", "salita discesa", "ja nein"),
		"pulse and pause": of("% (us);& (us)\n3.25;4.75\n3.25;4.75\n3.5;4.75\n3.25;4.5\n", "high low", "Impuls Pause", "t_an t_aus", "impulso pausa"),
		"rated cycles":    of("%;&\n125;40.25\n125;40.25\n124;40.25\n125;40\n125;40.25\n125;40.25\n124;40.25\n125;40\n", "frequency_hz duty_percent", "Frequenz_(Hz) Tastgrad_(%)", "Fréquence_Hz duty_%"),
		"pulses":          of("%\n0.5,3.25\n8.5,3.25\n16.5,3.5\n24.5,3.25\n32.5,3.25\n", "start (us),duration (us)", "Beginn (us),Dauer (us)", "inicio (us),duracion (us)", "p (us),q (us)"),
		"segments":        of("%\n"+strings.Repeat(segment, 4), "time,voltage", "Zeit,Spannung", "tiempo,voltaje", "q,w"),
		"a short unit row": of("%", "n  out  time\n     V  us\n0  0.1  0\n1  3.2  2\n2  3.2  4\n3  0.1  6\n", "n  out  time\n  V  us\n0  0.1  0\n1  3.2  2\n2  3.2  4\n3  0.1  6\n",
			"n  out  time\n  -  us\n0  0.1  0\n1  3.2  2\n2  3.2  4\n3  0.1  6\n"),
	} {
		var want [][]row
		for i, text := range texts {
			_, rows, _ := read(t, text, acquire.Options{})
			if i == 0 {
				want = rows
			}
			if !slices.EqualFunc(rows, want, func(a, b []row) bool {
				return slices.EqualFunc(a, b, func(x, y row) bool { return x.t == y.t && slices.Equal(x.v, y.v) })
			}) || len(rows) == 0 {
				t.Errorf("%s: %q reads %v, expected %v", name, text, rows, want)
			}
		}
	}
}

// of puts words into a text: each in place of %, or, where the text has an &, each word's first part for % and the second for &.
func of(text string, words ...string) (all []string) {
	for _, w := range words {
		first, second, _ := strings.Cut(w, " ")
		if !strings.Contains(text, "&") {
			first = w
		}
		all = append(all, strings.NewReplacer("%", first, "&", second).Replace(text))
	}
	return all
}

// TestStampsOfATerminalAreNoTimes: a terminal that puts the time of day before each line it heard changes nothing in what the lines say.
func TestStampsOfATerminalAreNoTimes(t *testing.T) {
	for name, line := range map[string]func(at int, up bool) string{
		"durations":           func(at int, up bool) string { return fmt.Sprintf("%d us", length(up)) },
		"states that last":    func(at int, up bool) string { return fmt.Sprintf("%s %d us", word(up), length(up)) },
		"states, in seconds":  func(at int, up bool) string { return fmt.Sprintf("%s %.6f s", word(up), float64(length(up))*1e-6) },
		"times and states":    func(at int, up bool) string { return fmt.Sprintf("%d us,%s", at, word(up)) },
		"named times":         func(at int, up bool) string { return fmt.Sprintf("t=%d us level=%s", at, word(up)) },
		"a state, and a time": func(at int, up bool) string { return fmt.Sprintf("%s %d us", word(up), at) },
	} {
		var plain, with strings.Builder
		at, up := 5000, true
		for i := range 40 {
			fmt.Fprintf(&plain, "%s\n", line(at, up))
			fmt.Fprintf(&with, "[10:%02d:%02d.%03d] %s\n", i/3, i%60, i*37%1000, line(at, up))
			at, up = at+length(up), !up
		}
		_, want, _ := read(t, plain.String(), acquire.Options{})
		_, got, _ := read(t, with.String(), acquire.Options{})
		last := func(all [][]row) []row { // where a list of durations begins is a matter of its shape
			rows := slices.Clone(all[0][max(len(all[0])-38, 0):])
			for i := range rows {
				rows[i].t -= all[0][len(all[0])-1].t
			}
			return rows
		}
		if len(want) != 1 || len(got) != 1 || len(last(want)) != 38 || !slices.EqualFunc(last(got), last(want), func(a, b row) bool {
			return math.Abs(a.t-b.t) < 1e-9 && slices.Equal(a.v, b.v)
		}) {
			t.Errorf("%s: %v with stamps, %v without", name, got, want)
		}
	}
}

func length(up bool) int { return map[bool]int{true: 3951, false: 3258}[up] }

func word(up bool) string { return map[bool]string{true: "H", false: "L"}[up] }

// TestUnitsSaidElsewhere: what a tick is, or the unit, may be said above the rows, beside the values, or by where the times lie.
func TestUnitsSaidElsewhere(t *testing.T) {
	lengths := []int{6777, 586, 6777, 587, 6776, 586, 6777, 586, 6777, 588, 6777, 586}
	list := func(form string, scale, from float64) string {
		var b strings.Builder
		at := from
		for i, n := range lengths {
			fmt.Fprintf(&b, form+"\n", at, i%2)
			at += float64(n) * scale
		}
		return b.String()
	}
	counts := func() string {
		var b strings.Builder
		for i, n := range lengths {
			fmt.Fprintf(&b, "%d,%d\n", i%2, n)
		}
		return b.String()
	}
	for name, c := range map[string]struct {
		text string
		opt  acquire.Options
		tick float64 // s
	}{
		"ticks and a rate":              {text: "# timer clock 2000000 Hz\nticks,state\n" + list("%.0f,%d", 1, 55235), tick: 0.5e-6},
		"ticks and their length":        {text: "tick 62.5 ns\nticks,state\n" + list("%.0f,%d", 1, 55235), tick: 62.5e-9},
		"ticks beside two lines":        {text: "# timer clock: 3 MHz\nticks;A;B\n" + list("%.0f;%d;1", 1, 100), opt: acquire.Options{Channels: []string{"A"}}, tick: 1e-6 / 3},
		"ticks of a third":              {text: "# timer clock 3 MHz\nticks;state\n" + list("%.0f;%d", 1, 100), tick: 1e-6 / 3},
		"samples counted, an interval":  {text: "# Sample Interval 2.000 us\nlevel,count\n" + counts(), tick: 2e-6},
		"samples counted, a rate":       {text: "# Abtastrate: 500 kHz\nlevel,count\n" + counts(), tick: 2e-6},
		"a unit beside the values":      {text: list(`{"ts": %.1f, "unit": "ms", "pin": "D3", "state": %d}`, 0.5, 12), tick: 0.5e-3},
		"a unit among names":            {text: list("INSERT INTO edges (t_ms, level) VALUES (%.1f, %d);", 0.5, 12), tick: 0.5e-3},
		"milliseconds of an epoch":      {text: "timestamp,state\n" + list("%.0f,%d", 1, 1772611200123), tick: 1e-3},
		"nanoseconds of an epoch":       {text: "timestamp,state\n" + list("%.0f,%d", 512, 1772611200123*1e6), tick: 512e-9},
		"days of a spreadsheet, stated": {text: "time,state\n" + list("%.9f,%d", 1.0/131072, 46356.5), opt: acquire.Options{TimeUnit: "day"}, tick: 86400.0 / 131072},
	} {
		_, rows, _ := read(t, c.text, c.opt)
		if len(rows) != 1 || len(rows[0]) < len(lengths) {
			t.Errorf("%s: %d records: %v", name, len(rows), rows)
			continue
		}
		for i, n := range lengths[:len(lengths)-2] {
			if got := rows[0][i+1].t - rows[0][i].t; math.Abs(got-float64(n)*c.tick) > 1e-6*float64(n)*c.tick {
				t.Errorf("%s: the state of row %d lasts %g s, expected %g", name, i, got, float64(n)*c.tick)
				break
			}
		}
	}
}

// TestBusInHexadecimal: a number in hexadecimal at each time is the states of as many lines.
func TestBusInHexadecimal(t *testing.T) {
	text := "t (us),BUS\n0,0xA3\n3,0xAB\n7,0xA3\n10,0xAB\n14,0xA3\n17,0xAB\n"
	_, rows, _ := read(t, text, acquire.Options{Channels: []string{"BUS[3]"}})
	if len(rows) != 1 || len(rows[0]) != 6 {
		t.Fatalf("read %v", rows)
	}
	for i, r := range rows[0] {
		if r.v[0] != float64(i%2) || math.Abs(r.t-[]float64{0, 3e-6, 7e-6, 10e-6, 14e-6, 17e-6}[i]) > 1e-12 {
			t.Errorf("row %d is %v", i, r)
		}
	}
}

// TestUnitOfTheTimes: a capture says in what unit its times were read, where another could be asked for.
func TestUnitOfTheTimes(t *testing.T) {
	for text, want := range map[string]string{
		"time (ms),state\n0,1\n3,0\n7,1\n10,0\n":               "ms",
		"time,state\n0,1\n300,0\n700,1\n1000,0\n":              "us",
		"t (s),V\n0,0.1\n0.1,0.1\n0.2,3.1\n0.3,3.1\n0.4,0.1\n": "s",
		"high_ns,low_ns\n300,400\n300,400\n300,401\n":          "ns",
		"H 300\nL 400\nH 300\nL 401\nH 300\nL 400\n":           "us",
		"H 300 us\nL 400 us\nH 300 us\nL 401 us\nH 300 us\n":   "",
		"300 us,1\n700 us,0\n1000 us,1\n1400 us,0\n":           "",
		"# interval: 2 us\nV\n0.1\n0.1\n3.1\n3.1\n0.1\n":       "",
	} {
		caps, _, _ := read(t, text, acquire.Options{})
		if len(caps) != 1 || caps[0].TimeUnit != want {
			t.Errorf("%q: read in %q, expected %q", text, caps[0].TimeUnit, want)
		}
	}
	for text, want := range map[string]string{"H 300 us\nL 400 us\nH 300 us\nL 401 us\n": "", "H 300\nL 400\nH 300\nL 401\n": "us"} {
		s, err := open.NewStream("x", strings.NewReader(text), acquire.StreamOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if c, err := s.Next(); err != nil || c.TimeUnit != want {
			t.Errorf("heard, %q: read in %q, expected %q", text, c.TimeUnit, want)
		}
	}
}
