package stock

import (
	"errors"
	"strings"
	"testing"

	"offbeat/acquire"
)

func TestRead(t *testing.T) {
	items, err := Read("drawer.csv", strings.NewReader("\uFEFF# the harbour's drawer\nValue; Tolerance ;kind;COUNT;shelf\n47k;1 %;;20;A\n4n7;5 %;;;B\n10k;20 %;trimmer;3;C\n100n;;capacitor;0;D\n104;;capacitor;1;E\n2k2 J;;;;F\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := []struct {
		kind      string
		value     float64
		tolerance float64
		count     int
		line      int
	}{
		{Resistor, 47e3, 0.01, 20, 3},
		{Capacitor, 4.7e-9, 0.05, 0, 4},
		{Trimmer, 10e3, 0.20, 3, 5},
		{Capacitor, 100e-9, 0, 1, 7}, // the one before it has run out; 104 is 100 nF (IEC 60062)
		{Resistor, 2.2e3, 0.05, 0, 8},
	}
	if len(items) != len(want) {
		t.Fatalf("%d items: %+v", len(items), items)
	}
	for i, w := range want {
		got := items[i]
		if got.Kind != w.kind || got.Value.Value != w.value || got.Value.Tolerance.Plus != w.tolerance || got.Count != w.count || got.Line != w.line {
			t.Errorf("item %d: %+v, want %+v", i, got, w)
		}
	}
}

// Each fault has its place: § stands before the faulty byte.
func TestFaults(t *testing.T) {
	for name, text := range map[string]string{
		"empty":          "",
		"no value":       "part,count\nR1,2\n",
		"ambiguous":      "value,count\n§104,2\n",
		"bad value":      "value,count\n47k,1\n4§x7,2\n",
		"bad count":      "value,count\n47k,§many\n",
		"negative":       "value,count\n47k,§-1\n",
		"bad kind":       "value,kind\n47k,§coil\n",
		"tolerance":      "value,tolerance\n47k,§oops\n",
		"twice":          "value,tolerance\n47k ± 1 %,§1 %\n",
		"coverage":       "value,tolerance\n47k,§1 % (k=2)\n",
		"columns":        "value,§value\n47k,47k\n",
		"ragged":         "value,count\n47k\n",
		"unclosed quote": "value,count\n\"47k,2\n",
	} {
		plain := strings.ReplaceAll(text, "§", "")
		_, err := Read("drawer.csv", strings.NewReader(plain))
		if err == nil {
			t.Errorf("%s: no error", name)
			continue
		}
		var e *acquire.Error
		if !errors.As(err, &e) {
			t.Errorf("%s: %T %v", name, err, err)
			continue
		}
		before, _, marked := strings.Cut(text, "§")
		if !marked {
			continue
		}
		line := 1 + strings.Count(before, "\n")
		column := 1 + len(before) - (strings.LastIndexByte(before, '\n') + 1)
		if e.Line != line || e.Column != column {
			t.Errorf("%s: %v; want line %d column %d", name, e, line, column)
		}
	}
}

func TestLoadMissing(t *testing.T) {
	if _, err := Load("no such drawer.csv"); err == nil || !strings.Contains(err.Error(), "no such drawer.csv") {
		t.Errorf("got %v", err)
	}
}
