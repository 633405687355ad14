package cause

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

func design(name string) *fit.Design {
	d := &fit.Design{Circuit: name, Family: fit.Ideal, Supply: fit.Reading{Value: 5}}
	c, _ := circuit.Lookup(name)
	for _, p := range c.Parts {
		part := fit.Part{Name: p.Name, Kind: p.Kind, Nominal: 47e3, Minus: 0.05, Plus: 0.05}
		if p.Kind == fit.Capacitor {
			part.Nominal, part.Minus, part.Plus = 100e-9, 0.1, 0.1
		} else if p.Name == "R1" {
			part.Nominal = 10e3
		}
		d.Parts = append(d.Parts, part)
	}
	return d
}

func board(t *testing.T, d *fit.Design) *Board {
	t.Helper()
	b, err := NewBoard(d)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Every case of every circuit is well formed, its priors hold one unit of mass where nothing was read, and the
// odds of one explanation's cases add up to the documented odds.
func TestEveryCase(t *testing.T) {
	for _, c := range circuit.All() {
		b := board(t, design(c.Name))
		sums := map[string]float64{}
		for _, k := range b.Cases() {
			if len(k.Prior) != len(c.Parts) {
				t.Errorf("%s %s: %d priors for %d parts", c.Name, k.Cause, len(k.Prior), len(c.Parts))
			}
			for i, d := range k.Prior {
				if math.Abs(d.Mass()-1) > 1e-6 {
					t.Errorf("%s %s %v: prior of %s has mass %v", c.Name, k.Cause, k.Parts, c.Parts[i].Name, d.Mass())
				}
			}
			for _, v := range k.Override {
				if math.Abs(v.Density.Mass()-1) > 1e-6 {
					t.Errorf("%s %s: own prior has mass %v", c.Name, k.Cause, v.Density.Mass())
				}
			}
			sums[Key(k.Cause, k.Parts)] += k.Odds
		}
		want := map[string]float64{"nothing ": 1, "shifted C1": 0.05, "other value C1": 0.05, "leakage C1": 0.01, "unexplained ": 0.01}
		if !c.Has(circuit.LeakRatio) {
			want["leakage C1"] = 0
		}
		for key, x := range want {
			if math.Abs(sums[key]-x) > 1e-12 {
				t.Errorf("%s: odds of %q add up to %v, want %v", c.Name, key, sums[key], x)
			}
		}
		_, exchanged := sums["exchanged R1+R2"]
		_, discharge := sums["discharge "]
		if two := len(c.Resistors()) == 2 && b.Parts[c.Resistors()[0]].Nominal != b.Parts[c.Resistors()[1]].Nominal; exchanged != two {
			t.Errorf("%s: exchanged %v, with two different resistors %v", c.Name, exchanged, two)
		}
		if discharge != c.Has(circuit.WeakRatio) {
			t.Errorf("%s: discharge %v, with a discharge switch %v", c.Name, discharge, c.Has(circuit.WeakRatio))
		}
	}
}

// 100n ± 10 %: of the 24 values of the decade (IEC 60063 E24) 100 and 110 lie inside, 110 being just the limit;
// 22 remain and two decade slips of weight 3, so each value has 1/28 of the odds.
func TestOtherValues(t *testing.T) {
	b := board(t, design("astable"))
	values, slips := 0, 0
	for _, k := range b.others(2) {
		switch {
		case math.Abs(k.Odds-1./28) < 1e-12:
			values++
		case math.Abs(k.Odds-3./28) < 1e-12:
			slips++
		default:
			t.Errorf("odds %v", k.Odds)
		}
		from := math.Exp(k.Prior[2].Quantile(0))
		if from > 0.89e-7 && from < 0.999e-7 {
			t.Errorf("a candidate from %v lies in tolerance", from)
		}
	}
	if values != 22 || slips != 2 {
		t.Errorf("%d values and %d slips, want 22 and 2", values, slips)
	}
}

// The design's own odds: a part's key before the bare key before the default; nought leaves a cause out.
func TestOdds(t *testing.T) {
	d := design("astable")
	d.Odds = map[string]float64{"shifted": 0.3, "shifted.C1": 0.7, "clock": 0}
	found := map[string]float64{}
	for _, k := range board(t, d).Cases() {
		found[Key(k.Cause, k.Parts)] += k.Odds
	}
	for key, want := range map[string]float64{"shifted C1": 0.7, "shifted R1": 0.3, "exchanged R1+R2": 0.02} {
		if found[key] != want {
			t.Errorf("odds of %s: %v, want %v", key, found[key], want)
		}
	}
	if x, ok := found["clock "]; ok {
		t.Errorf("clock has odds 0 and yet a case with %v", x)
	}
	d.History, d.Odds = fit.Worked, nil
	d.Parts[2].Class = "electrolytic"
	for _, k := range board(t, d).Cases() {
		if k.Cause == "leakage" && k.Odds != 0.20 {
			t.Errorf("leakage of an electrolytic that worked: %v, want 0.20", k.Odds)
		}
	}
}

// A rectangular reading cuts the prior, a normal one weighs it.
func TestReadings(t *testing.T) {
	d := design("astable")
	d.Readings = []fit.Reading{{Name: "R2", Value: 46e3, Half: 1e3}, {Name: "C1", Value: 100e-9, Standard: 1e-9}, {Name: "control", Value: 3.3, Half: 0.05}}
	b := board(t, d)
	// 46k ± 1k meets 47k ± 5 % (44.65k … 49.35k) in 45k … 47k: 2000 of 4700 ohm.
	if got := b.Tolerance[1].Mass(); math.Abs(got-2000./4700) > 1e-9 {
		t.Errorf("R2 keeps %v of its prior, want %v", got, 2000./4700)
	}
	// A normal of standard deviation 1 nF inside 90 … 110 nF: sqrt(2 pi) * 1 / 20.
	if got, want := b.Tolerance[2].Mass(), math.Sqrt(2*math.Pi)/20; math.Abs(got-want) > 1e-3*want {
		t.Errorf("C1 keeps %v of its prior, want %v", got, want)
	}
	// With an ideal timer a control reading of 0.66 ± 0.01 of the supply agrees with 2/3; one of 0.6 does not.
	if n := len(b.Cases()); n < 50 {
		t.Errorf("only %d cases left by an agreeing control reading", n)
	}
	d.Readings[2].Value = 3.0
	left := board(t, d).Cases()
	if len(left) != 2 || left[0].Cause != "thresholds" || left[1].Cause != "unexplained" {
		t.Errorf("a control pin read at 0.6 leaves %d cases, want the thresholds and unexplained", len(left))
	}
}

// Each cause file is in the registry, so that none is forgotten.
func TestRegistryIsWhole(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) < 10 {
		t.Fatal(err, files)
	}
	list, err := os.ReadFile("cause.go")
	if err != nil {
		t.Fatal(err)
	}
	declared := regexp.MustCompile(`(?m)^var (\w+) = Cause\{`)
	n := 0
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range declared.FindAllStringSubmatch(string(text), -1) {
			n++
			if !strings.Contains(string(list), "\t"+m[1]+",\n") {
				t.Errorf("%s declares %s, which the registry lacks", f, m[1])
			}
		}
	}
	if n != len(registry) {
		t.Errorf("%d causes declared, %d registered", n, len(registry))
	}
}
