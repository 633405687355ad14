package comparetest

import (
	"slices"

	"offbeat/fit"
)

// The causes, by the names of the JSON schema; "shifted" with two parts is two_shifted.
const (
	Nothing     = "nothing"
	Shifted     = "shifted"
	OtherValue  = "other value"
	Exchanged   = "exchanged"
	Missing     = "missing"
	Bridged     = "bridged"
	Reversed    = "reversed"
	Undrawn     = "diode"
	Leakage     = "leakage"
	Aged        = "aged"
	Contact     = "contact"
	Stray       = "stray"
	Thresholds  = "thresholds"
	Aside       = "reference"
	Discharge   = "discharge"
	Slow        = "slow"
	Output      = "output"
	Current     = "current"
	Resistors   = "resistors"
	Clock       = "clock"
	WrongSignal = "wrong signal"
	Unexplained = "unexplained"
)

// Keys are the causes' keys in a design's [odds], but for two parts shifted.
var Keys = map[string]string{Shifted: "shifted", OtherValue: "other_value", Exchanged: "exchanged", Missing: "missing", Bridged: "bridged",
	Reversed: "reversed", Undrawn: "diode", Leakage: "leakage", Aged: "aged", Contact: "contact", Stray: "stray", Thresholds: "thresholds", Aside: "reference", Discharge: "discharge",
	Slow: "slow", Output: "output", Current: "current", Resistors: "resistors", Clock: "clock", WrongSignal: "wrong_signal", Unexplained: "unexplained", twoShifted: "two_shifted"}

const twoShifted = "two shifted"

// odds are the defaults against nothing = 1, of a new and of a worked board, as `offbeat explain odds` states them: of a class
// of part, or of any other.
var odds = map[string]map[string][2]float64{
	Shifted: {"": {0.02, 0.05}, "film": {0.03, 0.08}, "c0g": {0.02, 0.05}, "ceramic": {0.10, 0.25}, "electrolytic": {0.20, 0.60},
		"tantalum": {0.03, 0.08}},
	OtherValue:  {"": {0.05, 0.002}},
	Exchanged:   {"": {0.02, 0.001}}, // of each part: a pair of n of a kind has 1/(n-1) of it
	Missing:     {"": {0.005, 0.01}, "diode": {0.02, 0.005}},
	Bridged:     {"": {0.005, 0.003}, "diode": {0.005, 0.005}},
	Reversed:    {"": {0.02, 0.0005}},
	Undrawn:     {"": {0.005, 0.002}}, // either way round half
	Leakage:     {"": {0.01, 0.03}, "electrolytic": {0.05, 0.20}, "tantalum": {0.05, 0.15}},
	Aged:        {"": {0.0005, 0.002}, "electrolytic": {0.03, 0.20}, "tantalum": {0.01, 0.04}},
	Contact:     {"": {0.005, 0.01}, "electrolytic": {0.005, 0.03}},
	Stray:       {"": {0.01, 0.005}},
	Thresholds:  {"": {0.02, 0.10}},
	Aside:       {"": {0.02, 0.10}},
	Discharge:   {"": {0.01, 0.04}},
	Slow:        {"": {0.005, 0.02}},
	Output:      {"": {0.01, 0.04}, "transistors": {0.05, 0.08}},
	Current:     {"": {0.005, 0.015}},
	Resistors:   {"": {0.003, 0.008}},
	Clock:       {"": {0.005, 0.005}},
	WrongSignal: {"": {0.03, 0.03}},
	Unexplained: {"": {0.03, 0.18}},
}

// misread are the odds of a reading that is wrong.
const misread = 0.01

// readOpen is the share of a part's opens, shorts and turns that a reading of the part leaves: those of its joints.
const readOpen = 0.1

// odds of a cause that names these parts.
func (p *Problem) odds(cause string, parts []string) float64 {
	d := &p.Design
	if cause == Nothing {
		return 1
	}
	key := Keys[cause]
	if cause == Shifted && len(parts) == 2 {
		key = Keys[twoShifted]
	}
	if len(parts) == 1 {
		if x, ok := d.Odds[key+"."+parts[0]]; ok {
			return x
		}
	}
	if x, ok := d.Odds[key]; ok {
		return x
	}
	class := ""
	if len(parts) == 1 {
		class = classOf(d, parts[0])
	}
	if cause == Output && p.Drawing.text() == "" {
		class = "transistors"
	}
	if len(parts) == 2 && cause == Shifted {
		return 2 * p.odds(Shifted, parts[:1]) * p.odds(Shifted, parts[1:])
	}
	row, ok := odds[cause][class]
	if !ok {
		row = odds[cause][""]
	}
	x := row[0]
	if d.History == fit.Worked {
		x = row[1]
	}
	if cause == Exchanged {
		n := 0
		for _, q := range d.Parts {
			if q.Kind == d.Part(parts[0]).Kind && !slices.Contains(p.Drawing.Idle, q.Name) {
				n++
			}
		}
		x /= float64(n - 1)
	}
	return x
}

// classOf is the class of part that the odds go by.
func classOf(d *fit.Design, name string) string {
	switch p := d.Part(name); {
	case p == nil:
		return "diode"
	case p.Kind == fit.Resistor:
		return ""
	case p.Class == "":
		return "film"
	default:
		return p.Class
	}
}
