package designfile

import (
	"strings"
	"testing"

	"offbeat/fit/wiring"
)

const edited = `# The drawing.
title   = "Harbour lamp"   # the third
circuit = "astable"
supply  = "5 V ± 2 %"

# As bought.
[parts]
R1 = "10k ± 1 %"  # metal film
R2 = 47000
C1 = { value = "100n", tolerance = "10 %", kind = "film" }

[target]
frequency = "138 Hz ± 12 %"
`

// A value that is set is what is read, and every other line stays as it was.
func TestSetChangesOneLine(t *testing.T) {
	for _, row := range []struct{ key, value, want string }{
		{"parts.R1", "12k ± 5 %", `R1 = "12k ± 5 %"  # metal film`},
		{"parts.R2", "4k7 J", `R2 = "4k7 J"`},
		{"parts.C1.value", "220n", `C1 = { value = "220n", tolerance = "10 %", kind = "film" }`},
		{"parts.C1.tolerance", "5 %", `C1 = { value = "100n", tolerance = "5 %", kind = "film" }`},
		{"title", `a "quoted" \ name`, `title   = "a \"quoted\" \\ name"   # the third`},
		{"target.frequency", "140 Hz ± 1 %", `frequency = "140 Hz ± 1 %"`},
	} {
		got, err := Set(edited, row.key, row.value)
		if err != nil {
			t.Fatalf("%s: %v", row.key, err)
		}
		was, is := strings.Split(edited, "\n"), strings.Split(got, "\n")
		if len(was) != len(is) {
			t.Fatalf("%s: %d lines, were %d", row.key, len(is), len(was))
		}
		changed := 0
		for i := range was {
			if was[i] != is[i] {
				if changed++; is[i] != row.want {
					t.Errorf("%s: line %q, want %q", row.key, is[i], row.want)
				}
			}
		}
		if changed != 1 {
			t.Errorf("%s: %d lines changed", row.key, changed)
		}
		if v := valueOf(t, got, row.key); v != row.value {
			t.Errorf("%s reads %q, want %q", row.key, v, row.value)
		}
	}
}

func valueOf(t *testing.T, text, key string) string {
	t.Helper()
	all, err := Fields(text)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range all {
		if f.Key == key {
			return f.Value
		}
	}
	return ""
}

// A key that is not there yet gets a line in its table, and one that is emptied loses it; both leave all else.
func TestSetAddsAndTakesOut(t *testing.T) {
	for _, key := range []string{"history", "target.duty_factor", "timer.family", "instrument.clock", "readings.R1", "odds.leakage"} {
		added, err := Set(edited, key, "x")
		if err != nil {
			t.Fatal(err)
		}
		if v := valueOf(t, added, key); v != "x" {
			t.Errorf("%s reads %q after it was added:\n%s", key, v, added)
		}
		gone, err := Set(added, key, "")
		if err != nil {
			t.Fatal(err)
		}
		table, _, inTable := strings.Cut(key, ".")
		if inTable && !strings.Contains(edited, "["+table+"]") {
			gone = strings.Replace(gone, "\n["+table+"]\n", "", 1)
		}
		if gone != edited {
			t.Errorf("%s: added and taken out the text is\n%s", key, gone)
		}
	}
	if got, err := Set("", "circuit", "astable"); err != nil || got != "circuit = \"astable\"\n" {
		t.Errorf("an empty text: %q, %v", got, err)
	}
	if _, err := Set(edited, "parts.C1.kind", ""); err == nil {
		t.Error("a key in braces was taken out")
	}
	if _, err := Set("circuit = ", "title", "x"); err == nil {
		t.Error("what is no TOML was changed")
	}
}

// A value on its card is set there.
func TestSetOnACard(t *testing.T) {
	text := "supply = \"5 V\"\nwiring = \"\"\"\nU1 timer trigger=cap threshold=cap\nR1 supply discharge 10k ± 1 %   # ± is two bytes\nR2 discharge cap 47k\nC1 cap ground\n\"\"\"\n[parts]\nC1 = \"100n\"\n"
	got, err := Set(text, "parts.R1", "12k ± 2 %")
	if err != nil || got != strings.Replace(text, "10k ± 1 %", "12k ± 2 %", 1) {
		t.Errorf("%v\n%s", err, got)
	}
	if v := valueOf(t, text, "parts.R2"); v != "47k" {
		t.Errorf("R2 on its card reads %q", v)
	}
}

// What is parted and put together again reads the same, wherever the tables stand.
func TestApartAndTogether(t *testing.T) {
	evidence := []Evidence{
		{Capture: "a.csv", SHA256: "00ff", With: []string{"R2 || 100k ± 1 %", "supply = 9 V"}, Channels: []string{"2"}, Invert: true},
		{Reading: "R2 = 46.93k ± 0.3 %", Off: true},
		{Capture: "sub/b \"x\".csv", TimeUnit: "ms", Level: "1.5V", Single: true},
	}
	text := Together(edited, evidence)
	for _, order := range []string{text, strings.Replace(text, "[target]\nfrequency = \"138 Hz ± 12 %\"\n", "", 1) + "\n# last\n[target]\nfrequency = \"138 Hz ± 12 %\"\n"} {
		design, got, err := Apart(order)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(design, "evidence") || valueOf(t, design, "target.frequency") != "138 Hz ± 12 %" {
			t.Errorf("the design is\n%s", design)
		}
		if again := Together("", got); again != Together("", evidence) {
			t.Errorf("evidence is\n%s\nwant\n%s", again, Together("", evidence))
		}
	}
	if design, _, err := Apart(text); err != nil || design != edited {
		t.Errorf("%v: the design is not as it was:\n%s", err, design)
	}
}

// Every starter is a design that reads.
func TestStarters(t *testing.T) {
	for _, w := range wiring.All() {
		text, err := Starter(w.Name)
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := ReadFrom("new.toml", strings.NewReader(text), Flags{}); err != nil {
			t.Errorf("%s: %v", w.Name, err)
		}
	}
}
