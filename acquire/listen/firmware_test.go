package listen

import (
	"fmt"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The firmware examples are compiled with registers that are plain variables, and run on this computer: host.c
// plays the timer, its overflow and its capture. The edges are drawn here.

// firmware compiles an example, or skips the test where there is no C compiler.
func firmware(t *testing.T, name string, flags ...string) string {
	t.Helper()
	gcc, err := exec.LookPath("gcc")
	if err != nil {
		t.Skip("gcc is not installed: the firmware examples are not compiled")
	}
	program := filepath.Join(t.TempDir(), name)
	args := append(flags, "-std=c99", "-O2", "-Wall", "-Wextra", "-Werror", "-pedantic", "-DHOST", "-Ifirmware", "-o", program, "firmware/"+name+".c", "firmware/host/host.c")
	if out, err := exec.Command(gcc, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s does not compile: %v\n%s", name, err, out)
	}
	return program
}

// play runs a program on edges and returns what it prints, its greeting taken off.
func play(t *testing.T, program, edges string) string {
	t.Helper()
	cmd := exec.Command(program)
	cmd.Stdin = strings.NewReader(edges)
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	text, found := strings.CutPrefix(string(out), Banner)
	if !found {
		t.Fatalf("the greeting is %.60q, want %q", out, Banner)
	}
	return text
}

// shift of the examples: 2 ticks a microsecond.
const shift = 1

// TestFirmwareTimes: every edge has its exact time, to the tick with capture and later by the interrupt's delay
// without it; about each end of the 16-bit timer, whichever interrupt runs first, and over the end of the
// 32-bit microseconds.
func TestFirmwareTimes(t *testing.T) {
	for _, c := range []struct {
		name  string
		flags []string
		late  uint64 // share of the delay that enters the time
	}{{"capture", nil, 0}, {"interrupt", []string{"-DPIN_CHANGE"}, 1}} {
		t.Run(c.name, func(t *testing.T) {
			program := firmware(t, c.name, c.flags...)
			rng := rand.New(rand.NewPCG(4, 2))
			var edges, want strings.Builder
			at, level := uint64(0), 0
			for at>>shift < 1<<32+1<<20 {
				switch rng.IntN(3) {
				case 0: // near an end of the timer
					at = (at/65536+1)*65536 + uint64(rng.IntN(60)) - 30
				case 1:
					at += 20_000 + uint64(rng.IntN(60_000))
				default: // long: the test is to reach the end of 32 bits soon
					at += uint64(rng.IntN(30_000_000))
				}
				late, waits := uint64(rng.IntN(2000)), rng.IntN(2)
				if at%65536+late >= 0x8000 {
					waits = 0 // an overflow kept waiting for half the timer's span is beyond what the examples promise
				}
				level = 1 - level
				fmt.Fprintf(&edges, "%d %d %d %d 0\n", at, level, late, waits)
				fmt.Fprintf(&want, "%d,%d\n", uint32((at+c.late*late)>>shift), level)
				at += late
			}
			if got := play(t, program, edges.String()); got != want.String() {
				g, w := strings.Split(got, "\n"), strings.Split(want.String(), "\n")
				for i := range min(len(g), len(w)) {
					if g[i] != w[i] {
						t.Fatalf("line %d of %d: %q, want %q; edges %q", i, len(w), g[i], w[i], strings.Split(edges.String(), "\n")[max(i-1, 0):i+1])
					}
				}
				t.Fatalf("%d lines, want %d", len(g), len(w))
			}
		})
	}
}

// TestFirmwareMissesAloud: where the processor was too busy for an edge, the example says so, and no pulse is
// made across.
func TestFirmwareMissesAloud(t *testing.T) {
	for name, flags := range map[string][]string{"capture": nil, "interrupt": {"-DPIN_CHANGE"}} {
		program := firmware(t, name, flags...)
		// Edges 2000 ticks, 1000 us, apart. The interrupt of the one at 10000 does not run before the next.
		var edges strings.Builder
		for i := range 10 {
			late := 0
			if i == 4 {
				late = -1
			}
			fmt.Fprintf(&edges, "%d %d %d 0 0\n", 2000*(i+1), (i+1)&1, late)
		}
		text := play(t, program, edges.String())
		if !strings.Contains(text, "! edges were missed here\n") {
			t.Errorf("%s says nothing of it:\n%s", name, text)
		}
		h := replay(t, text)
		if h.counts.Lost == 0 {
			t.Errorf("%s: counts %+v", name, h.counts)
		}
		for _, r := range h.rows {
			rows := strings.Fields(r)
			for i := 2; i < len(rows); i++ {
				a, b := strings.Split(rows[i-1], ":"), strings.Split(rows[i], ":")
				if a[1] == "x" || b[1] == "x" || i > 1 && strings.HasSuffix(rows[i-2], "x") {
					continue // the first row of a run is a state, no edge
				}
				if d := atof(t, b[0]) - atof(t, a[0]); d != 1000 {
					t.Errorf("%s: a pulse of %g us, want 1000: %s", name, d, r)
				}
			}
		}
	}
}

// TestFirmwareQueue: of a burst longer than the queue some edges are lost, aloud.
func TestFirmwareQueue(t *testing.T) {
	for name, flags := range map[string][]string{"capture": nil, "interrupt": {"-DPIN_CHANGE"}} {
		var edges strings.Builder
		for i := range 103 {
			busy := 0
			if i < 100 {
				busy = 1
			}
			fmt.Fprintf(&edges, "%d %d 0 0 %d\n", 2000*(i+1), (i+1)&1, busy)
		}
		text := play(t, firmware(t, name, flags...), edges.String())
		// The queue of 64 holds 63; 101 edges come before the main loop has a turn, and the next one says that
		// some are missing.
		lines := strings.Split(text, "\n")
		if len(lines) != 63+1+2+1 || lines[62] != "63000,1" || lines[63] != "! edges were missed here" || lines[64] != "102000,0" {
			t.Errorf("%s:\n%s", name, text)
		}
	}
}
