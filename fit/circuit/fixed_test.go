package circuit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

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
		groups, first := c.Groups()
		documented, solved := want.Groups()
		if got, want := names(groups), names(documented); s.Name != "comparator" && got != want {
			t.Errorf("%s: derived %s, documented %s", s.Name, got, want)
		}
		if fmt.Sprint(first) != fmt.Sprint(solved) {
			t.Errorf("%s: solved for %v, documented %v", s.Name, first, solved)
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
		timer + "R1 output a 10\nR2 a b 22\nR3 b c 33\nR4 c cap 10\nC1 cap ground 100":                               "high_time", // a sum that nobody reads
		timer + "R1 output a 10\nR2 a b 22\nR3 b cap 33\nC1 cap ground 100":                                          "C1*(R1+R2+R3)",
		"U1 timer threshold=cap discharge=cap\nR1 supply a 47\nR2 a cap 10\nC1 cap ground 100":                       "C1*(R1+R2)",
	} {
		d := design(t, text)
		c, _ := run(t, d)
		groups, _ := c.Groups()
		if got := names(groups); got != want {
			t.Errorf("%q: %s, want %s", text, got, want)
		}
		for _, g := range groups {
			if (g.Near != nil) != strings.HasSuffix(g.Name, "time") {
				t.Errorf("%s: near %v", g.Name, g.Near)
			}
		}
	}
	// A resistor across the capacitor takes its share off: the powers add up to the dimension.
	c, v := run(t, design(t, timer+"R1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 cap ground 330"))
	groups, _ := c.Groups()
	g := groups[1]
	if sum := g.Near["R1"] + g.Near["R2"] + g.Near["R3"]; !(math.Abs(sum-1) <= 1e-6) || !(math.Abs(g.Near["C1"]-1) <= 1e-6) {
		t.Errorf("powers %v", g.Near)
	}
	h, _, _ := c.Times(&v)
	if x := g.Of(&v); !(math.Abs(x/h-1) <= 1e-9) {
		t.Errorf("%s is %g, the time %g", g.Name, x, h)
	}
}

// value works a group's name out with these parts: products and quotients from the left, sums, and || for side by side.
func value(t *testing.T, name string, part func(string) float64) float64 {
	t.Helper()
	at := 0
	var sum func() float64
	atom := func() float64 {
		if name[at] == '(' {
			at++
			x := sum()
			at++
			return x
		}
		from := at
		for at < len(name) && strings.IndexByte("+*/|()", name[at]) < 0 {
			at++
		}
		return part(name[from:at])
	}
	product := func() float64 {
		x := atom()
		for at < len(name) {
			switch {
			case name[at] == '*':
				at++
				x *= atom()
			case name[at] == '/':
				at++
				x /= atom()
			case strings.HasPrefix(name[at:], "||"):
				at += 2
				y := atom()
				x = x * y / (x + y)
			default:
				return x
			}
		}
		return x
	}
	sum = func() float64 {
		x := product()
		for at < len(name) && name[at] == '+' {
			at++
			x += product()
		}
		return x
	}
	return sum()
}

// Of every board: what a group's name says is what it computes; it moves only with the times (its gradient lies in the span of
// theirs at values away from the nominal ones, where a law near them is not exact); there are as many groups as the
// times have of their own; and the parts that they are solved for tell them apart.
func TestGroupsOfEveryBoard(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 8))
	for _, text := range append([]string{
		"U1 inverter in=cap\nR1 output a 10\nD1 a cap\nR2 output b 22\nD2 cap b\nC1 cap ground 100\nC2 cap ground 22",
		"U1 timer trigger=cap threshold=cap\nR1 output a 10\nR2 a cap 22\nR3 a cap 33\nC1 cap ground 100",
		"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nR3 discharge cap 33\nC1 cap ground 100\nC2 cap supply 22\nC3 cap ground 10",
		"U1 timer trigger=cap threshold=cap\nR1 supply a 10\nR2 a discharge 22\nR3 supply discharge 33\nR4 discharge cap 47\nC1 cap ground 100",
	}, boards...) {
		c, v := run(t, design(t, text))
		for _, s := range []Slot{DelayFall, DelayRise, Bias, SwitchResistance} {
			v[s] = 0
		}
		gradient := func(at *Values, of func(v *Values) float64) []float64 {
			g := make([]float64, len(c.Parts))
			for i := range g {
				const h = 1e-4
				up, down := *at, *at
				up[i], down[i] = at[i]*math.Exp(h), at[i]*math.Exp(-h)
				g[i] = (math.Log(of(&up)) - math.Log(of(&down))) / (2 * h)
			}
			return g
		}
		times := func(at *Values) [][]float64 {
			rows := [][]float64{gradient(at, func(v *Values) float64 { h, _, _ := c.Times(v); return h })}
			if !c.OnePulse {
				rows = append(rows, gradient(at, func(v *Values) float64 { _, l, _ := c.Times(v); return l }))
			}
			return rows
		}
		rank, _ := rankOf(times(&v), 1e-5)
		groups, first := c.Groups()
		if len(groups) != rank || len(first) != rank {
			t.Errorf("%q: groups %s solved for %v, but the times have rank %d", text, names(groups), first, rank)
		}
		var rows [][]float64
		for _, g := range groups {
			at := v
			for i := range c.Parts {
				at[i] *= math.Exp(0.2 * (2*rng.Float64() - 1))
			}
			if g.Near != nil { // a law near the nominal values
				k := map[string]int{"high_time": 0, "low_time": 1}[g.Name]
				for i, p := range times(&v)[k] {
					if !(math.Abs(g.Near[c.Parts[i].Name]-p) <= 1e-4) {
						t.Errorf("%q: %s goes with the power %v of %s, want %v", text, g.Name, g.Near[c.Parts[i].Name], c.Parts[i].Name, p)
					}
				}
				at = v
				off := v
				for i := range c.Parts {
					off[i] *= math.Exp(1e-3 * (2*rng.Float64() - 1))
				}
				h, l, _ := c.Times(&off)
				if want := []float64{h, l}[k]; !(math.Abs(g.Of(&off)/want-1) <= 1e-5) {
					t.Errorf("%q: %s is %v beside the nominal values, want %v", text, g.Name, g.Of(&off), want)
				}
			} else if want := value(t, g.Name, func(name string) float64 { s, _ := c.Slot(name); return at[s] }); !(math.Abs(g.Of(&at)/want-1) <= 1e-12) {
				t.Errorf("%q: %s is %v, want %v", text, g.Name, g.Of(&at), want)
			}
			own := gradient(&at, g.Of)
			if all, _ := rankOf(append(times(&at), own), 1e-4); all != rank {
				t.Errorf("%q: the times do not fix %s", text, g.Name)
			}
			rows = append(rows, own)
		}
		columns := make([][]float64, 0, len(first))
		for _, i := range first {
			col := make([]float64, len(rows))
			for k := range rows {
				col[k] = rows[k][i]
			}
			columns = append(columns, col)
		}
		if got, _ := rankOf(columns, 1e-3); got != len(first) {
			t.Errorf("%q: %s cannot be solved for %v", text, names(groups), first)
		}
	}
}

// rankOf is how many singular values are above a share of the largest (gonum's SVD).
func rankOf(rows [][]float64, share float64) (rank int, values []float64) {
	if len(rows) == 0 {
		return 0, nil
	}
	m := mat.NewDense(len(rows), len(rows[0]), nil)
	for i, r := range rows {
		m.SetRow(i, r)
	}
	var svd mat.SVD
	svd.Factorize(m, mat.SVDNone)
	values = svd.Values(nil)
	for _, x := range values {
		if x > share*values[0] {
			rank++
		}
	}
	return rank, values
}
