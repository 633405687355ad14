package question

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

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
		if high, low, ok := n.Times(); ok {
			m := set[i].Merged
			odd := oddTime(m.High.Value/high) + oddTime(m.Low.Value/low)
			set[i].odd = &odd
		}
	}
	return out, notes, nil
}

// oddTime is the logarithm of the density of a time over what the runs of its own waveform take, on a board that nothing explains: the
// same within a percent, by delays and by how well the runs are met; in a tenth a tenth, where no run is exponential (common practice).
func oddTime(ratio float64) float64 {
	x := math.Log(ratio)
	return math.Log(0.9*distuv.Normal{Sigma: 0.01}.Prob(x) + 0.1*distuv.Normal{Sigma: 0.1}.Prob(x))
}

// captured tells the board how it was captured, and whether a waveform shows both thresholds.
func captured(b *cause.Board, set []Setting) {
	b.Settings = len(set)
	if len(set) == 0 {
		return
	}
	first := set[0].Captures[0]
	b.Interval, b.TimeUnit, b.Ramps, b.Inverted = first.Interval, first.TimeUnit, first.Levels.Ramps, first.Inverted
	for _, s := range set {
		if slices.ContainsFunc(s.Captures, func(m *fit.Measurement) bool { return m.TimeUnit != b.TimeUnit }) {
			b.TimeUnit = ""
		}
	}
	b.Waveform = slices.ContainsFunc(set, func(s Setting) bool { return len(s.Waves) > 0 && !s.Waves[0].Single }) && trace.Tells(b.Circuit)
}
