package question

import (
	"fmt"
	"slices"

	"offbeat/compare/cause"
	"offbeat/compare/reconcile/trace"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// WaveFacts are those of all settings that have a waveform, and a warning where some were left out because the
// back-solve takes no more equations beside the times, a baseline's and so many other facts. Only the first may tell
// by its channel's scale and zero: it is one channel, whose error does not average out.
func WaveFacts(d *fit.Design, c *circuit.Circuit, typical *circuit.Values, set []Setting, others int) (out []posterior.Fact, notes []string, err error) {
	room := posterior.MostEquations - 2*len(set) - 2 - others
	first := true
	for i := range set {
		if len(set[i].Waves) == 0 || !trace.Tells(c) {
			continue
		}
		n, err := trace.Of(d, set[i].Waves, set[i].Supply(d.Supply).Value, typical)
		if err != nil {
			return nil, nil, err
		}
		facts := n.Facts(c, typical, i+1, first)
		if len(out)+len(facts) > room {
			notes = append(notes, fmt.Sprintf("the capacitor's waveform in %s is left out: the back-solve takes no more of them at once", set[i].Name()))
			continue
		}
		first = first && !n.Plausible
		out = append(out, facts...)
	}
	return out, notes, nil
}

// captured tells the board how it was captured, and whether a waveform shows both thresholds.
func captured(b *cause.Board, set []Setting) {
	if len(set) == 0 {
		return
	}
	first := set[0].Captures[0]
	b.Interval, b.Ramps, b.Inverted = first.Interval, first.Levels.Ramps, first.Inverted
	b.Waveform = slices.ContainsFunc(set, func(s Setting) bool { return len(s.Waves) > 0 && !s.Waves[0].Single }) && trace.Tells(b.Circuit)
}
