package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"offbeat/compare"
	"offbeat/compare/report"
	"offbeat/fit/fittest"
)

// train writes a capture of a network, timed by integrating Kirchhoff's law: a list of transitions.
func train(t *testing.T, name string, n fittest.Network) {
	t.Helper()
	n.Circuit, n.Supply = fittest.Astable, 5
	high, low, err := fittest.Integrate(n)
	if err != nil {
		t.Fatal(err)
	}
	text, at := "Time[s],Output\n0,0\n", 1e-3
	for range 40 {
		text += fmt.Sprintf("%.9f,1\n%.9f,0\n", at, at+high)
		at += high + low
	}
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func finding(t *testing.T, args ...string) *compare.Finding {
	t.Helper()
	stdout, stderr, status := run(t, "", append(args, "--json")...)
	f := new(compare.Finding)
	if err := json.Unmarshal([]byte(stdout), f); err != nil {
		t.Fatalf("offbeat %v: status %d\n%s\n%v", args, status, stderr, err)
	}
	return f
}

func probability(f *compare.Finding, cause, part string) float64 {
	for _, c := range f.Causes {
		if c.Cause == cause && strings.Join(c.Parts, "+") == part {
			return c.Probability
		}
	}
	return 0
}

// A condition holds for the capture that follows it and for no other, wherever the flag stands before that capture.
func TestWithHoldsForOneCapture(t *testing.T) {
	t.Chdir(t.TempDir())
	design := []string{"--circuit", "astable", "--family", "ideal", "--part", "R1=10k:1%", "--part", "R2=47k:1%", "--part", "C1=100n:10%", "--supply", "5V"}
	train(t, "plain.csv", fittest.Network{R1: 10.02e3, R2: 47.1e3, C: 127e-9})
	train(t, "more.csv", fittest.Network{R1: 10.02e3, R2: 47.1e3, C: 127e-9 + 100.4e-9})
	f := finding(t, append(append([]string{"reconcile"}, design...), "plain.csv", "--with", "C1 || 100n ± 1 %", "more.csv")...)
	for _, p := range f.Parts {
		if real := map[string]float64{"R1": 10.02e3, "R2": 47.1e3, "C1": 127e-9}[p.Name]; p.Interval95[0] > real || p.Interval95[1] < real {
			t.Errorf("%s %v, really %v", p.Name, p.Interval95, real)
		}
	}
	if c1 := f.Parts[2]; (c1.Interval95[1]-c1.Interval95[0])/127e-9 > 0.021 {
		t.Errorf("C1 is pinned only to %v", c1.Interval95)
	}
	if !(math.Abs(f.Measured.Frequency.Value-1/(math.Ln2*(10.02e3+2*47.1e3)*127e-9)) <= 0.01) {
		t.Errorf("the measured frequency is %v, not that of the plain board", f.Measured.Frequency.Value)
	}
	if got := f.Captures[1].Notes; !strings.Contains(strings.Join(got, " "), "C1 || 100n ± 1 %") {
		t.Errorf("the second capture's notes are %q", got)
	}
	first := finding(t, append(append([]string{"reconcile"}, design...), "--with", "C1 || 100n ± 1 %", "more.csv", "plain.csv")...)
	if d := math.Abs(probability(first, "shifted", "C1") - probability(f, "shifted", "C1")); d > 0.01 {
		t.Errorf("the order of the captures matters: %v", d)
	}
	for _, bad := range [][]string{{"plain.csv", "--with", "C1 || 100n"}, {"--with", "C7 || 100n", "plain.csv"}, {"--with", "C1 || 100", "plain.csv"}} {
		if _, stderr, status := run(t, "", append(append([]string{"reconcile"}, design...), bad...)...); status != Usage || !strings.Contains(stderr, "--with") {
			t.Errorf("%v: status %d, %s", bad, status, stderr)
		}
	}
}

// What has moved since spring: a capacitor, within its tolerance.
func TestBaseline(t *testing.T) {
	t.Chdir(t.TempDir())
	design := []string{"reconcile", "--circuit", "astable", "--family", "ideal", "--part", "R1=10k:5%", "--part", "R2=47k:5%", "--part", "C1=100n:10%", "--supply", "5V"}
	train(t, "spring.csv", fittest.Network{R1: 10.2e3, R2: 46.1e3, C: 107e-9})
	train(t, "today.csv", fittest.Network{R1: 10.2e3, R2: 46.1e3, C: 101e-9})
	stdout, stderr, status := run(t, "", append(design, "spring.csv", "--json")...)
	if status != Done {
		t.Fatal(stderr)
	}
	if err := os.WriteFile("spring.json", []byte(stdout), 0o644); err != nil {
		t.Fatal(err)
	}
	if f := finding(t, append(design, "today.csv")...); f.Causes[0].Cause != "nothing" {
		t.Errorf("without the baseline: %+v", f.Causes[0])
	}
	f := finding(t, append(design, "today.csv", "--baseline", "spring.json")...)
	if p := probability(f, "shifted", "C1"); p < 0.7 || !strings.Contains(f.Finding, "since the baseline") {
		t.Errorf("C1 moved with %v: %s", p, f.Finding)
	}
	if c := f.Parts[2].Change; c == nil || !(math.Abs(c.Factor-101./107) <= 0.002) {
		t.Errorf("C1 moved by %+v, really %v", c, 101./107)
	}
	for name, text := range map[string]string{"none.json": "", "broken.json": "{\"schema\": 1,", "other.json": "{\"lot\": 3}", "list.json": "[1]"} {
		if text != "" {
			if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if _, stderr, status := run(t, "", append(design, "today.csv", "--baseline", name)...); status != Failed || !strings.Contains(stderr, name) {
			t.Errorf("%s: status %d, %s", name, status, stderr)
		}
	}
}

func TestRetune(t *testing.T) {
	t.Chdir(t.TempDir())
	design := []string{"retune", "--circuit", "astable", "--family", "ideal", "--part", "R1=10k:1%", "--part", "R2=47k:1%", "--part", "C1=100n:10%", "--supply", "5V"}
	train(t, "lamp.csv", fittest.Network{R1: 10.02e3, R2: 47.1e3, C: 122e-9})
	target := append(design, "--reading", "R2=47.1k:0.5%", "--target", "frequency=138Hz:3%", "lamp.csv")
	if err := os.WriteFile("drawer.csv", []byte("value,tolerance,count\n38k3,1 %,4\n220k,1 %,1\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	stdout, stderr, status := run(t, "", append(target, "--stock", "drawer.csv", "--json")...)
	if status != OffTarget {
		t.Fatalf("status %d: %s", status, stderr)
	}
	var r report.Retuning
	if err := json.Unmarshal([]byte(stdout), &r); err != nil {
		t.Fatal(err)
	}
	if len(r.Proposals) == 0 || !r.Proposals[0].AsDrawn {
		t.Fatalf("the repair does not lead: %+v", r.Proposals)
	}
	r.Proposals = r.Proposals[1:]
	if len(r.Proposals) == 0 || r.Proposals[0].InTarget < 0.99 || r.Proposals[0].InStock == nil || !*r.Proposals[0].InStock {
		t.Fatalf("first proposal %+v", r.Proposals)
	}
	for i, p := range r.Proposals {
		if p.Predicted.Frequency == nil || i > 0 && p.InTarget > r.Proposals[i-1].InTarget {
			t.Errorf("proposal %d: %+v", i, p)
		}
	}
	for _, key := range []string{`"proposals"`, `"changes"`, `"part"`, `"fit"`, `"value"`, `"probability_in_target"`, `"predicted"`} {
		if !strings.Contains(stdout, key) {
			t.Errorf("the JSON has no %s", key)
		}
	}
	text, _, _ := run(t, "", target...)
	line, _, _ := run(t, "", append(target, "--quiet")...)
	table, _, _ := run(t, "", append(target, "--csv", "-")...)
	if !strings.Contains(text, "WHAT TO FIT") || !strings.Contains(text, "Caution:") || strings.Count(line, "\n") != 1 || !strings.HasPrefix(table, "kind,name") {
		t.Errorf("text %q, line %q, table %q", text, line, table)
	}
	if _, stderr, status := run(t, "", append(design, "lamp.csv")...); status != Usage || !strings.Contains(stderr, "target") {
		t.Errorf("no target: status %d, %s", status, stderr)
	}
	if _, stderr, status := run(t, "", append(target, "--stock", "none.csv")...); status != Failed || !strings.Contains(stderr, "none.csv") {
		t.Errorf("no stock list: status %d, %s", status, stderr)
	}
}

// A baseline that never ends is given up, and what is none is said.
func TestBaselineIsBounded(t *testing.T) {
	bench(t)
	endless, err := os.Create("endless.json") // with a hole in it, so that it takes no room
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(endless.Truncate(1<<34), endless.Close()); err != nil {
		t.Skip(err)
	}
	for name, says := range map[string]string{"endless.json": "longer than 16 MB", "/dev/zero": "longer than 16 MB", ".": "is a directory", "none.json": "no such file", "lamp.toml": "this is no JSON"} {
		if _, err := os.Stat(name); err != nil && name == "/dev/zero" {
			continue
		}
		if _, stderr, status := run(t, "", "reconcile", "lamp.toml", "lamp-3.csv", "--baseline", name); status != Failed || !strings.Contains(stderr, says) {
			t.Errorf("%s: status %d, %s", name, status, stderr)
		}
	}
}

// A sound board seen wrong: sampled below two samples a pulse, so that another frequency or no train shows, turned round, or
// at the capacitor's node. The first line of --quiet says what to do; there is no verdict, and no part is named.
func TestWrongSignalInTheFirstLine(t *testing.T) {
	t.Chdir(t.TempDir())
	const r1, r2, farad = 10.03e3, 46.9e3, 103e-9
	high, low := math.Ln2*(r1+r2)*farad, math.Ln2*r2*farad // 133 Hz
	output := func(at float64) float64 {
		if math.Mod(at, high+low) < high {
			return 4.8
		}
		return 0.1
	}
	for _, c := range []struct {
		name  string
		rate  float64
		logic bool
		volt  func(at float64) float64
		want  string
	}{
		{"150", 150, false, output, "sample at 3100 a second or more"},
		{"200", 200, false, output, "sample at 3100 a second or more"},
		{"300", 300, false, output, "sample at 3100 a second or more"},
		{"states", 250, true, output, "sample at 3100 a second or more"},
		{"turned", 2e4, false, func(at float64) float64 { return 5 - output(at) }, "add --invert"},
		{"node", 2e4, false, func(at float64) float64 {
			if x := math.Mod(at, high+low); x < high {
				return 5 - 10./3*math.Exp(-x/(r1+r2)/farad)
			} else {
				return 10. / 3 * math.Exp(-(x-high)/r2/farad)
			}
		}, "probe the output, or name its channel with --channel out=NAME"},
	} {
		text := "time [s],signal [V]\n"
		if c.logic {
			text = "time [s],state\n"
		}
		for i := range int(max(c.rate/4, 600)) {
			at := float64(i) / c.rate
			volt := c.volt(2e-3+at) + 0.01*math.Sin(float64(7*i))
			if c.logic {
				volt = math.Round(volt / 5)
			}
			text += fmt.Sprintf("%.7f,%.4g\n", at, volt)
		}
		write(t, c.name+".csv", text)
		stdout, stderr, status := run(t, "", "reconcile", "--circuit", "astable", "--family", "cmos", "--part", "R1=10k:1%", "--part", "R2=47k:1%",
			"--part", "C1=100n:10%", "--supply", "5V", "--target", "frequency=133Hz:5%", "--quiet", c.name+".csv")
		if first, _, _ := strings.Cut(stdout, "\n"); status != 4 || !strings.Contains(first, c.want+" (probability") || !strings.Contains(first, "). No verdict") {
			t.Errorf("%s: status %d, want %q in\n%s%s", c.name, status, c.want, stdout, stderr)
		}
	}
}
