package cause

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/fit/circuit"
)

// Words are all that is said of a cause. In a text with %s that is where its parts' names go.
type Words struct {
	Kind    string                                // in a list of kinds: "leakage"
	Title   string                                // in a table, and how its sentence begins: "leakage across %s"
	Detail  func(s *Said) string                  // what follows the title in a sentence: "about 290 kΩ"; nil: nothing
	Do      func(s *Said) (reading, enter string) // what to do first where it is likely, and how to tell; nil: as the readings' ranks say
	Curve   string                                // in the key of a picture; causes with one name are drawn as one
	Lot     string                                // of a whole lot: "the batch of %s leaks"
	Retune  string                                // why parts should not be changed yet; Cures where a change of parts is the cure
	Repair  string                                // what to do once it is found; empty: there is nothing to repair, or nobody can say
	Form    string                                // its prior, in a table
	Meaning string                                // in the glossary, whole sentences
	Source  string                                // of Meaning: a standard or a paper; empty: our own
	Also    []string                              // other words for it
	See     []string                              // the glossary's terms beside it
}

// Cures stands in Words.Retune: a change of parts hides nothing.
const Cures = "-"

// Said is one explanation with what the samples say of its parameters.
type Said struct {
	Parts      []string
	Values     []float64 // medians of the case's parameters, in their order
	Parameters []*Parameter
	Brief      bool // in fewer words: a deviation without its nominal, "+18 %"
}

// Value writes the k-th parameter with its unit.
func (s *Said) Value(k int) string { return Format(s.Values[k], s.Parameters[k].Unit) }

// Deviation writes the k-th parameter against its nominal: "18 % above nominal 100 nF".
func (s *Said) Deviation(k int) string {
	p := s.Parameters[k]
	r := s.Values[k]/p.Nominal - 1
	if s.Brief {
		return quantity.Change(r)
	}
	side := "above"
	if r < 0 {
		side = "below"
	}
	nominal := Format(p.Nominal, p.Unit)
	if r >= 1 || r < -0.95 || math.Abs(r) < 1e-4 {
		return "× " + quantity.TwoDigits(1+r) + " of nominal " + nominal
	}
	return fmt.Sprintf("%s %% %s nominal %s", quantity.TwoDigits(100*math.Abs(r)), side, nominal)
}

// Format writes a number of the JSON's units for a reader.
func Format(x float64, unit string) string {
	if u := quantity.InJSON[unit]; u != quantity.Number {
		return quantity.Format(x, u)
	}
	return fmt.Sprintf("%.4g", x)
}

// fill puts the parts' names into a text.
func fill(text string, parts []string) string {
	return strings.ReplaceAll(text, "%s", strings.Join(parts, " and "))
}

// Show is how likely a cause shows in a look at a part that it names, or at the board, by class of part; of several rows the
// part's class counts, else the one of any.
type Show struct {
	Look  string
	Class string
	P     float64
	Why   string
}

// Row is one default prior odds against nothing = 1.
type Row struct {
	Class  string  // part class it holds for; "" any
	New    float64 // for a fresh build
	Worked float64 // for a board that used to be right
	Why    string
}

// Parameter is what a cause is about.
type Parameter struct {
	Name    string  // such as "leakage across C1"
	Unit    string  // of quantity.InJSON
	Nominal float64 // to compare with; 0: none
	Of      func(v *circuit.Values) float64
}
