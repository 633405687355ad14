package open_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire"
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
