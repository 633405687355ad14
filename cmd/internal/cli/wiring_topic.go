package cli

import (
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/compare/schematic"
	"offbeat/fit/wiring"
)

// wiringCommand is the topic of how a board's wiring is written, with a page for each wiring that the program brings along.
func wiringCommand() *cobra.Command {
	var list strings.Builder
	for _, s := range wiring.All() {
		list.WriteString("    " + s.Name + strings.Repeat(" ", max(1, 16-len(s.Name))) + s.Title + "\n")
	}
	c := topic{"wiring", "How a board is written as it is wired", strings.Replace(wiringTopic, "WIRINGS", strings.TrimRight(list.String(), "\n"), 1)}.command()
	for _, s := range wiring.All() {
		page, err := wiringPage(s)
		if err != nil {
			page = err.Error() // a test reads every shipped wiring
		}
		c.AddCommand(topic{s.Name, s.Title, page}.command())
	}
	c.AddCommand(topic{"multivibrator", "two-transistor multivibrator, which keeps a law of its own", multivibratorPage + drawn(schematic.Named("multivibrator"))}.command())
	return c
}

const multivibratorPage = `Two-transistor multivibrator. As a design file says it:

    circuit = "multivibrator"

R1 and C1 set the high time of the output, R2 and C2 the low time; the output is the collector of Q1. The box holds both
transistors and the resistors of their collectors.

It keeps a law of its own, so there are no cards to change, for two reasons. A wiring has one device, which compares a
voltage with a threshold; here two transistors take turns. And what ends a half-cycle is the junction at a base, which takes
current once it conducts, while a threshold takes none. So each base starts at its on voltage less the swing of the other
collector, or where its junction breaks down, and runs through its resistor toward the supply until it turns its transistor
on. Each collector counts as back at the supply by then.

Its nodes are base1 (R1, C1), base2 (R2, C2), collector2 (C1) and output (the collector of Q1, C2). A part may hang on a base:
--with "base1 || 10M" is a probe there, --with "base1 || 12p" its capacitance. The collectors are held at one level or the
other, so that a probe on them changes nothing. No node but the supply stands still for a meter's reading.
`

// drawn is a small drawing of a board with its signs explained.
func drawn(d *schematic.Drawing) string {
	return "\nThe board (▯ a resistor, ═ a capacitor, ▽ a diode; ┬ ┼ ┴ join, │ passes by):\n\n" + indented(d.Text())
}

// wiringPage prints a shipped wiring to copy and change, with a small drawing of it.
func wiringPage(s wiring.Shipped) (string, error) {
	w, err := s.Wiring()
	if err != nil {
		return "", err
	}
	text := strings.ToUpper(s.Title[:1]) + s.Title[1:] + ".\n\nAs a design file says it:\n\n    wiring = \"\"\"\n" + indented(s.Text) + "    \"\"\"\n"
	if len(s.Shares) > 0 {
		text += "    [nodes]\n"
		for n, share := range s.Shares {
			text += "    " + n + " = \"" + strconv.Itoa(int(100*share)) + " %" + "\"            # of the supply\n"
		}
	}
	return text + drawn(schematic.Of(w)), nil
}

func indented(text string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		b.WriteString("    " + line)
	}
	return b.String()
}

const wiringTopic = `A board that no circuit of the list fits is written as it is wired: one card a line, each part's name and the nodes that it
is tied to. In a design file it stands in place of circuit:

    title  = "Breakwater lamp"
    supply = "5 V ± 2 %"
    wiring = """
    U1  timer  trigger=cap threshold=cap
    R1  supply discharge
    R2  discharge a
    RV1 a cap                      # two nodes: a variable resistor; three: end, wiper, end
    C1  cap ground
    D1  discharge cap              # anode, cathode
    """
    [parts]
    R1  = "10k ± 1 %"
    R2  = "22k ± 1 %"
    RV1 = { value = "47k ± 20 %", position = "40 % ± 5 %" }
    C1  = "100n ± 10 %"
    D1  = { kind = "silicon" }     # silicon, schottky, led, ideal; or drop = "0.62 V ± 5 %"

A name begins with what the part is: R resistor, RV potentiometer, C capacitor, D diode, U the device. A value may stand
on the card too, after the nodes: R1 supply discharge 10k ± 1 %.

Nodes have names of your own; 0 is ground. These are held at a voltage: ground, supply, minus (with minus = "-15 V ± 2 %"
beside supply), and those that you list:

    [nodes]
    ref = "2.5 V ± 1 %"            # against ground; or a share of the supply: "50 %"

One device, its pins as pin=node; a pin that is not named is a node of its own name (R1 supply discharge):

    timer        trigger threshold discharge control output reset
    inverter     in output (with hysteresis)
    comparator   plus minus output; plus and minus must be named. For an op-amp: [timer] family = "opamp"

    [timer]
    output_high = "14.1 V ± 1 %"   # the output's levels against ground, where they are known
    output_low  = "-13.0 V ± 1 %"

Where they are not stated and the output is captured as a waveform in volts, its own two levels count, as good as the channel
(--channel-scale, --channel-zero).

The smallest change from a shipped wiring: print it, copy it, change one card. offbeat help wiring astable prints

    R2  discharge cap

and a trimmer in series with R2 is

    R2  discharge a
    RV1 a cap

A netlist file (.cir, .net, .sp) as a schematic editor writes it is read where a design is: cards R, C, D, V and X. There
M is milli and MEG mega. A V card of constant value holds its node: the highest is the supply. The device is the X card;
its pins are told by the node names of its .subckt, or by a remark above that, else taken in the order in which the
netlist is a board, which is said as a guess. Netlists hold no tolerances: --tolerance R=1% --tolerance C=10%.

The wirings that are there to copy:

WIRINGS

The two-transistor multivibrator has two devices and keeps a law of its own: offbeat help wiring multivibrator.`
