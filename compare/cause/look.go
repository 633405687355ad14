package cause

import (
	"slices"
	"strings"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// Look is a cheap look at a board: one of two outcomes, no instrument. What a cause shows in it stands with the cause.
type Look struct {
	Name     string       // as it is typed: "marking"
	Of       string       // anyPart, marked; empty: the board
	Do       string       // what to do, with %s for the part
	Found    string       // the outcome that tells
	Sound    string       // the other
	Minutes  float64      // common practice
	Careless float64      // probability of Found where nothing there would show (common practice)
	Live     bool         // the board runs meanwhile
	Needs    circuit.Slot // the circuit must have it; 0: any will do
}

// What looks are of: any part, or one that has a marking of its value.
const (
	anyPart = "part"
	marked  = "marked part"
)

// Looks lists them all.
var Looks = []Look{
	{Name: "marking", Of: marked, Do: "Read the marking of %s: right or wrong?", Found: "wrong", Sound: "right", Minutes: 1, Careless: 0.01},
	{Name: "inspection", Of: anyPart, Do: "Inspect %s (polarity, solder, flux, damp, bulge): sound or faulty?", Found: "faulty", Sound: "sound", Minutes: 1, Careless: 0.03},
	{Name: "control pin", Do: "Look what is tied to the control pin: loaded or free?", Found: "loaded", Sound: "free", Minutes: 1, Careless: 0.05, Needs: circuit.Upper},
	{Name: "timing node", Do: "Look for a probe or a long lead at the timing node: there or none?", Found: "there", Sound: "none", Minutes: 1, Careless: 0.1, Live: true, Needs: circuit.Stray},
	{Name: "probe", Do: "Look which pin the probe is on, and its polarity: wrong or right?", Found: "wrong", Sound: "right", Minutes: 1, Careless: 0.02, Live: true},
	{Name: "warm-up", Do: "Let it run ten minutes and watch the frequency: moves by 1 % or stays?", Found: "moves", Sound: "stays", Minutes: 10, Careless: 0.03, Live: true},
}

// LookNamed is the look of that name; nil: there is none.
func LookNamed(name string) *Look {
	i := slices.IndexFunc(Looks, func(l Look) bool { return l.Name == name })
	if i < 0 {
		return nil
	}
	return &Looks[i]
}

// Text says what to do.
func (l *Look) Text(part string) string { return strings.ReplaceAll(l.Do, "%s", part) }

// Subjects lists what of a board a look can be of: parts, or "" for the board; none where it makes no sense there.
func (l *Look) Subjects(c *circuit.Circuit, parts []fit.Part) (out []string) {
	switch {
	case l.Of == "" && l.Needs != 0 && !c.Has(l.Needs):
		return nil
	case l.Of == "":
		return []string{""}
	case l.Of == anyPart:
		out = Diodes(c)
	}
	for i := range parts {
		if l.Of == anyPart || parts[i].Class != "potentiometer" && parts[i].Track.Value == 0 {
			out = append(out, parts[i].Name)
		}
	}
	return out
}

// Entered is how a look's outcome is typed.
func (l *Look) Entered(part, outcome string) string {
	return strings.Join(strings.Fields(l.Name+" "+part+" "+outcome), " ")
}
