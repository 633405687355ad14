package cause

import (
	"strings"

	"offbeat/fit"
)

// Row is one default prior odds against nothing = 1.
type Row struct {
	Class  string  // part class it holds for; "" any
	New    float64 // for a fresh build
	Worked float64 // for a board that used to be right
	Why    string
}

// Default is a row of a cause's with its key in [odds].
type Default struct {
	Key string
	Row
}

// Defaults are the odds where the design's [odds] is silent, in the order of the registry. The order of the part classes
// follows MIL-HDBK-217F appendix A (electrolytic far above potentiometer, those above film and ceramic capacitors,
// those above fixed resistors); the numbers themselves are common practice, not measurements.
func Defaults() []Default {
	var all []Default
	for _, c := range registry {
		for _, r := range c.Odds {
			if c.Name != Nothing {
				all = append(all, Default{c.Key, r})
			}
		}
	}
	return all
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

// of gives the odds of a cause for the parts it names, and whether the design states them: its "key.part", else its
// "key", else the default of the part's class, else the default of any class.
func (o *Odds) of(c *Cause, parts []string) (odds float64, stated bool) {
	class := ""
	if len(parts) == 1 {
		if x, ok := o.own[c.Key+"."+parts[0]]; ok {
			return x, true
		}
		class = o.classes[parts[0]]
	}
	if x, ok := o.own[c.Key]; ok && c.Name != Nothing {
		return x, true
	}
	return o.row(c.Odds, class), false
}

// row is the default odds of a class of part.
func (o *Odds) row(rows []Row, class string) (odds float64) {
	for _, r := range rows {
		x := r.New
		if o.worked {
			x = r.Worked
		}
		if r.Class == class && class != "" {
			return x
		}
		if r.Class == "" {
			odds = x
		}
	}
	return odds
}
