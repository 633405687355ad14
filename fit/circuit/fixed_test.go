package circuit

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

// What the times fix of a shipped wiring is derived as the documentation has always named it, but for the comparator, whose
// logarithm is no product.
func TestShippedGroupsAreDerived(t *testing.T) {
	for _, s := range wiring.All() {
		w, err := s.Wiring()
		if err != nil || w.Runs == wiring.Bistable {
			continue
		}
		parts := usualParts(w)
		for i := range parts {
			parts[i].Nominal *= []float64{3.3, 6.8, 2.2, 4.7}[i] // no symmetry
		}
		c, err := wired(w, &fit.Design{Supply: fit.Reading{Value: 9}, Parts: parts}, s.Shares)
		if err != nil {
			t.Fatal(err)
		}
		want := named(s.Name)
		if got, want := names(c.Groups), names(want.Groups); s.Name != "comparator" && got != want {
			t.Errorf("%s: derived %s, documented %s", s.Name, got, want)
		}
		if fmt.Sprint(c.First) != fmt.Sprint(want.First) {
			t.Errorf("%s: solved for %v, documented %v", s.Name, c.First, want.First)
		}
	}
}

func names(groups []Group) string {
	var all []string
	for _, g := range groups {
		all = append(all, g.Name)
	}
	return strings.Join(all, " ")
}

func TestDerivedGroups(t *testing.T) {
	const timer = "U1 timer trigger=cap threshold=cap\n"
	for text, want := range map[string]string{
		timer + "R1 supply discharge 10\nR2 discharge a 22\nRV1 a cap 25\nC1 cap ground 100":                         "R1*C1 R1/(R2+RV1)",
		timer + "R1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nC2 cap supply 47":                   "R2*(C1+C2) R1/R2",
		timer + "R1 output cap 10\nR2 output cap 47\nC1 cap ground 100":                                              "C1*(R1||R2)",
		timer + "R1 supply discharge 4\nR2 discharge a 10\nD1 a cap\nR3 discharge b 22\nD2 cap b\nC1 cap ground 100": "R3*C1 (R1+R2)/R3",
		timer + "R1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 cap ground 330":                  "C1*(R2||R3) high_time",
		"U1 timer threshold=cap discharge=cap\nR1 supply a 47\nR2 a cap 10\nC1 cap ground 100":                       "C1*(R1+R2)",
	} {
		d := design(t, text)
		c, _ := run(t, d)
		if got := names(c.Groups); got != want {
			t.Errorf("%q: %s, want %s", text, got, want)
		}
		for _, g := range c.Groups {
			if (g.Near != nil) != strings.HasSuffix(g.Name, "time") {
				t.Errorf("%s: near %v", g.Name, g.Near)
			}
		}
	}
	// A resistor across the capacitor takes its share off: the powers add up to the dimension.
	c, v := run(t, design(t, timer+"R1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 cap ground 330"))
	g := c.Groups[1]
	if sum := g.Near["R1"] + g.Near["R2"] + g.Near["R3"]; math.Abs(sum-1) > 1e-6 || math.Abs(g.Near["C1"]-1) > 1e-6 {
		t.Errorf("powers %v", g.Near)
	}
	h, _, _ := c.Times(&v)
	if x := g.Of(&v); math.Abs(x/h-1) > 1e-9 {
		t.Errorf("%s is %g, the time %g", g.Name, x, h)
	}
}
