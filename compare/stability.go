package compare

import (
	"offbeat/fit"
	"offbeat/fit/stability"
)

// Stability is how a pulse train's times run over a capture: its jitter by kind, its Allan deviation, its drift. A capture
// that is too short for those, or whose temperature does not change, has the uncertainty of its period alone.
type Stability struct {
	Period      *PeriodUncertainty `json:"period_uncertainty,omitempty"`
	EdgeNoise   Measured           `json:"edge_noise,omitzero"`   // s, standard deviation of the white noise of an edge, rounding by the sample interval included
	PeriodNoise Measured           `json:"period_noise,omitzero"` // s, standard deviation of the random step of each period, which adds up
	Allan       []AllanPoint       `json:"allan_deviation"`
	Drift       Drift              `json:"drift,omitzero"`
	Changes     []fit.Change       `json:"changes,omitempty"`       // where the times jump inside the capture, in the order of time
	Moves       fit.Moves          `json:"moves,omitzero"`          // how the period moves where it does not jump
	Shots       bool               `json:"single_pulses,omitempty"` // each triggered from outside: changes and moves are of their length
	Modulation  *fit.Modulation    `json:"modulation,omitempty"`
	Rounding    *float64           `json:"rounding,omitempty"` // s, the sample interval to which the edges are rounded: noise below it is not told; absent: they are not
	Course      *Course            `json:"-"`                  // for pictures; nil: too short a capture
}

// Course is how the period runs over a capture in blocks of cycles: against what its drift is told against, or against the
// time where it changes inside.
type Course struct {
	Period float64 // s, mean, at Middle
	Middle float64 // of the quantity
	Blocks []Block
	Laws   []stability.Law
}

// Block is the mean period of some cycles in a row.
type Block struct {
	At     float64 // s or °C
	Period Measured
}

// Of is what changes and moves.
func (s *Stability) Of() string { return fit.Subject(s.Shots) }

// Stretch is what lies between two changes of a capture, solved as a capture of its own.
type Stretch struct {
	Captures []string        `json:"captures,omitempty"` // where captures disagree: those that are alike, which have no from and to
	From     *float64        `json:"from,omitempty"`     // s, on the capture's axis; absent: its beginning
	To       *float64        `json:"to,omitempty"`       // absent: its end
	Cycles   int             `json:"cycles"`
	Measured Times[Measured] `json:"measured"`
	Cause    Cause           `json:"cause"` // the likeliest
	Verdict  Verdict         `json:"verdict"`
	Finding  string          `json:"finding"`
}

// PeriodUncertainty is how the standard uncertainty of the mean period hangs on what noise the train has: white noise of
// the edges alone, or a random step in each period too, which adds up. The uncertainty stated of the period is the mean
// over both, as root mean square. A walk that would not widen the uncertainty by a tenth counts as none.
type PeriodUncertainty struct {
	White       float64 `json:"white_alone"` // s
	Walk        float64 `json:"with_walk"`   // s
	Probability float64 `json:"probability_of_walk"`
	Flicker     float64 `json:"probability_of_flicker,omitempty"` // noise of the period that no averaging lessens; the uncertainty holds it
	Wander      float64 `json:"probability_of_wander,omitempty"`  // and a random walk of the period: it has no mean but that over the record
	Hum         float64 `json:"hum_frequency,omitempty"`          // Hz, the line of the mains that was found and taken off
	Swing       float64 `json:"hum_swing,omitempty"`              // relative change of the period by it and by twice it
	HumUnseen   bool    `json:"hum_unseen,omitempty"`             // the record is shorter than two periods of the mains: hum can't be told, and the uncertainty leaves it out
}

// AllanPoint is the stability of the period at one averaging time (NIST SP 1065, 5.2.4 and 5.2.9).
type AllanPoint struct {
	Time     float64    `json:"averaging_time"`               // s
	Value    float64    `json:"value"`                        // overlapping Allan deviation, relative
	Interval [2]float64 `json:"interval95"`                   // of the value, by the degrees of freedom for white frequency noise
	Hadamard *float64   `json:"hadamard_deviation,omitempty"` // overlapping; blind to a linear drift
	Terms    int        `json:"terms"`                        // differences behind the value
}

// Seen is by how many standard uncertainties a drift, or an asymptote off its place, must stand out to be stated
// (common practice).
const Seen = 3

// Drift is by how much the period changes, relative, for each second or kelvin.
type Drift struct {
	Against     string       `json:"against"` // time, temperature
	Unit        string       `json:"unit"`    // "1/s", "1/K"
	Value       float64      `json:"value"`
	Uncertainty float64      `json:"standard_uncertainty"`
	Seen        bool         `json:"significant"` // it exceeds three standard uncertainties
	High        Measured     `json:"high_time"`   // that of the high time
	Low         Measured     `json:"low_time"`    // and of the low time
	Correlation float64      `json:"correlation"` // of those two
	Range       float64      `json:"range"`       // s or K over which it was seen
	Causes      []DriftCause `json:"causes,omitempty"`
}

// Told says whether there is a drift at all, seen or not: a short capture, or one at one temperature, has none.
func (d *Drift) Told() bool { return d.Against != "" }

// DriftCause is one part that would make the drift by itself.
type DriftCause struct {
	Part        string     `json:"part"`
	Value       float64    `json:"value"` // relative change of the part for each second or kelvin
	Uncertainty float64    `json:"standard_uncertainty"`
	Fit         float64    `json:"fit"`                                // probability that the drifts of both times are as far from it by chance
	Tempco      [2]float64 `json:"temperature_coefficient"`            // 1/K, limits of what is known of the part's
	Warming     *float64   `json:"least_temperature_change,omitempty"` // K over the capture, of a drift over time
	Plausible   bool       `json:"plausible"`
}
