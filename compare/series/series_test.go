package series

import (
	"math"
	"slices"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit"
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
	want := standard(t)
	if len(want) != len(Names()) {
		t.Fatalf("published %d series, here %d", len(want), len(Names()))
	}
	for name, values := range want {
		if got := InDecade(1, name); !slices.Equal(got, values) {
			t.Errorf("%s:\n got %v\nwant %v", name, got, values)
		}
	}
	if len(InDecade(1, "E13")) > 0 {
		t.Error("E13 was accepted")
	}
}

func TestInDecade(t *testing.T) {
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
		got := InDecade(c.nominal, "E24")
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
		if got := InDecade(bad, "E24"); len(got) != 0 {
			t.Errorf("InDecade(%v) = %v", bad, got)
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
		name            string
	}{
		{47e3, 43e3, 51e3, "E24"}, // IEC 60063 E24: 43 47 51
		{1e3, 910, 1.1e3, "E24"},  // over the decade's edge
		{920, 909, 931, "E96"},    // 920 is in E192 only
		{9.2, 9.09, 9.31, "E192"}, // and there its neighbours are 909 and 931
		{48e3, 47e3, 68e3, "E6"},
	} {
		below, above, err := Neighbours(c.v, c.name)
		if err != nil || below != c.below || above != c.above {
			t.Errorf("%s %v: %v, %v, %v; want %v, %v", c.name, c.v, below, above, err, c.below, c.above)
		}
	}
}

// TestNearestAgainstAllPairs tries every pair there is and compares the best ten's errors. 9.4k has two exact pairs,
// one of them of equal parts.
func TestNearestAgainstAllPairs(t *testing.T) {
	for _, wanted := range []float64{48.53e3, 1e3, 777, 9.99e-8, 9.4e3} {
		for _, kind := range []fit.PartKind{fit.Resistor, fit.Capacitor} {
			opt := Options{Names: []string{"E12", "E48"}, Low: wanted / 100, High: wanted * 100}
			got, err := Nearest(wanted, kind, opt)
			if err != nil {
				t.Fatal(err)
			}
			all, _ := Between(opt.Low, opt.High, opt.Names...)
			var errs []float64
			for i, a := range all {
				errs = append(errs, math.Abs(math.Log(a/wanted)))
				for _, b := range all[i:] {
					errs = append(errs, math.Abs(math.Log((a+b)/wanted)), math.Abs(math.Log(1/(1/a+1/b)/wanted)))
				}
			}
			slices.Sort(errs)
			for i, c := range got {
				if !(math.Abs(math.Abs(c.Error)-errs[i]) <= 1e-12) { // two ways of adding the reciprocals: a few ULP
					t.Errorf("%v kind %d, place %d: %+v, want error %v", wanted, kind, i, c, errs[i])
				}
			}
			checkJoins(t, got, kind)
		}
	}
}

// checkJoins recomputes each combination from Ohm's law (series resistances add, parallel capacitances add).
func checkJoins(t *testing.T, got []Combination, kind fit.PartKind) {
	t.Helper()
	for _, c := range got {
		value := c.Parts[0]
		if len(c.Parts) == 2 {
			adds := (c.Topology == Series) == (kind == fit.Resistor)
			value = c.Parts[0] + c.Parts[1]
			if !adds {
				value = 1 / (1/c.Parts[0] + 1/c.Parts[1])
			}
		} else if c.Topology != Single {
			t.Errorf("one part, but %s", c.Topology)
		}
		if !(math.Abs(value/c.Value-1) <= 1e-12) {
			t.Errorf("%+v: parts give %v", c, value)
		}
	}
}

func TestNearestPrefersOnePart(t *testing.T) {
	got, err := Nearest(47e3, fit.Resistor, Options{Count: 3})
	if err != nil || got[0].Topology != Single || got[0].Value != 47e3 {
		t.Fatalf("%+v, %v", got, err)
	}
	single, err := Nearest(48.5e3, fit.Resistor, Options{SingleOnly: true, Count: 2})
	if err != nil || len(single) != 2 || single[0].Value != 47e3 || single[1].Value != 51e3 {
		t.Fatalf("%+v, %v", single, err)
	}
	pair, err := Nearest(48.5e3, fit.Resistor, Options{Count: 1})
	if err != nil || pair[0].Error != 0 { // 47k + 1.5k among others
		t.Fatalf("%+v, %v", pair, err)
	}
	if _, err := Nearest(-1, fit.Resistor, Options{}); err == nil {
		t.Error("a negative value was accepted")
	}
}
