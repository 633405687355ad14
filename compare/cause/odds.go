package cause

import (
	"strings"

	"offbeat/fit"
)

// Row is one default prior odds against nothing = 1.
type Row struct {
	Key    string  // as in [odds]
	Class  string  // part class it holds for; "" any
	New    float64 // for a fresh build
	Worked float64 // for a board that used to be right
	Why    string
}

// Defaults are the odds where the design's [odds] is silent. The order of the classes follows
// MIL-HDBK-217F appendix A (electrolytic far above potentiometer, those above film and ceramic capacitors,
// those above fixed resistors); the numbers themselves are common practice, not measurements.
var Defaults = []Row{
	{"shifted", "resistor", 0.02, 0.05, "a fixed resistor is the last to move"},
	{"shifted", "film", 0.05, 0.15, "film capacitors keep their value but are bought at 5 … 20 %"},
	{"shifted", "c0g", 0.03, 0.08, "class 1 ceramic does not age"},
	{"shifted", "ceramic", 0.10, 0.25, "class 2 ceramic falls with age, voltage and heat"},
	{"shifted", "electrolytic", 0.20, 0.60, "electrolytics dry out"},
	{"shifted", "tantalum", 0.10, 0.25, "between ceramic and aluminium"},
	{"two_shifted", "", 0.002, 0.010, "two faults at once are rare; age makes them less so"},
	{"other_value", "", 0.05, 0.002, "a wrong value is a builder's slip: a board that was right has none unless repaired"},
	{"exchanged", "", 0.02, 0.001, "likewise"},
	{"leakage", "", 0.01, 0.03, "film and ceramic capacitors seldom leak; flux and damp do"},
	{"leakage", "electrolytic", 0.05, 0.20, "shorts and leaks are half of an electrolytic's failures (MIL-HDBK-338B modes, from memory)"},
	{"leakage", "tantalum", 0.05, 0.15, "likewise"},
	{"thresholds", "", 0.02, 0.02, "something on the control pin, or a worn timer"},
	{"discharge", "", 0.01, 0.02, "a discharge switch that no longer pulls to ground"},
	{"clock", "", 0.005, 0.005, "the instrument's time base is the least likely"},
	{"unexplained", "", 0.01, 0.01, "what is not on this list"},
}

// Odds answers with the design's own odds, else the defaults.
type Odds struct {
	own     map[string]float64
	worked  bool
	classes map[string]string // of each part
}

// NewOdds reads a design's [odds], history and part classes.
func NewOdds(d *fit.Design) *Odds {
	o := &Odds{own: d.Odds, worked: d.History == fit.Worked, classes: map[string]string{}}
	for _, p := range d.Parts {
		o.classes[p.Name] = class(p)
	}
	return o
}

// Classes lists the capacitor classes that a design file may name as "kind", with the class of Defaults each
// belongs to; a resistor is a resistor whatever its kind.
var Classes = map[string]string{
	"film": "film", "polypropylene": "film", "polyester": "film", "polystyrene": "film", "mica": "c0g",
	"c0g": "c0g", "np0": "c0g",
	"ceramic": "ceramic", "x7r": "ceramic", "x5r": "ceramic", "y5v": "ceramic", "z5u": "ceramic",
	"electrolytic": "electrolytic", "aluminium": "electrolytic", "tantalum": "tantalum",
}

// class is a part's class in Defaults: its own, or the usual one of its kind.
func class(p fit.Part) string {
	if p.Kind == fit.Resistor {
		return "resistor"
	}
	if c, ok := Classes[strings.ToLower(p.Class)]; ok {
		return c
	}
	return "film"
}

// Of gives the odds of a cause for the parts it names: the design's "key.part", else its "key", else the
// default of the part's class, else the default of any class.
func (o *Odds) Of(key string, parts []string) float64 {
	if key == "nothing" {
		return 1
	}
	if len(parts) == 1 {
		if x, ok := o.own[key+"."+parts[0]]; ok {
			return x
		}
	}
	if x, ok := o.own[key]; ok {
		return x
	}
	c := ""
	if len(parts) == 1 {
		c = o.classes[parts[0]]
	}
	any := 0.0
	for _, r := range Defaults {
		x := r.New
		if o.worked {
			x = r.Worked
		}
		switch {
		case r.Key != key:
		case r.Class == c && c != "":
			return x
		case r.Class == "":
			any = x
		}
	}
	return any
}
