package open_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/open"
)

// pulses are so many samples of a train, 0 or 1, whose periods have no whole number of them.
func pulses(n int, period, duty, phase float64) []float64 {
	v := make([]float64, n)
	for i := range v {
		if _, at := math.Modf((float64(i) + phase) / period); at < duty {
			v[i] = 1
		}
	}
	return v
}

// wrapped writes samples side by side, so many a row.
func wrapped(cells []string, width int, between string) string {
	var b strings.Builder
	for row := range slices.Chunk(cells, width) {
		b.WriteString(strings.Join(row, between) + "\n")
	}
	return b.String()
}

// TestSamplesRunOnFromRowToRow: samples that are wrapped into rows of any width are those of one line in their order, whether the rows
// are of voltages, of states or of bare zeros and ones, and whatever is left for the last row.
func TestSamplesRunOnFromRowToRow(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 8))
	for i := range 60 {
		period := 12 + 80*rnd.Float64()
		v := pulses(40*int(period)+rnd.IntN(30), period, 0.25+0.5*rnd.Float64(), period*rnd.Float64())
		width, between := 4+rnd.IntN(36), []string{",", ";", "\t"}[i%3]
		for rows := float64(width) / period; rows > 0.85 && math.Abs(rows-math.Round(rows)) < 0.2; rows = float64(width) / period {
			width-- // nearly alike, the rows could be of lines that change in turn
		}
		cells := make([]string, len(v))
		for k := range v {
			if cells[k] = fmt.Sprint(v[k]); i%2 == 0 {
				v[k] = math.Round(1000*(0.2+3*v[k]+0.02*rnd.NormFloat64())) / 1000
				cells[k] = fmt.Sprintf("%.3f", v[k])
			}
		}
		if i%4 == 0 {
			cells[len(v)/2], v[len(v)/2] = "NaN", math.NaN()
		}
		text := "Sampling Interval = 2 us\n" + wrapped(cells, width, between)
		if i%2 != 0 && i%3 == 0 && width > 8 {
			text = "# rate 500 kHz\n" + wrapped(cells, width, "")
		}
		caps, rows, _ := read(t, text, acquire.Options{})
		got := make([]float64, len(rows[0]))
		for k := range got {
			got[k] = rows[0][k].v[0]
		}
		if len(caps) != 1 || caps[0].Step != 2e-6 || !slices.EqualFunc(got, v, func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }) {
			t.Errorf("%d, rows of %d, period %.3g: %d captures, %d samples of %d in %q", i, width, period, len(caps), len(got), len(v), text[:60])
		}
	}
}

// TestCountsThatRunOn: counts of a converter are samples though a column, which is as long as the period, holds nothing but noughts.
func TestCountsThatRunOn(t *testing.T) {
	cells := make([]string, 480)
	for i, v := range pulses(len(cells), 16, 0.5, 0) {
		cells[i] = fmt.Sprint(1023 * v)
	}
	caps, rows, _ := read(t, "Sampling Interval = 2 us\n"+wrapped(cells, 16, ","), acquire.Options{})
	if len(caps) != 1 || caps[0].Kind != acquire.Samples || len(rows[0]) != len(cells) || rows[0][2].v[0] != 1023 || rows[0][10].v[0] != 0 {
		t.Errorf("%+v, %v", caps[0], rows[0][:12])
	}
}

// TestLinesSideBySideDoNotRunOn: the states and levels of several lines, one row a sample, are no run, be the others still, busy, or like
// the first: which of them is meant must be said.
func TestLinesSideBySideDoNotRunOn(t *testing.T) {
	for name, of := range map[string]func(line, i int, v []float64) float64{
		"one busy": func(line, i int, v []float64) float64 {
			return map[bool]float64{true: v[i], false: float64(line % 2)}[line == 3]
		},
		"all alike": func(_, i int, v []float64) float64 { return v[i] },
		"a counter": func(line, i int, _ []float64) float64 { return float64(i >> line & 1) },
		"delayed":   func(line, i int, v []float64) float64 { return v[max(i-5*line, 0)] },
	} {
		for _, between := range []string{",", ""} {
			v := pulses(600, 31.7, 0.4, 3)
			var cells []string
			for i := range v {
				for line := range 8 {
					cells = append(cells, fmt.Sprint(of(line, i, v)))
				}
			}
			_, err := open.OpenReader("x", strings.NewReader("Sampling Interval = 2 us\n"+wrapped(cells, 8, between)), acquire.Options{})
			if err == nil || !strings.Contains(err.Error(), "8 channels") {
				t.Errorf("%s, %q between: %v", name, between, err)
			}
		}
	}
}
