package circuit

import (
	"math"
	"slices"
	"sync"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

// known is what a shipped wiring says beyond its cards.
type known struct {
	groups []Group
	first  []int // slots of the parts that the groups are solved for
	ratio  *Ratio
}

// The groups that two resistors and a capacitor, or one of each, show.
var (
	twoResistors = []Group{
		{Name: "R2*C1", Unit: "s", Of: func(v *Values) float64 { return v[1] * v[2] }},
		{Name: "R1/R2", Unit: "1", Of: func(v *Values) float64 { return v[0] / v[1] }},
	}
	oneResistor = []Group{{Name: "R1*C1", Unit: "s", Of: func(v *Values) float64 { return v[0] * v[1] }}}
)

// shipped says what the documentation has always called the groups of the shipped wirings, and what their times cannot be.
var shipped = map[string]known{
	"astable": {twoResistors, []int{0, 1}, &Ratio{1, math.Inf(1),
		"the high time is no longer than the low time, which two resistors cannot make (both charge, one discharges): a diode lies across R2 (circuit astable-diode)"}},
	"astable-diode": {twoResistors, []int{0, 1}, nil},
	"astable-output": {oneResistor, []int{0}, &Ratio{0.5, 2,
		"high and low time differ by more than twofold, which one resistor for both cannot make: the design has another circuit, the output is loaded"}},
	"monostable": {oneResistor, []int{0}, nil},
	"schmitt":    {oneResistor, []int{0}, nil},
	"comparator": {[]Group{
		{Name: "R1*C1*ln(1+2*R3/R2)", Unit: "s", Of: func(v *Values) float64 { return v[0] * v[1] * math.Log1p(2*v[3]/v[2]) }},
	}, []int{0}, &Ratio{0.5, 2,
		"high and low time differ by more than twofold, which one resistor for both cannot make: the divider's other end is not at mid-supply"}},
}

// entry is a circuit that is compiled when it is asked for.
type entry struct {
	name string
	of   func() (*Circuit, error)
}

// makeRegistry lists the shipped wirings that keep time, the multivibrator ahead of the last, as they are documented.
// One that does not compile is not there, which a test rules out.
func makeRegistry() []entry {
	var out []entry
	for _, s := range wiring.All() {
		w, err := s.Wiring()
		if err != nil || w.Runs == wiring.Bistable {
			continue
		}
		out = append(out, entry{s.Name, sync.OnceValues(func() (*Circuit, error) {
			c, err := wired(w, &fit.Design{Supply: fit.Reading{Value: 5}, Parts: usualParts(w)}, s.Shares)
			if err == nil {
				k := shipped[s.Name]
				c.Name, c.Title, c.Ratio = s.Name, s.Title, k.ratio
				c.Groups = func() ([]Group, []int) { return k.groups, k.first }
			}
			return c, err
		})})
	}
	return slices.Insert(out, max(len(out)-1, 0), entry{multivibrator.Name, func() (*Circuit, error) { return &multivibrator, nil }})
}

// usualParts are values about which a wiring without a design is compiled.
func usualParts(w *wiring.Wiring) []fit.Part {
	var out []fit.Part
	for _, c := range w.Cards {
		switch c.Kind {
		case wiring.Capacitor:
			out = append(out, fit.Part{Name: c.Name, Kind: fit.Capacitor, Nominal: 100e-9})
		case wiring.Resistor, wiring.Potentiometer:
			out = append(out, fit.Part{Name: c.Name, Nominal: 10e3})
		}
	}
	return out
}
