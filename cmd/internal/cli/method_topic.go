package cli

import (
	"fmt"
	"strings"

	"offbeat/compare/cause"
)

// methodPage is the topic with the causes' forms filled in from the room that owns them.
func methodPage() string {
	var b strings.Builder
	for _, c := range cause.All() {
		fmt.Fprintf(&b, "  %-14s  %s\n", c.Key, c.Form)
	}
	b.WriteString("\nOf shifted parts outside their tolerance, the share that lies above it:\n\n")
	for _, s := range cause.Sides {
		fmt.Fprintf(&b, "  %-14s  %g  %s\n", s.Class, s.Up, s.Why)
	}
	return strings.Replace(methodTopic, "FORMS", strings.TrimRight(b.String(), "\n"), 1)
}

const methodTopic = `How offbeat gets from samples to a cause, so that anyone can recompute what it states.

THE TIMES. State levels are the modes of the histogram (IEEE 181), edges the interpolated crossings of the 50 % level with
hysteresis. The first and last pulse never count. Uncertainty is that of JCGM 100: type A from the cycles, type B from
sample interval, resolution, reference level and the instrument's clock. The clock's share is common to every time and is
kept apart, since it looks just like another capacitance. The kinds of noise that a train shows (white on each edge,
steps of the periods that add up, and others that measure names) are told apart by their likelihood, and the stated
uncertainty is over all of them. What is no steady train is said, and never averaged.

WHAT THE TIMES FIX. Two times cannot give three parts. Products and ratios such as R2*C1 follow from the times with no
assumption, and are printed with their uncertainty.

THE PARTS. Each possible cause is a hypothesis with prior odds, and the times choose among them by marginal likelihood.
The device's second-order terms (thresholds, discharge switch, delays, bias current, output levels) have priors by
family, from data sheets; where the family is not said, every one that suits counts with a weight. Direct readings enter
as further equations. Parts' values, intervals and P(out of tolerance) are over the whole mixture of causes; where
nothing fits, the answer is unexplained, rather than a part.

THE CIRCUIT is Kirchhoff's law in each state of the device and the diodes, in closed form, from the board's wiring
(help wiring); the two-transistor multivibrator keeps a law of its own.

THE CAPACITOR'S WAVEFORM, where a channel shows it, is fitted by nonlinear least squares, and enters as facts with their
covariance: both time constants, both turns, both final voltages. The channel's scale counts as good to 3 %, its zero to
1 % of the supply (common practice), unless the design or a flag says otherwise.

THE VERDICT. ILAC-G8 guard band of two standard uncertainties, wider with few cycles (Student): pass when the value lies
inside the target by at least that, fail when it lies outside by at least that, else undecided.

The forms of the priors; T is a part's tolerance:

FORMS

The default odds of each, with their reasons: offbeat explain odds. [odds] in a design changes each.

WHAT IT CANNOT DO. Timing sees products of R and C: which factor is off rests on tolerances, odds and readings, and the
answer says so. One cause at a time, or two parts out of tolerance; not every pair of faults. Probabilities are as good
as the odds and tolerances given; a part with none gets a usual tolerance, and the result says so. Some ten cycles hardly
tell white noise from steps that add up; the text says how likely each is and what follows. A capture of more than 4096
cycles is thinned to as many at most for jitter, drift and Allan deviation.`
