package cause

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
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

// Of is the cause of that name whose explanations name as many parts. A name that this version does not know, such as
// one from a later ledger, stands for itself.
func Of(name string, parts []string) *Cause {
	for i := range registry {
		if c := &registry[i]; c.Name == name && c.Parts == len(parts) {
			return c
		}
	}
	return &Cause{Name: name, Parts: len(parts), Words: Words{Kind: name, Title: strings.TrimSpace("%s " + name), Curve: name, Lot: name, Retune: Cures}}
}

// Title is the cause with its parts, without its values.
func Title(name string, parts []string) string { return fill(Of(name, parts).Words.Title, parts) }

// Sentence is the cause with its parts and what the samples say of it; possible is false where no sample is of it.
func Sentence(name string, s *Said, possible bool) string {
	c := Of(name, s.Parts)
	title := fill(c.Words.Title, s.Parts)
	switch {
	case !possible:
		return title + ": cannot make these times"
	case c.Detail == nil:
		return title
	}
	return title + ", " + c.Detail(s)
}

// Do is what to do first where the cause is likely; ok is false where the readings' ranks say that.
func Do(name string, s *Said) (reading, enter string, ok bool) {
	c := Of(name, s.Parts)
	if c.Words.Do == nil {
		return "", "", false
	}
	reading, enter = c.Words.Do(s)
	return reading, enter, true
}

// InLot is the cause as it is said of a whole lot.
func InLot(name string, parts []string) string { return fill(Of(name, parts).Lot, parts) }

// Repair is what to do once the cause is found; empty where there is nothing to do, or nobody can say.
func Repair(name string, parts []string) string { return fill(Of(name, parts).Words.Repair, parts) }

// Curve is the cause in the key of a picture.
func Curve(name string, parts []string) string { return fill(Of(name, parts).Words.Curve, parts) }

// Hides says why no part should be changed yet where this cause is likely; empty: a change of parts hides nothing.
func Hides(name string, parts []string) string {
	if text := Of(name, parts).Retune; text != Cures {
		return text
	}
	return ""
}
