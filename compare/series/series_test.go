package series

import (
	"math"
	"slices"
	"testing"

	"offbeat/acquire/acquiretest/expect"
)

// standard reads the E series of IEC 60063:2015 as collected in testdata/published.
func standard(t *testing.T) map[string][]float64 {
	t.Helper()
	out := map[string][]float64{}
	for _, row := range expect.Rows(t, "iec60063_series.csv") {
		out[row[0]] = append(out[row[0]], expect.Number(t, row[2]))
	}
	return out
}

func TestValuesArePublished(t *testing.T) {
	here := map[string]Series{"E3": E3, "E6": E6, "E12": E12, "E24": E24, "E48": E48, "E96": E96, "E192": E192}
	want := standard(t)
	if len(want) != len(here) {
		t.Fatalf("published %d series, here %d", len(want), len(here))
	}
	for name, values := range want {
		if got := here[name].Decade(1); !slices.Equal(got, values) {
			t.Errorf("%s:\n got %v\nwant %v", name, got, values)
		}
	}
}

func TestDecade(t *testing.T) {
	for _, c := range []struct {
		nominal float64
		has     []float64 // the literals are what the compiler rounds correctly
	}{
		{47e3, []float64{10e3, 47e3, 51e3, 91e3}},
		{100e-9, []float64{100e-9, 220e-9, 680e-9, 910e-9}},
		{99.999999999, []float64{100, 910}},
		{4.7, []float64{1, 4.7, 9.1}},
		{2.2e-12, []float64{1e-12, 2.7e-12, 9.1e-12}},
	} {
		got := E24.Decade(c.nominal)
		if len(got) != 24 {
			t.Fatalf("%v: %d values", c.nominal, len(got))
		}
		for _, v := range c.has {
			if !slices.Contains(got, v) {
				t.Errorf("decade of %v lacks %v: %v", c.nominal, v, got)
			}
		}
	}
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if got := E24.Decade(bad); len(got) != 0 {
			t.Errorf("Decade(%v) = %v", bad, got)
		}
	}
}

func TestSlips(t *testing.T) {
	for _, c := range []struct{ v, up, down float64 }{
		{47e3, 470e3, 4.7e3},
		{100e-9, 1e-6, 10e-9},
		{3.3e-10, 3.3e-9, 3.3e-11},
	} {
		if up, down := Slips(c.v); up != c.up || down != c.down {
			t.Errorf("Slips(%v) = %v, %v; want %v, %v", c.v, up, down, c.up, c.down)
		}
	}
}

func TestNeighbours(t *testing.T) {
	for _, c := range []struct {
		v, below, above float64
		of              Series
	}{
		{47e3, 43e3, 51e3, E24}, // IEC 60063 E24: 43 47 51
		{1e3, 910, 1.1e3, E24},  // over the decade's edge
		{920, 909, 931, E96},    // 920 is in E192 only
		{9.2, 9.09, 9.31, E192}, // and there its neighbours are 909 and 931
		{48e3, 47e3, 68e3, E6},
	} {
		below, above, ok := c.of.Neighbours(c.v)
		if !ok || below != c.below || above != c.above {
			t.Errorf("%v: %v, %v, %v; want %v, %v", c.v, below, above, ok, c.below, c.above)
		}
	}
}
