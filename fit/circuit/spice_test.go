package circuit

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"offbeat/acquire/acquiretest/expect"
	"offbeat/fit"
	"offbeat/fit/fittest"
	"offbeat/fit/wiring"
)

// simulated are the wirings that a general-purpose circuit simulator runs too; R in kilohm, C in nanofarad.
var simulated = []string{
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nRV1 a cap 25\nC1 cap supply 100\nC2 cap ground 22",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nD1 discharge cap",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 4\nR2 discharge a 10\nD1 a cap\nR3 discharge b 22\nD2 cap b\nC1 cap ground 100",
	"U1 timer trigger=cap threshold=cap\nR1 output cap 47\nC1 cap ground 100\nR3 cap supply 470",
	"U1 timer trigger=cap threshold=cap\nR1 supply discharge 10\nR2 discharge a 22\nC2 a ground 10\nR3 a cap 25\nC1 cap ground 100",
	"U1 timer trigger=pin threshold=pin\nR1 supply discharge 10\nR2 discharge cap 47\nC1 cap ground 100\nR3 cap pin 3\nC2 pin ground 1",
	"U1 inverter in=cap\nR1 output cap 47\nC1 cap ground 100\nR2 output a 10\nD1 cap a",
	"U1 inverter in=c\nR1 output a 10\nC2 a ground 47\nR3 a b 25\nC1 b ground 100\nR4 b c 33\nC3 c ground 10",
	"U1 inverter in=cap\nR1 output cap 47\nC1 cap ground 100\nC2 output cap 3\nR2 cap supply 470",
	"U1 comparator plus=ref minus=cap\nR1 output cap 10\nC1 cap ground 100\nR2 output ref 10\nR3 ref ground 10\nR4 ref supply 10",
	"U1 comparator plus=ref minus=cap\nR1 output cap 10\nC1 cap ground 100\nR2 output ref 22\nR3 ref ground 10",
}

// The engine against Debian's package ngspice, which integrates the same boards by the trapezoidal rule: a switch with
// hysteresis makes the astable, a switch and a source a diode with a drop. Its steps bound what it can tell to about 1e-4.
func TestAgainstCircuitSimulator(t *testing.T) {
	program, err := exec.LookPath("ngspice")
	if err != nil {
		t.Skip("no ngspice on this machine (Debian's package ngspice): the check against a circuit simulator is left out")
	}
	for k, text := range simulated {
		var held []string
		if k == len(simulated)-1 {
			held = []string{wiring.Minus}
		}
		d := design(t, text, held...)
		d.Supply.Value = 9
		if held != nil {
			d.Minus = fit.Reading{Value: -9}
		}
		c, v := run(t, d)
		v[OutputDrop], v[OutputLow] = 0.4, 0.2
		v[SwitchVoltage], v[SwitchResistance] = 0.05, 30
		high, low, ok := c.Times(&v)
		if !ok {
			t.Errorf("%q does not run", text)
			continue
		}
		wantHigh, wantLow := simulate(t, program, onBench(c, &v), high+low)
		expect.Near(t, text+" high", high, wantHigh, 5e-4)
		expect.Near(t, text+" low", low, wantLow, 5e-4)
		t.Logf("%2d: %.1e %.1e", k+1, high/wantHigh-1, low/wantLow-1)
	}
}

// simulate runs a board for some cycles of about that period and measures the last.
func simulate(t *testing.T, program string, b *fittest.Board, period float64) (high, low float64) {
	t.Helper()
	var s strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&s, format+"\n", args...) }
	node := func(n string) string {
		if n == "ground" {
			return "0"
		}
		return "n" + n
	}
	p("a board")
	for name, volt := range b.Held {
		if name != "ground" {
			p("V%s %s 0 %.12g", name, node(name), volt)
		}
	}
	for k, r := range b.Resistors {
		p("R%d %s %s %.12g", k, node(r.A), node(r.B), r.Value)
	}
	for k, c := range b.Capacitors {
		p("C%d %s %s %.12g IC=0", k, node(c.A), node(c.B), c.Value)
	}
	for k, d := range b.Diodes {
		p("D%d %s d%d straight", k, node(d.A), k)
		p("VD%d d%d %s %.12g", k, k, node(d.B), d.Value-0.012) // what straight itself drops at 0.1 mA
	}
	p(".model straight D(IS=1e-14 N=0.02)")
	fall, rise := b.FallWhen[0], b.RiseWhen[0]
	minus, middle, half := "0", 0.0, 1e-4
	if fall.Right == "" {
		up, down := fall.RightBy, rise.LeftBy
		middle, half = (up+down)/2, (up-down)/2
	} else {
		minus = node(fall.Right)
	}
	p(".model h SW(VT=%.12g VH=%.12g RON=1e-3 ROFF=1e10)", middle, half)
	p("Vone one 0 1\nRq one q 1k\nSq q 0 %s %s h OFF", node(fall.Left), minus)
	// An output that acts on itself at once would leave the simulator no step short enough: it takes some nanoseconds.
	p("Cq q 0 10p\nBout %s 0 V = %.12g + %.12g * V(q)", node(b.Output), b.Low, b.High-b.Low)
	if b.Switch != "" {
		p(".model g SW(VT=%.12g VH=%.12g RON=%.12g ROFF=1e12)", middle, half, b.Ohm)
		p("Sd %s sat %s %s g OFF\nVsat sat 0 %.12g", node(b.Switch), node(fall.Left), minus, b.Saturation)
	}
	cycles, steps := 3, 8000.0
	if len(b.Capacitors) > 2 {
		cycles = 6 // until they have found their cycle
	}
	if len(b.Diodes) > 0 {
		steps = 10000 // its diodes are steep
	}
	p(".save v(q)")
	p(".options RELTOL=1e-5 ABSTOL=1e-13 VNTOL=1e-8")
	p(".tran %.6g %.6g 0 %.6g UIC", period/1000, float64(cycles+1)*period, period/steps)
	p(".meas tran th TRIG V(q) VAL=0.5 RISE=%d TARG V(q) VAL=0.5 FALL=%d", cycles-1, cycles)
	p(".meas tran tl TRIG V(q) VAL=0.5 FALL=%d TARG V(q) VAL=0.5 RISE=%d", cycles-1, cycles-1)
	p(".meas tran tp TRIG V(q) VAL=0.5 RISE=%d TARG V(q) VAL=0.5 RISE=%d", cycles-2, cycles-1)
	p(".end")
	file := filepath.Join(t.TempDir(), "board.cir")
	if err := os.WriteFile(file, []byte(s.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(program, "-b", file).CombinedOutput()
	read := func(name string) float64 {
		m := regexp.MustCompile(`(?m)^` + name + `\s*=\s*(\S+)`).FindSubmatch(out)
		if m == nil {
			t.Fatalf("ngspice: %v\n%s\n%s", err, s.String(), out)
		}
		x, _ := strconv.ParseFloat(string(m[1]), 64)
		return x
	}
	// A board that powers up low counts its falls one less: whole periods are nothing to the times.
	whole := read("tp")
	high, low = math.Mod(read("th")+whole, whole), math.Mod(read("tl")+whole, whole)
	if math.IsNaN(high + low) {
		t.Fatal("ngspice gave no times")
	}
	return high, low
}
