package compare

import "encoding/json"

// Finding is the whole answer about one board. Its JSON form is schema 1: keys are stable, units SI.
type Finding struct {
	Schema     int              `json:"schema"`
	Title      string           `json:"title,omitempty"`
	Finding    string           `json:"finding,omitempty"`   // the answer in one plain sentence
	Answer     []string         `json:"-"`                   // the same with the rivals, a sentence each
	Reasoning  string           `json:"reasoning,omitempty"` // why this cause and not that one, in one short paragraph
	Measured   Times[Measured]  `json:"measured"`
	Predicted  Times[Predicted] `json:"predicted"`
	Groups     []Group          `json:"groups"`
	Parts      []Part           `json:"parts"`
	Causes     []Cause          `json:"causes"`
	Families   []Family         `json:"families,omitempty"`  // what follows for each timer that may be fitted, where the design does not say it
	Deviation  []Deviation      `json:"deviation,omitempty"` // what the target misses by, shared out
	Verdict    Verdict          `json:"verdict"`
	Next       []Next           `json:"next"`
	Captures   []Capture        `json:"captures"`
	Waveform   *Waveform        `json:"waveform,omitempty"`  // of the capacitor, where a channel showed it
	Stability  *Stability       `json:"stability,omitempty"` // how the times run over the first capture long enough, and which part would explain it
	Stretches  []Stretch        `json:"stretches,omitempty"` // of a capture whose times change inside; parts and causes are those of the longest
	Latch      *Latch           `json:"latch,omitempty"`     // of a bistable: its truth table, in place of times and causes
	Confounded []string         `json:"confounded"`          // what cannot be told apart from what, in words
	Warnings   []string         `json:"warnings"`
}

// NotExcluded begins the line of Confounded that names the rivals of the likeliest cause. Where the causes are listed
// anyway it says nothing new.
const NotExcluded = "Not excluded beside "

// TimesSee and ClockAlike begin the lines of Confounded that hold of every board of a circuit.
const (
	TimesSee   = "The times see only "
	ClockAlike = "A slow or fast instrument clock "
)

// Group is a product or ratio of parts that the times pin down by themselves.
type Group struct {
	Group       string  `json:"group"`
	Nominal     float64 `json:"nominal"`
	Value       float64 `json:"value"`
	Uncertainty float64 `json:"standard_uncertainty"`
	Unit        string  `json:"unit"` // "s" or "1"
	// Near are the powers with which a half-cycle goes as the parts near the nominals, where no product or ratio is exact.
	Near map[string]float64 `json:"near,omitempty"`
}

// Part is what one part likely is, over the whole mixture of causes.
type Part struct {
	Name           string     `json:"name"`
	Unit           string     `json:"unit"`
	Nominal        float64    `json:"nominal"`
	Tolerance      float64    `json:"tolerance"` // relative, the larger side where they differ
	Limits         [2]float64 `json:"limits"`
	Value          float64    `json:"value"` // median
	Interval95     [2]float64 `json:"interval95"`
	OutOfTolerance float64    `json:"probability_out_of_tolerance"`
	Change         *Shift     `json:"change,omitempty"` // since the baseline, where there is one
	// Unsupported says that no cause explains the times, so that they say nothing of this part: its JSON is then without
	// value, interval and probability, and says "supported": false.
	Unsupported bool `json:"-"`
}

// MarshalJSON leaves out of a part what nothing supports.
func (p Part) MarshalJSON() ([]byte, error) {
	type part Part
	if !p.Unsupported {
		return json.Marshal(part(p))
	}
	return json.Marshal(struct {
		Name      string     `json:"name"`
		Unit      string     `json:"unit"`
		Nominal   float64    `json:"nominal"`
		Tolerance float64    `json:"tolerance"`
		Limits    [2]float64 `json:"limits"`
		Supported bool       `json:"supported"`
	}{p.Name, p.Unit, p.Nominal, p.Tolerance, p.Limits, false})
}

// UnmarshalJSON reads what MarshalJSON writes.
func (p *Part) UnmarshalJSON(text []byte) error {
	type part Part
	q := struct {
		*part
		Supported *bool `json:"supported"`
	}{part: (*part)(p)}
	if err := json.Unmarshal(text, &q); err != nil {
		return err
	}
	p.Unsupported = q.Supported != nil && !*q.Supported
	return nil
}

// Deviation is a share of what a quantity misses its target by, or the nominal where there is no target.
type Deviation struct {
	Quantity string  `json:"quantity"`
	Of       string  `json:"of"`    // a part, a cause, "timer", "supply", or "design" where its nominal misses the target
	Value    float64 `json:"value"` // logarithm of a ratio; the shares of one quantity add up to the whole
}

// Shift is by what factor a part has moved.
type Shift struct {
	Factor     float64    `json:"factor"` // median
	Interval95 [2]float64 `json:"interval95"`
}

// Next is one reading or test worth taking.
type Next struct {
	Reading     string  `json:"reading"`
	Kind        string  `json:"-"` // of package nextreading, for programs that act on it
	Part        string  `json:"part,omitempty"`
	Information float64 `json:"information_bits"`
	Tells       float64 `json:"tells"`  // share of what is open about the cause that it is expected to settle, 0 … 1
	Effort      float64 `json:"effort"` // whole minutes, common practice
	Caution     string  `json:"caution"`
	Enter       string  `json:"enter,omitempty"` // how to tell offbeat what it shows
}
