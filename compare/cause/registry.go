package cause

import "strings"

// registry lists every cause in the order of the documentation; one line a file.
var registry = []Cause{
	nothing,
	shifted,
	twoShifted,
	otherValue,
	exchanged,
	missing,
	bridged,
	reversed,
	diode,
	leakage,
	aged,
	contact,
	stray,
	thresholds,
	reference,
	discharge,
	slow,
	output,
	current,
	resistors,
	clock,
	wrongSignal,
	unexplained,
}

// All lists the causes in the order of the documentation.
func All() []Cause { return registry }

// Key is a stable text for a cause and its parts.
func Key(cause string, parts []string) string { return cause + " " + strings.Join(parts, "+") }

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
