package cause

import (
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// missing: a part is not there, or no longer: the wiring without its card, where that still runs or the output stands still.
var missing = Cause{
	Name:  "missing",
	Key:   "missing",
	Parts: 1,
	Odds: []Row{
		{"", 0.005, 0.01, "an open is 0.2 … 0.6 of the failures of resistors and capacitors (MIL-HDBK-338B modes, from memory); it mostly stops the board (common practice)"},
		{"diode", 0.02, 0.005, "a diode is forgotten more easily than it opens (common practice)"},
	},
	Shows: []Show{
		{"inspection", "", 0.8, "an empty place is seen, a cold joint or a part open inside is not always (common practice)"},
	},
	Words: Words{
		Kind:    "a part missing",
		Title:   "%s missing or open",
		Curve:   "%s missing",
		Lot:     "%s is missing",
		Repair:  "Fit %s as drawn",
		Retune:  "the likeliest cause is a part that is missing or open: fit it first, then tune",
		Form:    "the wiring without one of its parts, where that still runs, or the output stands still; the others in tolerance; without its timing capacitor the board runs on strays of 10 to 200 pF",
		Meaning: "A part was not fitted, or has opened: a forgotten diode, a broken wire, a cold joint. It is asked where the board still runs without it, and of a board that stands still.",
		Also:    []string{"open", "forgotten part"},
	},
	Cases: func(b *Board) []Case {
		return append(b.rewired((*circuit.Circuit).Missing, b.swinging()), b.onStrays()...)
	},
}

// onStrays is the board whose timing capacitor is missing and which runs on the strays in its place, which a reading there meets.
func (b *Board) onStrays() []Case {
	i := b.capacitor()
	if len(b.leaks()) != 1 || !b.Circuit.Has(circuit.Stray) || !b.Circuit.Grounded() || b.Parts[i].Low() < 2*mostStray {
		return nil
	}
	prior := b.Loose()
	prior[i] = b.Read(i, posterior.Uniform(math.Log(leastStray), math.Log(mostLeft)))
	return []Case{{Parts: []string{b.Parts[i].Name}, Fitted: []int{i}, Hypothesis: posterior.Hypothesis{Prior: prior}}}
}

// joint is how often it is a joint or a wire, not the part itself, that is open or shorted: a part that was read is there
// (common practice).
const joint = 0.1

// rewired are the boards of another wiring, a part at a time, where that runs; where the output was seen to stand still, also
// those that do not.
func (b *Board) rewired(how func(c *circuit.Circuit, part string, v *circuit.Values) (*circuit.Circuit, string, error), parts []string) []Case {
	v, err := b.Circuit.Typical(b.Design)
	if err != nil {
		return nil
	}
	var out []Case
	for _, name := range parts {
		k, why, err := how(b.Circuit, name, &v)
		if k = b.asked(k, why, err, &v); k == nil {
			continue
		}
		h := posterior.Hypothesis{Prior: b.Loose(), Circuit: k, Alike: k.Tie()}
		if find(b.Design.Readings, name).Value != 0 {
			h.LogFactor, h.Alike = math.Log(joint), ""
		}
		out = append(out, Case{Parts: []string{name}, Hypothesis: h})
	}
	return out
}

// asked is a rewired board as a cause has it: one that stops counts where the output was seen to stand still, else nil.
func (b *Board) asked(k *circuit.Circuit, why string, err error, v *circuit.Values) *circuit.Circuit {
	switch stops := err == nil && (why != "" || k.OnePulse != b.Circuit.OnePulse); {
	case err != nil || stops && len(b.Design.Stills) == 0:
		return nil
	case stops:
		state, _ := k.Rests(v)
		return b.Circuit.Stopped(why, state)
	}
	return k
}
