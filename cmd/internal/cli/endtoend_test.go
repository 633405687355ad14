package cli

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"testing"

	"offbeat/acquire/acquiretest"
	"offbeat/compare"
	"offbeat/fit/fittest"
)

// Every timed circuit from a design in flags and a capture in a file to the cause, the truth timed by integrating
// Kirchhoff's law and written as a sampled analogue export with a preamble and as a logic list of transitions: the
// capacitor has grown by 30 %, which no other value and no slip explains.
func TestEveryCircuitFromFileToCause(t *testing.T) {
	const resistor, second, grown = 10e3, 47e3, 130e-9 * 1.003
	for _, c := range []struct {
		network fittest.Network
		parts   []string
		group   string
	}{
		{fittest.Network{Circuit: "astable", R1: resistor, R2: second, C: grown, Supply: 5}, []string{"R1=10k:1%", "R2=47k:1%", "C1=100n:5%"}, "R2*C1"},
		{fittest.Network{Circuit: "astable-diode", R1: resistor, R2: second, C: grown, Supply: 5}, []string{"R1=10k:1%", "R2=47k:1%", "C1=100n:5%"}, "R2*C1"},
		{fittest.Network{Circuit: "astable-output", R1: second, C: grown, Supply: 5}, []string{"R1=47k:1%", "C1=100n:5%"}, "R1*C1"},
		{fittest.Network{Circuit: "monostable", R1: second, C: grown, Supply: 5}, []string{"R1=47k:1%", "C1=100n:5%"}, "R1*C1"},
		{fittest.Network{Circuit: "schmitt", R1: second, C: grown, Supply: 5}, []string{"R1=47k:1%", "C1=100n:5%"}, "R1*C1"},
	} {
		high, low, err := fittest.Integrate(c.network)
		if err != nil {
			t.Fatal(err)
		}
		if low == 0 {
			low = 2 * high // a monostable's pause is the trigger's affair
		}
		for shape, write := range map[string]func(io.Writer, acquiretest.Signal, acquiretest.Form) error{"samples": acquiretest.TimeVolt, "transitions": acquiretest.Transitions} {
			t.Run(c.network.Circuit+" "+shape, func(t *testing.T) {
				var text bytes.Buffer
				if err := write(&text, acquiretest.Astable(high, low, 12), acquiretest.Form{Bits: 8}); err != nil {
					t.Fatal(err)
				}
				name := filepath.Join(t.TempDir(), "capture.csv")
				if err := os.WriteFile(name, text.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				args := []string{"reconcile", name, "--circuit", c.network.Circuit, "--supply", "5V:1%", "--family", "ideal", "--json"}
				for _, p := range c.parts {
					args = append(args, "--part", p)
				}
				s, out, errs := buffered("")
				if status := Main(args, s); status != Done {
					t.Fatalf("status %d: %s", status, errs)
				}
				var f compare.Finding
				if err := json.Unmarshal(out.Bytes(), &f); err != nil {
					t.Fatal(err)
				}
				top := f.Causes[0]
				if top.Cause != "shifted" && top.Cause != "other value" || len(top.Parts) != 1 || top.Parts[0] != "C1" {
					t.Fatalf("found %+v, want C1", top)
				}
				for _, p := range f.Parts {
					if p.Name == "C1" && !(p.Interval95[0] < grown && grown < p.Interval95[1]) {
						t.Errorf("C1's interval %v misses %v", p.Interval95, grown)
					}
				}
				if f.Groups[0].Group != c.group || f.Captures[0].Cycles == 0 {
					t.Errorf("group %q with %d cycles, want %s", f.Groups[0].Group, f.Captures[0].Cycles, c.group)
				}
			})
		}
	}
}
