package fit

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
)

// Estimate is a measured or computed number with its standard uncertainty (JCGM 100, k = 1), both in the
// same SI unit.
type Estimate struct {
	Value       float64 `json:"value"`
	Uncertainty float64 `json:"standard_uncertainty"`
	Count       int     `json:"count"` // observations behind it; 0 where that has no meaning
}

// Measurement is what one capture says about the output's times.
//
// The uncertainties of High and Low, and their Covariance, hold every term but the instrument's clock: that
// one is common to all intervals, so it is kept apart in Clock. Period, Frequency and Duty combine them.
type Measurement struct {
	Source string

	High, Low  Estimate // s, mean high time and mean low time; Low.Count = 0 where the low time has no meaning (one pulse)
	Covariance float64  // s², of the mean high and the mean low time, clock term left out
	Clock      float64  // relative limit of the instrument's clock, rectangular half-width (50e-6 is 50 ppm)
	Freedom    Freedom  // how well those uncertainties are known
	Cycles     int      // whole cycles used
	Interval   float64  // s, between samples; 0: the record holds edges, or how far apart its samples lie is not known
	TimeUnit   string   // s, ms, us or ns: what the source's times were read in; empty: they say their own, or it has none
	Inverted   bool     // the polarity was turned as the record was read

	Levels Levels
	Faults Faults
	Series Series
	Walk   Walk
	Slow   Slow
	Budget []Term   // where the uncertainty of High, Low and the period comes from
	Notes  []string // what a user should know

	// Where the train changes inside the capture, High, Low and all above are the mean over it, which no board has.
	Changes   []Change       // in the order of time; none: it does not change
	Stretches []*Measurement // what lies between: one more than there are changes, or none
	Alike     bool           // a period that warms up or wanders would look much like the changes
	Shots     bool           // single pulses, each of which something outside triggers: Changes and Moves are of their length
	Moves     Moves          // how the period moves where it does not jump
}

// FirstChanges keeps the first of many changes, put into words, and says how many more there are.
func FirstChanges(all []string) []string {
	const most = 3
	if len(all) <= most+1 {
		return all
	}
	return append(all[:most:most], fmt.Sprintf("and %d times more", len(all)-most))
}

// AlikeText says so.
const AlikeText = "a period that warms up or wanders would look much the same"

// Moves is how the period of a train moves inside its record where no jump is told; zero: it does not.
type Moves struct {
	By          float64 `json:"by"`                            // relative, from the first cycle to the last; of one that wanders from the least of some stretches to the largest; of a likely jump its size
	Uncertainty float64 `json:"standard_uncertainty,omitzero"` // 0 of one that wanders
	Wanders     bool    `json:"wanders,omitempty"`             // to and fro, or as it warms up, likelier than in a straight line
	Slight      bool    `json:"slight,omitempty"`              // by no more than warmth makes of it in a while: no reason not to pass
	Jumps       float64 `json:"jump_probability,omitempty"`    // that it jumps instead; 0: that is ruled out. From a half on the measurement has the jump
	At          float64 `json:"jump_time,omitempty"`           // s, on the capture's axis
	Back        float64 `json:"return_time,omitempty"`         // s, where it jumps back; 0: not at all
	Stops       float64 `json:"stops,omitempty"`               // s, from the last edge to the end of the record, where that is far more than a period; 0: it runs on
	Missing     int     `json:"missing_pulses,omitempty"`      // that the sampled output leaves out, a whole number at a time
	Short       int     `json:"short_pulses,omitempty"`        // that are no glitches but far too short
	Long        int     `json:"long_gaps,omitempty"`           // far too long, and no whole number of periods
	Odd         int     `json:"odd_pulses,omitempty"`          // single pulses of another length than the others
}

// Lead reports whether any of it leads what is said of the board, which then is not passed.
func (m Moves) Lead() bool { return m.By != 0 && !m.Slight || len(m.Lacks()) > 0 }

// Lacks says which pulses are not there.
func (m Moves) Lacks() (all []string) {
	if m.Stops > 0 {
		all = append(all, fmt.Sprintf("the output stops inside the capture, no pulse in its last %s (cut the record there if something gates it)", quantity.Format(quantity.Rounded(m.Stops, 2), quantity.Second)))
	}
	if m.Missing > 0 {
		all = append(all, quantity.Plural(m.Missing, "pulse")+" missing inside the capture, each where one was due")
	}
	if m.Short > 0 {
		all = append(all, quantity.Plural(m.Short, "time")+" inside the capture far too short for the train, and kept out of the mean")
	}
	if m.Long > 0 {
		all = append(all, quantity.Plural(m.Long, "time")+" inside the capture far too long for the train, and kept out of the mean")
	}
	if m.Odd > 0 {
		all = append(all, quantity.Plural(m.Odd, "pulse")+" of another length than the others, and kept out of the mean: triggered again while it ran, cut short, or a loose contact")
	}
	return all
}

// Subject is what changes and moves.
func (m *Measurement) Subject() string { return Subject(m.Shots) }

// Subject is what changes and moves, of single pulses or of a train.
func Subject(shots bool) string {
	if shots {
		return "pulse"
	}
	return "period"
}

// Text says in words how the period moves, or what of is; nothing where it does not.
func (m Moves) Text(of string) string {
	by := fmt.Sprintf("inside the capture by (%s) %%", quantity.Bare(100*m.By, 100*m.Uncertainty))
	switch {
	case m.By == 0:
		return ""
	case m.Wanders:
		by = fmt.Sprintf("the %s wanders or warms up inside the capture by %.2g %%", of, 100*m.By)
	case m.Jumps == 0:
		by = "the " + of + " drifts " + by
	default:
		jump, drift := "a jump near "+quantity.Format(m.At, quantity.Second), "a slow drift"
		if m.Back != 0 {
			jump += " and back near " + quantity.Format(m.Back, quantity.Second)
		}
		all := []string{fmt.Sprintf("%s (%s)", jump, quantity.Probability(m.Jumps)), fmt.Sprintf("%s (%s)", drift, quantity.Probability(1-m.Jumps))}
		if m.Jumps < 0.5 {
			slices.Reverse(all)
		}
		by = "the " + of + " changes " + by + ", which is " + strings.Join(all, " or ") + ": the record does not tell"
	}
	if m.Slight {
		by += "; warmth makes as much of it"
	}
	return by
}

// Freedom are the effective degrees of freedom of the uncertainties, the clock's term included (JCGM 100 G.4.1): an error over
// its stated uncertainty has Student's distribution with them. 0: so many that it is the normal one.
type Freedom struct{ High, Low, Period, Duty float64 }

// Change is where the times of a train jump.
type Change struct {
	Time        float64 `json:"time"`                 // s, on the capture's axis
	Before      float64 `json:"period_before"`        // s, the mean of the stretch
	After       float64 `json:"period_after"`         // s, likewise
	By          float64 `json:"by"`                   // relative, by how much the period jumps there; the means differ by what a drift or a wander does besides
	Uncertainty float64 `json:"standard_uncertainty"` // of that: noise of every kind, the place and a drift beside the jump left open
}

// String says it in words: the size of the jump itself, then the mean periods, which differ by all that the period does.
func (c Change) String() string {
	period := func(x float64) string {
		return quantity.Uncertain(x, math.Abs(c.After-c.Before)/20+1e-9*x, quantity.Second)
	}
	s := fmt.Sprintf("at %s by (%s) %%, from %s to %s", quantity.Format(c.Time, quantity.Second), quantity.Bare(100*c.By, 100*c.Uncertainty), period(c.Before), period(c.After))
	if c.Beside() {
		s += " with a slower change beside it"
	}
	return s
}

// Beside reports whether the period changes slowly besides: its means differ by more than the jump, by three standard uncertainties of
// that and a twentieth of it.
func (c Change) Beside() bool {
	return math.Abs(c.After/c.Before-1-c.By) > max(3*c.Uncertainty, math.Abs(c.By)/20)
}

// Levels are the two state levels found (IEEE 181 histogram modes) and the reference level between them, in volts (or 0/1).
type Levels struct {
	Low, High, Reference float64
	Hysteresis           float64 // full width of the band around the reference
	Noise                float64 // standard deviation about the state levels
	Unit                 string  // of all of it: "A", acquire.CountUnit, OwnUnit; empty: volts
	States               bool    // the levels are the two states of a logic capture, and no volts
	Ramps                bool    // the waveform dwells at no two levels: Low and High are only its extremes
}

// Amplitude is the difference of the two levels (IEEE 181).
func (l Levels) Amplitude() float64 { return l.High - l.Low }

// OwnUnit stands for a unit of levels that is not known here.
const OwnUnit = "?"

// Faults counts what was met in the pulse train and kept out of the fit.
type Faults struct {
	Runts    int // reached the hysteresis band's one side only
	Glitches int // pulses far too short to belong to the train
	Dropped  int // a missing edge pair: an interval near the sum of its neighbours
	Partial  int // first and last pulses cut by the record's ends
	Unknown  int // pulses broken by unknown samples
}

// Series keeps the single cycles for drift, Allan deviation and pictures; it may be thinned for a long capture.
type Series struct {
	Start     []float64 // s, rising edge of the cycle
	High, Low []float64 // s, the cycle's high time and the low time that follows it
	Every     int       // 1: each cycle is here; n: every n-th
}

// Walk is what the record says of random steps in the periods, which add up, and how much hangs on it: without them the
// error of the mean period shrinks with the cycles to the power 3/2, with them by their square root. The uncertainty of
// the period is averaged over both. It is zero where pulses do not follow on each other.
type Walk struct {
	Probability   float64 // that there are any
	Without, With float64 // s, standard uncertainty of the mean period if there are none and if there are, clock term left out
}

// Slow is what the record says of disturbances that do not average out from cycle to cycle.
type Slow struct {
	HumUnseen bool    // the record is shorter than two periods of the mains: hum would look like another period, and the uncertainty leaves it out
	Hum       float64 // Hz, of the mains line that was found and taken off; 0: none
	Swing     float64 // relative change of the period by it and by twice it
	Flicker   float64 // probability that the mean period has flicker noise, which no averaging lessens
	Wander    float64 // and that it walks at random, so that it has no mean but that over the record
	Modulation
}

// Modulation is how times go to and fro in order. Of a train with so little that it may still be averaged the uncertainty holds
// the whole of it, but for hum of the mains that was taken off.
type Modulation struct {
	Every     float64 `json:"cycles,omitempty"` // from one maximum to the next; 2: they alternate; 0: in no order, or slower than can be told
	Amplitude float64 `json:"rms"`              // root mean square as a share of the mean, of whichever time has most; the uncertainty holds it; 0: there is none
	Mains     bool    `json:"mains,omitempty"`  // as hum of the mains would
}

// Alternates reports whether every second pulse is unlike the ones between.
func (m Modulation) Alternates() bool { return m.Every > 0 && m.Every < 2.05 }

// String says what the modulation is like.
func (m Modulation) String() string {
	how := "in no order"
	switch {
	case m.Alternates():
		how = "the pulses alternate"
	case m.Every > 0:
		how = fmt.Sprintf("every %.3g pulses", m.Every)
	}
	if m.Mains {
		how += ", as by hum of the mains"
	}
	return how + ", " + quantity.Relative(m.Amplitude) + " rms"
}

// Term is one row of an uncertainty budget (JCGM 100 4 and 8).
type Term struct {
	Name         string
	Kind         string  // "A" or "B"
	Distribution string  // "normal", "rectangular"
	High, Low    float64 // s, standard uncertainty that it gives the mean high and the mean low time
	Period       float64 // s, and the mean period
	Clock        bool    // the common clock term: moves all times by one factor
}

// clock is the standard uncertainty of the clock factor (rectangular, JCGM 100 4.3.7).
func (m *Measurement) clock() float64 { return m.Clock / math.Sqrt(3) }

// WithClock gives e (High or Low) with the clock's term included.
func (m *Measurement) WithClock(e Estimate) Estimate {
	e.Uncertainty = math.Hypot(e.Uncertainty, e.Value*m.clock())
	return e
}

// Period is high plus low, in seconds, the clock's term included.
func (m *Measurement) Period() Estimate {
	v := m.High.Uncertainty*m.High.Uncertainty + m.Low.Uncertainty*m.Low.Uncertainty + 2*m.Covariance
	return m.WithClock(Estimate{m.High.Value + m.Low.Value, math.Sqrt(max(v, 0)), m.Cycles})
}

// Frequency is one over the period, in hertz, the clock's term included.
func (m *Measurement) Frequency() Estimate {
	p := m.Period()
	return Estimate{1 / p.Value, p.Uncertainty / (p.Value * p.Value), m.Cycles}
}

// Duty is high over period, a ratio (IEEE 181 duty factor). The clock does not enter: it cancels.
func (m *Measurement) Duty() Estimate {
	h, l := m.High.Value, m.Low.Value
	t := h + l
	dh, dl := l/(t*t), -h/(t*t)
	v := dh*dh*m.High.Uncertainty*m.High.Uncertainty + dl*dl*m.Low.Uncertainty*m.Low.Uncertainty + 2*dh*dl*m.Covariance
	return Estimate{h / t, math.Sqrt(max(v, 0)), m.Cycles}
}

// Each lists high and low time, period, frequency and duty factor, the clock's term included.
func (m *Measurement) Each() [5]Estimate {
	return [5]Estimate{m.WithClock(m.High), m.WithClock(m.Low), m.Period(), m.Frequency(), m.Duty()}
}

// Longest is the place of the longest of its stretches.
func (m *Measurement) Longest() (at int) {
	for i, s := range m.Stretches {
		if s.Cycles > m.Stretches[at].Cycles {
			at = i
		}
	}
	return at
}
