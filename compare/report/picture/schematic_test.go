package picture

import (
	"strings"
	"testing"

	"offbeat/compare/schematic"
	"offbeat/fit/wiring"
)

// TestSchematic draws every shipped wiring and boards that no textbook draws.
func TestSchematic(t *testing.T) {
	texts := map[string]string{
		"trimmer, diode and control capacitor": `U1 timer trigger=cap threshold=cap
R1 supply discharge
R2 discharge a
RV1 a cap
C1 cap ground
C2 control ground
D1 discharge cap`,
		"potentiometer between three nodes": `U1 timer trigger=cap threshold=cap
RV1 supply discharge x
R1 x y
R2 discharge cap
R3 y cap
C1 cap ground`,
	}
	for _, s := range wiring.All() {
		if len(s.Shares) == 0 {
			texts[s.Name] = s.Text
		}
	}
	for name, text := range texts {
		w, err := wiring.Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		s := &Schematic{
			Drawing: schematic.Of(w),
			Part: func(n string) PartLabel {
				if n == "C1" {
					return PartLabel{Lines: []string{"100 nF ± 10 %", "about 122.7 nF"}, Suspect: true, Mark: "1", Polar: true}
				}
				return PartLabel{Lines: []string{"10 kΩ ± 1 %"}}
			},
			Node:   func(string) string { return "" },
			Family: "bipolar",
		}
		p := s.Draw("board")
		wellFormed(t, p)
		for _, c := range w.Cards {
			if n := strings.Count(p.SVG, ">"+c.Name+"<"); n != 1 {
				t.Errorf("%s: %s is named %d times", name, c.Name, n)
			}
			if c.Name == "C1" && (!strings.Contains(p.SVG, `class="suspect"`) || !strings.Contains(p.SVG, "board-hatch") || !strings.Contains(p.Prose, "C1 from cap to ground: 100 nF ± 10 %, about 122.7 nF; the part to suspect; reading 1 is taken here")) {
				t.Errorf("%s: C1 is not marked: %s", name, p.Prose)
			}
		}
		for _, pin := range w.Device.Pins {
			if pin.Named && !strings.Contains(p.SVG, ">"+pin.Name+"<") {
				t.Errorf("%s: the pin %s is not named", name, pin.Name)
			}
		}
	}
}
