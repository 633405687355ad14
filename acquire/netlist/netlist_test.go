package netlist

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf16"

	"offbeat/acquire"
)

// The factors are those of the element cards of Berkeley SPICE: M is milli, MEG is mega, letters behind count for nothing.
func TestNumber(t *testing.T) {
	for text, want := range map[string]float64{
		"10k": 1e4, "1M": 1e-3, "1m": 1e-3, "1MEG": 1e6, "1Meg": 1e6, "2megohm": 2e6, "1F": 1e-15, "1000uf": 1000e-6, "100NF": 100e-9,
		"10ohm": 10, "5V": 5, "0.1u": 0.1e-6, ".1u": 0.1e-6, "1e-03": 1e-3, "10µF": 10e-6, "10μF": 10e-6, "1T": 1e12, "3mil": 76.2e-6, "-15": -15, "+5": 5,
		"2.5e3k": 2.5e6, "1a": 1e-18, "4.7K": 4700, "1e3": 1000, "7e": 7,
	} {
		if got, ok := Number(text); !ok || got < want-abs(want)*1e-12 || got > want+abs(want)*1e-12 {
			t.Errorf("%s: %g, %v; want %g", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "k", "{R*2}", "4k7", "DNP", "'x'", "1k2"} {
		if got, ok := Number(text); ok {
			t.Errorf("%q is a number, %g", text, got)
		}
	}
}

func abs(x float64) float64 { return max(x, -x) }

// timer is a deck with the traps that real ones hold: continued cards, comments, old values behind a semicolon, commands.
const timer = `R9 is the title, never a card
* a comment
R1 vcc dis 10k ; 5k
r2 dis cap
+ 47K
C1 cap 0 100NF IC=0
.control
R7 a b 1
.endc
.tran 1u 1
V1 vcc 0 DC 5
XU1 0 cap out vcc ctl cap dis vcc timer PARAMS: A=1
.subckt timer gnd trig out reset ctrl thr dis vcc
R3 thr 0 1
.ends
.end
R8 behind end 1k
`

func TestRead(t *testing.T) {
	d, err := Read("x.cir", strings.NewReader(timer))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, c := range d.Cards {
		names = append(names, c.Name+":"+c.Value)
	}
	if got := strings.Join(names, " "); got != "R1:10k r2:47K C1:100NF V1:DC 5 XU1:timer" {
		t.Error(got)
	}
	if d.Title != "R9 is the title, never a card" || len(d.Blocks) != 1 || len(d.Blocks[0].Nodes) != 8 || len(d.Cards[4].Nodes) != 8 {
		t.Errorf("%+v", d)
	}
	if len(d.Notes) != 2 {
		t.Errorf("notes %q", d.Notes)
	}
}

// TestEncodings reads the same deck in every encoding that is met.
func TestEncodings(t *testing.T) {
	text := strings.Replace(timer, "100NF", "0.1µF", 1)
	var little, latin []byte
	for _, u := range utf16.Encode([]rune("\ufeff" + text)) {
		little = append(little, byte(u), byte(u>>8))
	}
	for _, r := range text {
		latin = append(latin, byte(r))
	}
	for name, b := range map[string]string{"UTF-8": text, "UTF-16": string(little), "Latin-1": string(latin), "CR LF": strings.ReplaceAll(text, "\n", "\r\n"), "CR": strings.ReplaceAll(text, "\n", "\r")} {
		d, err := Read(name, strings.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if v, ok := Number(d.Cards[2].Value); !ok || v != 1e-7 || len(d.Cards) != 5 {
			t.Errorf("%s: C1 %q, %d cards", name, d.Cards[2].Value, len(d.Cards))
		}
	}
}

func TestFaults(t *testing.T) {
	for text, want := range map[string]string{
		"t\nR1 a\n":                        "x.cir:2:1: R1 has 1 nodes; expected 2 nodes",
		"t\nR1 a b 1\nr1 b c 2\n":          "x.cir:3:1: r1 stands twice (first on line 2)",
		"t\n.subckt a\n":                   "x.cir:2:1: .subckt has no nodes",
		"t\n.subckt a b c\nR1 b c 1\n":     "x.cir:2:1: the subcircuit a does not end",
		"t\n* no card\n":                   "x.cir:1:1: the netlist holds no card",
		"t\nXU1 a\n":                       "x.cir:2:1: XU1 has no nodes",
		"t\n" + strings.Repeat("*", 1<<20): "x.cir: this is too large",
	} {
		_, err := Read("x.cir", strings.NewReader(text))
		var e *acquire.Error
		if !errors.As(err, &e) || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%.20q: %v; want %s", text, err, want)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(timer))
	f.Add([]byte("\xff\xfet\x00\n\x00"))
	f.Fuzz(func(t *testing.T, b []byte) {
		d, err := Read("x", strings.NewReader(string(b)))
		if err != nil {
			return
		}
		for _, c := range d.Cards {
			if c.Line < 1 || c.Column < 1 || c.Name == "" {
				t.Errorf("%+v", c)
			}
		}
	})
}
