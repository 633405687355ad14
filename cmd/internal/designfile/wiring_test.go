package designfile

import (
	"slices"
	"strconv"
	"strings"
	"testing"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

// wired is a board that no textbook draws; each row below changes it in one place.
const wired = `title  = "Breakwater lamp"
supply = "12 V ± 2 %"
minus  = "-12 V ± 2 %"
wiring = """
U1  comparator  plus=ref minus=cap
R1  output cap 47k ± 1 %
RV1 output mid ref
R2  mid ground
R3  ref tap
C1  cap ground
D1  output cap
D2  cap output
"""
[nodes]
tap = "-2.5 V ± 1 %"
[parts]
RV1 = { value = "22k ± 20 %", position = "40 % ± 5 %" }
R2  = "10k"
R3  = "33k ± 1 %"
C1  = { value = "100n", kind = "film" }
D1  = { drop = "0.62 V ± 5 %" }
D2  = { kind = "schottky" }
[timer]
family      = "opamp"
output_high = "11.1 V ± 1 %"
output_low  = "-10.8 V ± 1 %"
`

func fromText(name, text string, f Flags) (*fit.Design, error) {
	d, _, err := ReadFrom(name, strings.NewReader(text), f)
	return d, err
}

func TestWiredDesign(t *testing.T) {
	d, err := fromText("lamp.toml", wired, Flags{Tolerances: []string{"R=2%"}})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, p := range d.Parts {
		names = append(names, p.Name)
	}
	if !slices.Equal(names, []string{"R1", "RV1", "R2", "R3", "C1"}) {
		t.Errorf("parts %v", names)
	}
	if d.Minus.Value != -12 || d.OutputHigh.Value != 11.1 || d.OutputLow.Value != -10.8 || d.Family != fit.OpAmp || d.Wiring.Runs != wiring.Astable {
		t.Errorf("%+v", d)
	}
	if n := d.Nodes; len(n) != 1 || n[0].Name != "tap" || n[0].Value != -2.5 || n[0].Ratio || n[0].Half < 0.0249 || n[0].Half > 0.0251 {
		t.Errorf("nodes %+v", n)
	}
	if r := d.Part("R1"); r.Nominal != 47e3 || r.Plus != 0.01 {
		t.Errorf("R1 %+v", r)
	}
	if r := d.Part("R2"); r.Plus != 0.02 {
		t.Errorf("R2 %+v: want the tolerance that was typed", r)
	}
	if v := d.Part("RV1"); v.Nominal != 22e3 || v.Track.Value != 0 || v.Position.Value != 0.4 {
		t.Errorf("RV1 %+v", v)
	}
	if x := d.Diodes; len(x) != 2 || x[0].Drop.Value != 0.62 || x[1].Kind != fit.Schottky {
		t.Errorf("diodes %+v", x)
	}
	if d, err = fromText("lamp.toml", strings.Replace(wired, `"-2.5 V ± 1 %"`, `"25 % ± 1 %"`, 1), Flags{}); err != nil || !d.Nodes[0].Ratio || d.Nodes[0].Value != 0.25 {
		t.Errorf("a node at a share of the supply: %v, %+v", err, d)
	}
}

// TestWiringFaults wants the file's own line and column of every fault, and what would be right.
func TestWiringFaults(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"unknown pin", "plus=ref", "pluss=ref", `lamp.toml:5:17: the comparator has no pin "pluss"; expected one of the pins plus, minus, output`},
		{"two devices", "R2  mid ground", "U2 timer", `lamp.toml:8:1: a second device, U2 beside U1; expected one device`},
		{"no device", "U1  comparator  plus=ref minus=cap\n", "", `the wiring has no device`},
		{"a node with one end", "R2  mid ground", "R2  mit ground", `lamp.toml:7:12: nothing but one end of RV1 is on the node mid`},
		{"a card without nodes", "R2  mid ground", "R2", `lamp.toml:8:3: R2 is a resistor and needs two nodes`},
		{"a value twice", `R2  = "10k"`, "R2 = \"10k\"\nR1 = \"47k\"", `R1 has its value twice, here and on its card`},
		{"no value", `R2  = "10k"` + "\n", "", `lamp.toml:8:1: the wiring needs R2`},
		{"a bad value on the card", "47k ± 1 %", "47x ± 1 %", `lamp.toml:6:`},
		{"a value without a card", `R2  = "10k"`, "R2 = \"10k\"\nR7 = \"10k\"", `the wiring has no part "R7"`},
		{"no such node", "tap = ", "tab = ", `lamp.toml:9:9: nothing but one end of R3 is on the node tap`},
		{"a node that nothing is on", "[nodes]\n", "[nodes]\nother = \"1 V\"\n", `nothing is tied to the node "other"`},
		{"minus above ground", `"-12 V ± 2 %"`, `"12 V"`, `minus is not below ground`},
		{"no minus", `minus  = "-12 V ± 2 %"` + "\n", "", ``},
		{"minus as a node", "R2  mid ground", "R2  mid minus", ``},
		{"a circuit too", "title  =", "circuit = \"astable\"\ntitle =", `the design has both a circuit and a wiring`},
		{"a drop on a resistor", `R2  = "10k"`, `R2 = { value = "10k", drop = "1 V" }`, `unknown key "drop"`},
		{"a tolerance on a diode", `D1  = { drop = "0.62 V ± 5 %" }`, `D1 = { tolerance = "5 %" }`, `unknown key "tolerance"`},
		{"a diode of no kind", `kind = "schottky"`, `kind = "zener"`, `unknown parts.D2.kind "zener"; expected one of silicon, schottky, led, ideal`},
		{"a position beyond the end", "40 % ± 5 %", "98 % ± 5 %", `reaches beyond the end of the track`},
		{"a family of another device", `"opamp"`, `"bipolar"`, `unknown timer.family "bipolar"; expected one of cmos, opamp, ideal`},
		{"no capacitor", "C1  cap ground", "R9  cap ground 10k", `no capacitor`},
		{"wiring is no text", `title  = "Breakwater lamp"`, `title = 3`, `title is no text`},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(wired, c.old, c.new, 1)
			if text == wired {
				t.Fatal("the row changes nothing")
			}
			_, err := fromText("lamp.toml", text, Flags{})
			switch {
			case c.want == "" && err != nil:
				t.Error(err)
			case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
				t.Errorf("got  %v\nwant %s", err, c.want)
			}
		})
	}
}

// deck is an astable as a schematic editor writes it.
const deck = `* Breakwater lamp
R1 Vcc dis 10k ; 5k
R2 dis net1 47K
C1 net1 0 100NF IC=0
V1 VCC 0 DC 12
XU1 0 net1 out vcc ctl net1 dis vcc timer
C2 ctl 0 10n
Q1 lamp out 0 npn
.tran 1u 1
.end
`

func TestNetlist(t *testing.T) {
	d, err := fromText("lamp.cir", deck, Flags{Tolerances: []string{"C=10%"}})
	if err != nil {
		t.Fatal(err)
	}
	if d.Title != "Breakwater lamp" || d.Supply.Value != 12 || d.Part("R2").Nominal != 47e3 || d.Part("C1").Nominal != 100e-9 || d.Part("C1").Plus != 0.1 || d.Part("R1").Plus != 0.05 {
		t.Errorf("%+v", d)
	}
	w := d.Wiring
	if w.Device.Name != "U1" || w.Device.Kind != wiring.Timer || w.Device.Node(wiring.PinThreshold) != "net1" || w.Device.Node(wiring.PinDischarge) != "dis" || w.Device.Node(wiring.PinReset) != wiring.Supply {
		t.Errorf("device %+v", w.Device)
	}
	notes := strings.Join(d.Notes, "\n")
	for _, want := range []string{"a guess", "Q1 left out", ".tran left out", "R1: no tolerance given, taken as ± 5 % (a guess"} {
		if !strings.Contains(notes, want) {
			t.Errorf("no note says %q:\n%s", want, notes)
		}
	}
	const head = ".subckt timer vcc trig out reset ctrl thr dis gnd\n.ends\n"
	other := strings.Replace(strings.Replace(deck, "XU1 0 net1 out vcc ctl net1 dis vcc timer", "XU1 vcc net1 out vcc ctl net1 dis 0 timer", 1), ".tran", head+".tran", 1)
	if d, err = fromText("lamp.cir", other, Flags{}); err != nil || d.Wiring.Device.Node(wiring.PinDischarge) != "dis" || d.Wiring.Device.Node(wiring.PinThreshold) != "net1" {
		t.Errorf("a subcircuit's head does not set the pins: %v", err)
	}
}

// The pins are found in whatever order the card has them: told by the subcircuit's node names or the remark above it, else
// by the only order in use in which the netlist is a board; nets with names of pins that are elsewhere do no harm.
func TestNetlistPinOrders(t *testing.T) {
	nodes := map[string]string{wiring.PinGround: "0", wiring.PinTrigger: "net1", wiring.PinOutput: "out", wiring.PinReset: "vcc", wiring.PinControl: "ctl",
		wiring.PinThreshold: "net1", wiring.PinDischarge: "dis", wiring.PinSupply: "vcc"}
	check := func(name, text, guess string) {
		t.Helper()
		d, err := fromText("lamp.cir", text, Flags{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return
		}
		for pin, node := range map[string]string{wiring.PinThreshold: "net1", wiring.PinTrigger: "net1", wiring.PinDischarge: "dis", wiring.PinControl: "ctl"} {
			if got := d.Wiring.Device.Node(pin); got != node {
				t.Errorf("%s: the pin %s is on %s", name, pin, got)
			}
		}
		if strings.Contains(strings.Join(d.Notes, "\n"), "(a guess)\n") != (guess != "") {
			t.Errorf("%s: notes %q", name, d.Notes)
		}
	}
	swap := func(card string) string {
		return strings.Replace(deck, "XU1 0 net1 out vcc ctl net1 dis vcc timer", card, 1)
	}
	timers := 0
	for _, o := range orders {
		if o.kind != wiring.Timer {
			continue
		}
		timers++
		var at, numbers []string
		for i, pin := range o.pins {
			at, numbers = append(at, nodes[pin]), append(numbers, strconv.Itoa(30-i))
		}
		card := swap("XU1 " + strings.Join(at, " ") + " timer")
		check("guessed "+o.pins[0], card, "a guess")
		if len(o.pins) == 8 {
			head := "* " + strings.ToUpper(strings.Join(o.pins, ", ")) + "\n.subckt timer " + strings.Join(numbers, " ") + "\nr1 30 29 1\n.ends\n"
			check("remarked "+o.pins[0], strings.Replace(card, ".tran", head+".tran", 1), "")
			check("numbered "+o.pins[0], strings.Replace(card, ".tran", head[strings.Index(head, ".subckt"):]+".tran", 1), "a guess")
		}
	}
	if timers < 7 {
		t.Errorf("only %d orders", timers)
	}
	check("nets called as pins", strings.ReplaceAll(deck, "lamp", "discharge")+"R7 discharge threshold 1k\nR8 threshold 0 1k\n", "a guess")
	check("an order that nothing tells", swap("XU1 0 net1 out vcc ctl net1 dis vcc NE555"), "a guess")
}

// What has no bearing is read over: a value with its letter, an ammeter, a source that only triggers or drives a stub.
func TestNetlistWithSources(t *testing.T) {
	for name, change := range map[string][2]string{
		"a letter":   {"47K", "R=47K"},
		"an ammeter": {"C1 net1 0 100NF", "V3 sense 0 0\nC1 net1 sense 100NF"},
		"a stub":     {"C2 ctl", "V2 x 0 PULSE(0 5 1u)\nR7 x y 1k\nR8 y 0 1k\nC2 ctl"},
	} {
		d, err := fromText("lamp.cir", strings.Replace(deck, change[0], change[1], 1), Flags{})
		if err != nil || d.Part("R2").Nominal != 47e3 || d.Wiring.Idle(d.Wiring.Card("C1")) {
			t.Errorf("%s: %v", name, err)
		}
	}
	text := "Bell\nV1 vcc 0 5\nR1 vcc cap 10k\nC1 cap 0 1u\nXU1 0 trig out vcc ctl cap cap vcc t\nV2 in 0 PULSE(5 0 1m)\nC3 in trig 1n\nR3 vcc trig 10k\n"
	d, err := fromText("bell.cir", text, Flags{})
	if err != nil || d.Wiring.Runs != wiring.Monostable || !d.Wiring.Idle(d.Wiring.Card("C3")) {
		t.Errorf("a triggered pulse: %v", err)
	}
}

// TestNetlistFaults: a name never fixes the pins, and 1M is a thousandth of an ohm.
func TestNetlistFaults(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"a milliohm", "47K", "1M", `lamp.cir:3:13: R2 is 1M, that is 0.001 Ω: in a netlist M is milli; expected a resistance of 0.1 Ω or more; write MEG for a million`},
		{"no value", "47K", "", `lamp.cir:3:1: R2 has no value ("")`},
		{"a timing resistor that is not fitted", "47K", "DNP", `lamp.cir:4:4: from the node net1 direct current has no way to a node that is held at a voltage`},
		{"a loose end", "C2 ctl 0 10n", "C2 ctl 0 10n\nR5 net1 x 1k", `lamp.cir:8:9: nothing but one end of R5 is on the node x`},
		{"no capacitor", "C1 net1 0 100NF", "R3 net1 0 100k", `lamp.cir:6:1: no part leads from a capacitor to what is compared`},
		{"no device", "XU1 0 net1 out vcc ctl net1 dis vcc timer", "U1 __U1", `lamp.cir:6:1: the netlist has no device: U1 has neither model nor nodes`},
		{"an expression", "47K", "{R}", `R2 has no value ("{R}")`},
		{"six nodes", "XU1 0 net1 out", "XU1 net1", `lamp.cir:6:31: XU1 has 6 nodes and the netlist does not say which pins they are`},
		{"a subcircuit of other nodes", ".tran", ".subckt timer a b\n.ends\n.tran", `lamp.cir:6:37: XU1 has 8 nodes, its subcircuit 2`},
		{"two devices", "C2 ctl", "XU2 a b timer\nC2 ctl", `a second device, XU2 beside XU1`},
		{"no supply", "V1 VCC 0 DC 12", "V1 VCC 0 PULSE(0 5 1u)", `lamp.cir:5:1: V1 ("PULSE 0 5 1u") holds no constant voltage above ground`},
		{"no source", "V1 VCC 0 DC 12", "", `lamp.cir:6:1: the netlist has no constant source above ground, so no supply`},
		{"a transistor on the timing node", "Q1 lamp out 0", "Q1 lamp net1 0", `Q1 is on the node net1, which sets the times`},
		{"a modulated control pin", "C2 ctl", "V2 ctl 0 SIN(3 1 10)\nC2 ctl", `lamp.cir:7:1: V2 is no constant source, and its node sets the times`},
		{"farads", "100NF", "100", `C1 is 100, that is 100 F: in a netlist a number alone is in farad`},
		{"a letter for a point", "47K", "4k7", `R2 has no value ("4k7"); expected a number such as 4.7k or 100n; a letter is no decimal point`},
		{"a source between two nodes", "V1 VCC 0", "V1 VCC out", `V1 stands between two nodes`},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(deck, c.old, c.new, 1)
			if text == deck {
				t.Fatal("the row changes nothing")
			}
			if _, err := fromText("lamp.cir", text, Flags{}); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got  %v\nwant %s", err, c.want)
			}
		})
	}
	if _, err := fromText("lamp.cir", deck, Flags{Tolerances: []string{"L=1%"}}); err == nil || !strings.Contains(err.Error(), "R=1% or C=10%") {
		t.Error(err)
	}
}
