package cause

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"offbeat/acquire/quantity"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
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

// moves says whether the times hang on a case's own variable; a clock is no part of the board.
func moves(t *testing.T, b *Board, k *Case, own posterior.Variable) bool {
	t.Helper()
	v, err := b.Circuit.Typical(b.Design)
	if err != nil {
		t.Fatal(err)
	}
	high, low, _ := k.Times(b.Circuit, &v)
	if v[own.Slot] = own.Density.Quantile(0.9); own.Log {
		v[own.Slot] = math.Exp(v[own.Slot])
	}
	h, l, ok := k.Times(b.Circuit, &v)
	return own.Slot == circuit.Clock || !ok || h != high || l != low
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
				if !(math.Abs(d.Mass()-1) <= 1e-6) {
					t.Errorf("%s %s %v: prior of %s has mass %v", c.Name, k.Cause, k.Parts, c.Parts[i].Name, d.Mass())
				}
			}
			for _, v := range k.Override {
				if !(math.Abs(v.Density.Mass()-1) <= 1e-6) {
					t.Errorf("%s %s: own prior has mass %v", c.Name, k.Cause, v.Density.Mass())
				}
				if !moves(t, b, &k, v) {
					t.Errorf("%s %s: what it overrides, slot %d, has no say in the times", c.Name, k.Cause, v.Slot)
				}
			}
			sums[Key(k.Cause, k.Parts)] += k.Odds
		}
		want := map[string]float64{"nothing ": 1, "shifted C1": 0.03, "other value C1": 0.05, "leakage C1": 0.01, "unexplained ": 0.03}
		if !c.Has(circuit.LeakRatio) {
			want["leakage C1"] = 0
		}
		for key, x := range want {
			if !(math.Abs(sums[key]-x) <= 1e-12) {
				t.Errorf("%s: odds of %q add up to %v, want %v", c.Name, key, sums[key], x)
			}
		}
		_, discharge := sums["discharge "]
		exchanged, resistors := 0.0, len(c.Resistors())
		for key, odds := range sums {
			if strings.HasPrefix(key, "exchanged ") {
				exchanged += odds
			}
		}
		// R1 alone differs from the others: of n resistors it has n-1 to trade with, each with the row's odds over n-1.
		if want := 0.02 * float64(min(1, resistors-1)); !(math.Abs(exchanged-want) <= 1e-12) {
			t.Errorf("%s: exchanged has odds %v in all, want %v", c.Name, exchanged, want)
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
		case math.Abs(k.Share-1./28) < 1e-12:
			values++
		case math.Abs(k.Share-3./28) < 1e-12:
			slips++
		default:
			t.Errorf("share %v", k.Share)
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

// The strays counted are those documented: beside the drawing, 10 pF to 1 nF; where the timing capacitor is missing, what pins, tracks
// and one undivided probe (110 pF, common practice) leave, 10 to 200 pF. Half of the odds lie below the geometric mean.
func TestStraysAsDocumented(t *testing.T) {
	d := design("astable")
	d.Parts[2].Nominal = 10e-9
	found := map[string]posterior.Density{}
	for _, k := range board(t, d).Cases() {
		if k.Cause == "stray" {
			found[k.Cause] = k.Override[0].Density
		} else if k.Cause == "missing" && len(k.Fitted) == 1 {
			found[k.Cause] = k.Prior[2]
		}
	}
	for name, want := range map[string][2]float64{"stray": {10e-12, 1e-9}, "missing": {10e-12, 200e-12}} {
		for u, x := range map[float64]float64{0: want[0], 0.5: math.Sqrt(want[0] * want[1]), 1: want[1]} {
			if got := math.Exp(found[name].Quantile(u)); !(math.Abs(got/x-1) <= 1e-9) {
				t.Errorf("%s: quantile %v lies at %v F, want %v", name, u, got, x)
			}
		}
	}
}

// A rectangular reading cuts the prior, a normal one weighs it.
func TestReadings(t *testing.T) {
	d := design("astable")
	d.Readings = []fit.Reading{{Name: "R2", Value: 46e3, Half: 1e3}, {Name: "C1", Value: 100e-9, Standard: 1e-9}, {Name: "control", Value: 3.3, Half: 0.05}}
	b := board(t, d)
	// 46k ± 1k meets 47k ± 5 % (44.65k … 49.35k) in 45k … 47k: 2000 of 4700 ohm.
	if got := b.Tolerance[1].Mass(); !(math.Abs(got-2000./4700) <= 1e-9) {
		t.Errorf("R2 keeps %v of its prior, want %v", got, 2000./4700)
	}
	// A normal of standard deviation 1 nF inside 90 … 110 nF: sqrt(2 pi) * 1 / 20.
	if got, want := b.Tolerance[2].Mass(), math.Sqrt(2*math.Pi)/20; !(math.Abs(got-want) <= 1e-3*want) {
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

// Every cause says all there is to say of it, wherever it shows: no word is missing, no text is cut.
func TestEveryCauseHasItsWords(t *testing.T) {
	keys, curves := map[string]bool{}, map[string]bool{}
	for i := range registry {
		c := &registry[i]
		if c.Name == "" || c.Key == "" || keys[c.Key] {
			t.Errorf("cause %q has the key %q, which must be its own", c.Name, c.Key)
		}
		keys[c.Key] = true
		for what, text := range map[string]string{"Kind": c.Kind, "Title": c.Words.Title, "Curve": c.Words.Curve, "Lot": c.Lot, "Retune": c.Retune, "Form": c.Form, "Meaning": c.Meaning} {
			if strings.TrimSpace(text) == "" {
				t.Errorf("cause %q says nothing as %s", c.Key, what)
			}
			if strings.HasSuffix(text, ".") != (what == "Meaning") {
				t.Errorf("cause %q: %s %q: whole sentences stand in Meaning, and there alone", c.Key, what, text)
			}
		}
		if named := strings.Contains(c.Words.Title, "%s"); named != (c.Parts > 0) {
			t.Errorf("cause %q names %d parts; its title is %q", c.Key, c.Parts, c.Words.Title)
		}
		if strings.Contains(c.Kind+c.Retune+c.Form+c.Meaning, "%") {
			t.Errorf("cause %q has a place for parts where none are put in", c.Key)
		}
		if curves[c.Words.Curve] && c.Parts < 2 {
			t.Errorf("two causes are drawn as %q", c.Words.Curve)
		}
		curves[c.Words.Curve] = true
		if len(c.Odds) == 0 {
			t.Errorf("cause %q has no odds", c.Key)
		}
		for _, r := range c.Odds {
			if r.New <= 0 || r.Worked <= 0 || r.Why == "" {
				t.Errorf("cause %q: odds without a number or a reason: %+v", c.Key, r)
			}
		}
	}
}

// The sentence of every case of every circuit: whole, with its parts and without a hole.
func TestEverySentence(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range circuit.All() {
		d := design(c.Name)
		for i := range d.Parts {
			if d.Parts[i].Kind == fit.Capacitor {
				d.Parts[i].Nominal /= 100 // small enough for a stray capacitance to count
			}
		}
		b := board(t, d)
		b.Waveform = true
		v := circuit.Ideal(5)
		if err := c.Fill(&v, b.Design); err != nil {
			t.Fatal(err)
		}
		v[circuit.LeakRatio], v[circuit.WeakRatio], v[circuit.Clock] = 5, 0.1, 0.01
		cases := b.Cases()
		b.Waveform = false
		for _, k := range append(cases, b.Cases()...) {
			s := &Said{Parts: k.Parts, Parameters: k.Parameters}
			for _, p := range k.Parameters {
				s.Values = append(s.Values, p.Of(&v))
				if _, ok := quantity.InJSON[p.Unit]; !ok {
					t.Errorf("%s %s: %s has the unit %q, which the JSON has not", c.Name, k.Cause, p.Name, p.Unit)
				}
			}
			text := Sentence(k.Cause, s, true)
			if strings.Contains(text, "%!") || strings.Contains(text, "%s") || strings.HasSuffix(text, ", ") || strings.Contains(text, "NaN") {
				t.Errorf("%s %s: %q", c.Name, k.Cause, text)
			}
			for _, p := range k.Parts {
				if !strings.Contains(text, p) {
					t.Errorf("%s %s: %q does not name %s", c.Name, k.Cause, text, p)
				}
			}
			seen[Of(k.Cause, k.Parts).Key] = true
		}
	}
	for i := range registry {
		if !seen[registry[i].Key] {
			t.Errorf("no circuit has a case of %q", registry[i].Key)
		}
	}
}

// Each cause file is in the registry, so that none is forgotten.
func TestRegistryIsWhole(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) < 10 {
		t.Fatal(err, files)
	}
	list, err := os.ReadFile("registry.go")
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
