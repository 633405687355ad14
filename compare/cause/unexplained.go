package cause

import (
	"math"

	"offbeat/fit"
	"offbeat/fit/posterior"
)

// Unexplained is the name of the cause that says it is none of the listed ones.
const Unexplained = "unexplained"

// sizes are the standard deviations of the logarithms of the times about those of a sound board, each as likely: of boards with faults
// that no list holds (simulated: forgotten or surplus diodes, thresholds of another maker, slow comparators, sagging outputs,
// constant currents) as many are off by some percent as by half or by two.
var sizes = []float64{0.1, 0.3, 1}

// Of those that are off by more than 8 %, two fifths lie along one of three lines within some percent: one half-cycle alone is
// off where a switch, a level or a delay of it is, both by one factor where a rail, the thresholds or every resistor is (of 640
// simulated boards 13 % the high time alone, 9 % the low time alone, 19 % both; the shares are set a little above that, since
// the tolerances blur the lines).
const (
	lineOfOne, lineOfBoth = 0.15, 0.2
	beside                = 0.05 // standard deviation of what is beside a line
)

// alike is how much of what the times are off by is the same where a part is added or taken away, each as likely: what no list holds
// scales the times whatever the parts are, or is half as large beside twice the capacitance (of 366 simulated boards 53 and 47 %).
var alike = [2]float64{0.9999, 0.875}

// misfits are the forms of the two times, or of one pulse, which knows no lines, in one setting or in several.
func misfits(onePulse bool, settings int) (all []posterior.Misfit) {
	n := float64(len(sizes))
	for _, sd := range sizes {
		if onePulse {
			all = append(all, posterior.Misfit{Share: 1 / n, High: sd})
			continue
		}
		all = append(all, posterior.Misfit{Share: (1 - 2*lineOfOne - lineOfBoth) / n, High: sd, Low: sd}, posterior.Misfit{Share: lineOfOne / n, High: sd, Low: beside},
			posterior.Misfit{Share: lineOfOne / n, High: beside, Low: sd}, posterior.Misfit{Share: lineOfBoth / n, High: beside, Low: beside, Both: sd})
	}
	if settings < 2 {
		return all
	}
	for i := range all {
		all[i].Share, all[i].Alike = all[i].Share/2, alike[0]
		other := all[i]
		other.Alike = alike[1]
		all = append(all, other)
	}
	return all
}

// unexplained: the logarithms of the high and the low time are normal about those of a sound board in one of the forms of misfits,
// so that a misfit is never forced on a part; the parts are in tolerance and the control pin may sit anywhere that the thresholds
// cause allows.
var unexplained = Cause{
	Name:    Unexplained,
	Key:     "unexplained",
	Passing: true,
	Odds:    []Row{{"", 0.03, 0.18, "what is not on this list: a tenth of all faults of a new board together, a quarter of those of a worked one, whose timer and joints have aged too (common practice)"}},
	Words: Words{
		Kind:    "unexplained",
		Title:   "unexplained: no listed cause fits",
		Curve:   "unexplained",
		Lot:     "the cause is none of the listed ones",
		Retune:  "the likeliest cause is none of the listed ones, so no change can be promised anything: take the next reading first",
		Form:    "ln high time and ln low time normal about a sound board's with standard deviation 0.1, 0.3 or 1, each as likely: half of them each by itself, 0.2 both by one factor, 0.15 the high and 0.15 the low time alone, with 0.05 beside that; where parts are added, 0.9999 or 0.875 of these variances common to all captures; of a waveform some numbers a sound board's, some off by 0.1 of the supply or half a time constant; or, with odds of 0.01 each, a part's reading wrong by up to a decade and all parts in tolerance",
		Meaning: "None of the listed causes: the times are only known to lie about those of a sound board, their logarithms with standard deviation 0.1, 0.3 or 1, each by itself, both by one factor, or one of them alone; or a reading of a part is wrong. It keeps a misfit from being forced on a part.",
		Also:    []string{"none of these"},
	},
	Cases: func(b *Board) []Case {
		prior := b.Loose()
		for i := range prior { // what nobody listed says nothing of the parts: they are in tolerance or out of it as any are
			if b.readings[i].Value == 0 && !b.Circuit.Parts[i].Idle {
				prior[i] = b.orShifted(i).Normalised()
			}
		}
		out := []Case{{Hypothesis: posterior.Hypothesis{Prior: prior, Unexplained: true, Misfit: misfits(b.Circuit.OnePulse, b.Settings), LogFactor: math.Log(b.ReadControl(controlRange).Mass())}}}
		share := 0.0 // all of the odds, or what the design states down to misread
		if x := b.odds.own["unexplained"]; x > misread {
			share = misread / x
		}
		for i, r := range b.readings {
			if r.Value > 0 && !b.Circuit.Parts[i].Idle {
				prior := b.Loose()
				prior[i] = posterior.UniformValue(limits(b.Parts[i], b.Parts[i].Nominal))
				out = append(out, Case{Preset: misread, Share: share, Hypothesis: posterior.Hypothesis{Prior: prior, LogFactor: math.Log(wild(r))}})
			}
		}
		return out
	},
}

// misread are the odds of a reading that is wrong: another range, a path beside the part, a slip (common practice); no more than the
// design states of all that nobody listed.
const misread = 0.01

// wild is the likelihood of a reading that is wrong: its logarithm lies evenly within a decade either way. What Read leaves out of
// the likelihood of one that is right is left out here too.
func wild(r fit.Reading) float64 {
	width := 2 * r.Half
	if r.Standard > 0 {
		width = r.Standard * math.Sqrt(2*math.Pi)
	}
	return width / r.Value / math.Log(100)
}
