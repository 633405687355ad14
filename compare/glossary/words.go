package glossary

import (
	"strings"

	"offbeat/compare/cause"
)

// Term is one word with its meaning.
type Term struct {
	Name   string
	Also   []string // other words for it
	Text   string   // plain sentences
	Source string   // the standard or paper that the word comes from; empty: our own
	See    []string // names of other terms
}

var backsolve = []Term{
	{Name: "back-solve", Also: []string{"reconcile"}, Text: "From the times back to the parts: which values, and which cause, make the circuit keep the times that were measured."},
	{Name: "group", Also: []string{"groups"}, Text: "A product or ratio of parts that the times fix with no assumption about any part, such as R2 × C1.", See: []string{"confounded"}},
	{Name: "confounded", Text: "Not to be told apart by what was measured. Resistance up and capacitance down by one factor leaves every time alone; so does a slow clock against a larger capacitor. The report says what is confounded with what, and which reading would part them.", See: []string{"next reading"}},
	{Name: "prior odds", Also: []string{"odds", "prior"},
		Text: "How likely a cause is before anything is measured, against nothing being wrong = 1. They depend on the part's class and on the board's history, and can be set under [odds] in the design file. A stated probability is these odds times how well the cause explains the times, shared out so that all add up to one.",
		See:  []string{"probability", "history"}},
	{Name: "history", Text: "What is known of the board: new (fresh from the bench, so a builder's slip is likely) or worked (it used to be right, so a part that aged is likely). It sets the prior odds.", See: []string{"prior odds"}},
	{Name: "probability", Also: []string{"posterior"}, Text: "How likely a cause is after the times and readings are counted in. Of the causes stated with 80 %, 80 of 100 are right, if the odds are right: the project checks this by simulation.", See: []string{"prior odds", "evidence"}},
	{Name: "evidence", Also: []string{"marginal likelihood"}, Text: "How well a cause explains the times, averaged over everything that the cause leaves open. A cause that could explain anything explains each thing poorly: that is what keeps flexible causes in check."},
	{Name: "estimate", Also: []string{"median"}, Text: "The median of what is believed of a part: it is as probably above as below."},
	{Name: "out of tolerance", Text: "Beyond the limits that the drawing allows a part. The probability is over all causes together."},
	{Name: "next reading", Also: []string{"reading"}, Text: "What to measure next: the reading that is expected to lower the doubt between the causes most, for the minutes that it takes.", Source: "Lindley 1956", See: []string{"bit"}},
	{Name: "tells", Also: []string{"look"}, Text: "Of a reading or a look: the share of what is open about the cause that it is expected to settle, from what each cause would show in it. A look is a reading without an instrument, of two outcomes, entered with --look.", See: []string{"next reading", "bit"}},
	{Name: "bit", Also: []string{"information", "bits"}, Text: "The measure of information: one bit halves the doubt between two equally likely causes.", Source: "Lindley 1956"},
	{Name: "direct reading", Text: "A part or a voltage measured by itself, by ohmmeter, LCR meter or voltmeter, given under [readings] or with --reading."},
	{Name: "baseline", Also: []string{"before", "since the baseline"}, Text: "An earlier result of the same board, as reconcile --json printed it, or what [was] states of it in the design. With one the question is what has moved since, not what is wrong: what both visits have in common, such as where each part lies in its tolerance, drops out."},
	{Name: "condition", Also: []string{"with"}, Text: "What was special about a capture: a known part added, another supply, a part warmed. Given by --with, it tells apart what times alone confound.", See: []string{"confounded", "next reading"}},
	{Name: "mark", Text: "A few words at an instant of a stream, such as \"cooled C1\". The step that the times take there is fitted, and a part suits where its change alone would explain the steps of both times."},
	{Name: "tolerance region", Also: []string{"plane"}, Text: "In the report's plane of high against low time: where the times may lie with every part inside its tolerance. Each cause leaves it along a line of its own, which is why the place of the measured point says which cause it is."},
}

// causes are what the back-solve compares, each in its own words.
var causes = causeTerms()

func causeTerms() []Term {
	var out []Term
	for _, c := range cause.All() {
		out = append(out, Term{Name: strings.ReplaceAll(c.Key, "_", " "), Also: c.Also, Text: c.Meaning, Source: c.Source, See: c.See})
	}
	return out
}

var circuits = []Term{
	{Name: "RC", Also: []string{"time constant", "tau"}, Text: "Resistance times capacitance, in seconds. Times alone see products and ratios of parts, never a part by itself.", See: []string{"group"}},
	{Name: "nominal", Text: "The value that the drawing gives a part; a prediction with every part at it, and the timer typical."},
	{Name: "first order", Text: "The textbook formula with an ideal timer. The nominal prediction adds the second-order terms: thresholds, saturation, delays, currents.", See: []string{"second-order term"}},
	{Name: "second-order term", Also: []string{"term"}, Text: "What a real timer adds to the formula: threshold ratios, discharge saturation and resistance, delays, bias current, diode drop, output swing. Each has a spread of its own from the makers' data sheets; offbeat predict --explain lists them.", See: []string{"family"}},
	{Name: "family", Text: "The kind of timer, bipolar or CMOS: it says which second-order terms there are and how far they spread. \"ideal\" has none."},
	{Name: "tolerance code", Also: []string{"IEC 60062", "tolerance letter"}, Text: "A letter behind a value that stands for its tolerance, and a letter inside it that stands for the decimal point: 4k7 J is 4.7 kΩ ± 5 %.", Source: "IEC 60062"},
	{Name: "preferred value", Also: []string{"E series", "IEC 60063", "E24"}, Text: "The values that parts are made in: E12, E24, E96 and so on, the number being how many there are in a decade.", Source: "IEC 60063", See: []string{"other value"}},
	{Name: "class", Also: []string{"kind", "part class"}, Text: "What a part is made of: film, C0G, ceramic, electrolytic, tantalum, resistor. It sets the prior odds that the part has moved.", See: []string{"prior odds"}},
	{Name: "control pin", Text: "The timer's pin that gives the upper threshold a voltage of its own. Loaded or driven, it moves both thresholds.", See: []string{"thresholds"}},
	{Name: "leg", Also: []string{"lift one leg", "one leg lifted"}, Text: "One lead of a part taken off the board, so that a meter reads the part and not what lies in parallel to it."},
	{Name: "trimmer", Text: "A potentiometer that is set once: its travel runs from nothing to its full value, and what is proposed is how far along it stands."},
	{Name: "retune", Text: "To bring a circuit back on target by fitting other values, with the parts as they now are."},
	{Name: "on target", Also: []string{"in target"}, Text: "The probability that, after a change, every quantity of the target lies within its limits."},
}

var signal = []Term{
	{Name: "state level", Also: []string{"level", "high level", "low level"},
		Text:   "The voltage at which a two-level signal rests: the low and the high level. They are found as the two modes of the histogram of all samples, so that overshoot and noise do not shift them.",
		Source: "IEEE 181", See: []string{"reference level"}},
	{Name: "reference level", Also: []string{"threshold crossing"},
		Text:   "The voltage whose crossing counts as the edge: half way between the state levels, unless --level says otherwise. Where edges are slow, an error of the reference level lengthens one half of the cycle and shortens the other.",
		Source: "IEEE 181 (50 % reference)", See: []string{"hysteresis", "state level"}},
	{Name: "hysteresis",
		Text: "A band about the reference level that the signal has to leave on the other side before a crossing counts, so that noise on a slow edge makes one edge and not several.",
		See:  []string{"reference level", "runt"}},
	{Name: "transition", Also: []string{"edge"},
		Text:   "The passage from one state to the other. Its instant is interpolated between the samples on either side of the reference level.",
		Source: "IEEE 181"},
	{Name: "transition list",
		Text: "A capture that has a row only when a state changes, as logic captures often do."},
	{Name: "pulse duration", Also: []string{"high time", "low time", "pulse width"},
		Text:   "From one edge to the next: the high time from rise to fall, the low time from fall to rise.",
		Source: "IEEE 181", See: []string{"period", "duty factor"}},
	{Name: "period", Text: "High time and low time together; the frequency is one over it.", Source: "IEEE 181"},
	{Name: "duty factor", Also: []string{"duty cycle", "duty"},
		Text:   "High time over period. The instrument's clock does not enter: it cancels.",
		Source: "IEEE 181"},
	{Name: "jitter", Also: []string{"edge noise", "period noise"},
		Text:   "The scatter of edges about their even places. White edge noise moves each edge by itself and averages out fast; random-walk period noise adds up from cycle to cycle and averages out slowly. The two are told apart, because the uncertainty of the mean depends on which it is. Few cycles hardly tell: the period's uncertainty is then stated for white noise alone and for noise that adds up too, with the probability of the latter; noise that would not widen it by a tenth counts as none.",
		Source: "IEEE 181", See: []string{"Allan deviation"}},
	{Name: "runt", Text: "A pulse that leaves one level and returns without having crossed the hysteresis band. It is counted and excluded from the fit.", Source: "IEEE 181"},
	{Name: "glitch", Text: "A pulse far too short to belong to the train. It is counted and excluded from the fit."},
	{Name: "dropped edge", Also: []string{"dropped edge pair"},
		Text: "An interval about as long as its neighbours together: two edges between them are missing. It is counted and excluded from the fit."},
	{Name: "partial pulse", Text: "The first and the last pulse of a record, cut by its ends. They never count."},
	{Name: "whole cycle", Also: []string{"cycle"}, Text: "A high time and the low time that follows it, both with all their edges inside the record."},
	{Name: "Allan deviation",
		Text:   "How much the mean period over one stretch differs from that over the next, against the stretch's length. It tells white noise, which falls with length, from drift and random walk, which do not.",
		Source: "NIST SP 1065", See: []string{"jitter", "drift"}},
	{Name: "intermittent",
		Also:   []string{"jump", "change point", "stretch"},
		Text:   "A fault that comes and goes: the times jump inside the capture. A jump comes from a loose joint, a contact or a cracked part; a drift from warmth, the supply or leakage. A small jump half way looks much like a drift: where the record does not tell, both stand with their probabilities; record for longer. Each stretch is solved by itself, and the board is never passed; nor is one that stops, leaves out pulses, or drifts or wanders by more than 0.2 %. Tap, warm and cool one part at a time.",
		Source: "", See: []string{"drift", "jitter"}},
	{Name: "modulation",
		Also: []string{"modulated"},
		Text: "Times that go to and fro in order: a tone or a siren driven by a second oscillator, ripple of the supply, every so many pulses a longer one. No mean of them is one that the parts would set. A train that is modulated by more than 1 % rms is refused; of less it is said how often it recurs, and ± holds all of it. Hum of the mains is taken off up to 3 %. What is slower than three turns in the record looks like a wandering period.",
		See:  []string{"intermittent", "jitter", "drift"}},
	{Name: "drift",
		Text: "A steady change of the period with time (ppm/min), or with a temperature that a channel shows (ppm/K), fitted together with both kinds of noise. It counts as seen where it exceeds three standard uncertainties; edges that are rounded to the sample interval may not pass for one.",
		See:  []string{"jitter", "Allan deviation"}},
	{Name: "capacitor's waveform", Also: []string{"waveform", "final voltage"},
		Text: "The timing capacitor's own voltage on a second channel: it heads for one final voltage with one time constant while it charges, for another while it discharges, and turns at the thresholds. A final voltage below the supply shows a leak, one of the discharge above ground a weak discharge output; thresholds are measured, and need not be assumed.",
		See:  []string{"leakage", "thresholds", "discharge"}},
	{Name: "trace", Text: "The thinned copy of a capture that the report's pictures are drawn from. Nothing is measured on it."},
}

var uncertainty = []Term{
	{Name: "standard uncertainty", Also: []string{"uncertainty"},
		Text:   "How far a measured value may be off, as one standard deviation. What stands after ± is this, unless said otherwise.",
		Source: "JCGM 100 2.3.1", See: []string{"expanded uncertainty", "type A", "type B"}},
	{Name: "type A", Also: []string{"type A evaluation"},
		Text:   "An uncertainty found from the scatter of repeated observations: here, of the cycles.",
		Source: "JCGM 100 2.3.2", See: []string{"type B"}},
	{Name: "type B", Also: []string{"type B evaluation"},
		Text:   "An uncertainty found otherwise: from a data sheet, a class of clock, the width of a sample interval. Limits without more are taken as a rectangular distribution, whose standard uncertainty is the half-width over the root of three.",
		Source: "JCGM 100 2.3.3 and 4.3.7", See: []string{"type A"}},
	{Name: "expanded uncertainty", Also: []string{"k=2"},
		Text:   "The standard uncertainty times a coverage factor, here 2: about 95 % of such intervals hold the true value.",
		Source: "JCGM 100 2.3.5", See: []string{"coverage factor"}},
	{Name: "coverage factor", Also: []string{"k"}, Text: "The factor from standard to expanded uncertainty. Behind a value, \"(k=2)\" says that its ± is an expanded uncertainty, hence normal; without it, ± are limits, hence rectangular.",
		Source: "JCGM 100 2.3.6", See: []string{"expanded uncertainty"}},
	{Name: "uncertainty budget", Also: []string{"budget"},
		Text: "The list of everything that makes a result uncertain, each with its size. The terms add by their squares, so that the largest decides.",
		See:  []string{"type A", "type B"}},
	{Name: "instrument clock", Also: []string{"clock class", "time base"},
		Text: "What the capture's time axis hangs on: a crystal, a ceramic resonator, an RC oscillator, or a stated limit. Its error stretches every time by one factor, so it looks just like another capacitance, and no averaging removes it.",
		See:  []string{"clock"}},
	{Name: "resolution", Text: "The smallest step that the capture can show: the sample interval in time, a code in level. It is counted as a rectangular uncertainty of half a step either way.", Source: "JCGM 200 4.14"},
	{Name: "correction", Text: "What is added to a reading to make up for a known error. offbeat corrects nothing unseen: each assumption is listed with the result.", Source: "JCGM 200 2.53"},
	{Name: "repeatability", Text: "How far measurements of one board scatter at one station with one operator.", Source: "JCGM 200 2.21", See: []string{"reproducibility"}},
	{Name: "reproducibility", Text: "How far stations or operators differ from each other on the same boards.", Source: "JCGM 200 2.25", See: []string{"repeatability"}},
	{Name: "coverage interval", Also: []string{"95 % coverage", "95 % interval", "interval"}, Text: "The range that holds a quantity with a probability of 95 %, all causes taken together in their proportion.", Source: "JCGM 200 2.36"},
	{Name: "worst case", Text: "What the parts can do at most with every one of them at a limit of its tolerance, in the worst combination. Boards seldom get there.", See: []string{"root-sum-square", "Monte Carlo"}},
	{Name: "root-sum-square", Also: []string{"rss"}, Text: "Each part's largest effect squared, added up, and the root taken: closer to what a shelf of boards does than the worst case.", See: []string{"worst case"}},
	{Name: "Monte Carlo", Also: []string{"95 % of boards"}, Text: "Many boards drawn at random, parts uniform in tolerance and the timer's terms from their own spread; the range that holds 95 % of them. The seed is fixed, so that the same design gives the same answer."},
}

var verdicts = []Term{
	{Name: "target", Text: "A wanted quantity with its limits, from the design file or --target."},
	{Name: "verdict", Also: []string{"pass", "fail", "undecided"},
		Text:   "Pass when the value lies inside the limits by at least the guard band, fail when outside by as much, undecided in between: there the measurement is too coarse for the question.",
		Source: "ILAC-G8:09/2019", See: []string{"guard band", "decision rule"}},
	{Name: "decision rule", Text: "How the measurement's own uncertainty is counted when a limit is judged.", Source: "ILAC-G8:09/2019", See: []string{"guard band"}},
	{Name: "guard band", Text: "The width at each limit, as wide as the expanded uncertainty, inside which no verdict is given either way.", Source: "ILAC-G8:09/2019", See: []string{"expanded uncertainty", "verdict"}},
	{Name: "sampling plan", Also: []string{"plan", "acceptance number", "Ac", "Re"},
		Text:   "How many boards to judge and how many may fail: with up to Ac nonconforming the lot is accepted, from Re on rejected.",
		Source: "ISO 2859-1", See: []string{"operating characteristic", "acceptance quality limit"}},
	{Name: "acceptance quality limit", Also: []string{"AQL"}, Text: "The worst share of nonconforming boards that is still satisfactory as an average over lots; the plan is chosen by it.", Source: "ISO 2859-1"},
	{Name: "operating characteristic", Also: []string{"oc curve"}, Text: "How often a plan accepts a lot, against what is nonconforming in it. Two points of it are the producer's risk (a good lot rejected) and the consumer's (a bad lot accepted).", Source: "ISO 2859-1"},
	{Name: "by variables", Also: []string{"variables", "by attributes", "attributes"}, Text: "By attributes, each board counts as pass or fail; by variables, the values' mean and deviation decide, which needs fewer boards but supposes a normal distribution.", Source: "ISO 2859-1; MIL-STD-414 for the variables' values"},
	{Name: "capability", Also: []string{"Cp", "Cpk", "Pp", "Ppk"},
		Text:   "How well a process fits between its limits: Cp and Pp the limits' width over six deviations, Cpk and Ppk the nearer limit's distance over three. Cp and Cpk take the short-term deviation, Pp and Ppk the overall one.",
		Source: "NIST/SEMATECH e-Handbook 6.1.6"},
	{Name: "control chart", Also: []string{"chart", "EWMA", "individuals", "moving range"},
		Text:   "Values in order against limits that come from their own short-term scatter: what leaves the limits, or makes a pattern, has a cause of its own. An EWMA smooths, so that a small steady shift shows sooner.",
		Source: "ISO 7870-2, ISO 7870-6"},
	{Name: "batch", Text: "The parts of one kind that a lot was built from. Its mean against nominal and its spread are found from all boards together, so that \"the batch is off\" is told from \"one board is off\"."},
	{Name: "outlier", Also: []string{"stands out"}, Text: "A board far from the others in both times together, by its Mahalanobis distance. It is left out of what the lot has in common, and its own cause is named."},
	{Name: "ledger", Text: "A database file, or a server, that keeps every board's result, so that lots and stations can be compared later."},
}
