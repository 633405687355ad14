package cause

import (
	"strings"

	"offbeat/fit"
)

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

// of gives the odds of a cause with that key and default rows for the parts it names, and whether the design states them:
// its "key.part", else its "key", else the default of the part's class, else the default of any class.
func (o *Odds) of(key string, rows []Row, parts []string) (odds float64, stated bool) {
	class := ""
	if len(parts) == 1 {
		if x, ok := o.own[key+"."+parts[0]]; ok {
			return x, true
		}
		class = o.classes[parts[0]]
	}
	if x, ok := o.own[key]; ok && key != Nothing {
		return x, true
	}
	return o.row(rows, class), false
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

// Nothing is the name of the cause that all odds are against.
const Nothing = "nothing"
