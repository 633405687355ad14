package lot

import (
	"cmp"
	"fmt"
	"time"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/lot/acceptance"
	"offbeat/compare/lot/chart"
	"offbeat/compare/lot/gauge"
	"offbeat/fit"
)

// Report is the answer about a lot, boards apart: these are written as they come. Its JSON form joins schema 1.
type Report struct {
	Schema     int                   `json:"schema,omitempty"`
	Title      string                `json:"title,omitempty"`
	Lot        string                `json:"lot,omitempty"`      // its name, where there is one lot alone
	Finding    string                `json:"finding"`            // the answer in plain sentences
	Headline   *Headline             `json:"headline,omitempty"` // where most boards fail
	Acceptance Acceptance            `json:"acceptance"`
	Variables  []Variables           `json:"variables"`
	Capability map[string]Capability `json:"capability"` // by quantity of the target
	Parts      []Part                `json:"parts"`
	Causes     []compare.Cause       `json:"causes"`     // of the lot's centre: what moved every board alike
	Confounded []string              `json:"confounded"` // of the centre
	Outliers   []string              `json:"outliers"`   // boards
	Standing   []Outlier             `json:"outlier_details"`
	Failed     []Failure             `json:"failed"`
	Duplicates []Duplicate           `json:"duplicates"`
	Silent     []Failure             `json:"no_pulses"`          // boards whose capture was read and shows none: they count as nonconforming
	Changing   []Changing            `json:"changing,omitempty"` // boards whose times change inside a capture: none of them passes
	Gauge      []Gauge               `json:"gauge"`
	Effects    []MeasuredEffect      `json:"effects"` // of stations, operators and the temperature
	Charts     []Chart               `json:"charts"`
	Batches    []Batch               `json:"batches"`               // where the boards are two groups
	Trends     []Trend               `json:"trends"`                // along the boards
	Follows    *compare.Drift        `json:"temperature,omitempty"` // how the boards that were captured at several temperatures follow it
	Lots       []Sublot              `json:"lots"`                  // where the manifest names several
	Switching  string                `json:"switching,omitempty"`
	Boards     Count                 `json:"count"`
	Warnings   []string              `json:"warnings"`
	About

	besides string   // what goes with the batches
	slipped []string // boards whose times are a power of a thousand of the design's
	failing []string // boards with pulses: those that stand out or change among them, as the table counts

	Values map[string][]float64 `json:"-"` // of the judged boards, by quantity of the target, in the charts' order
}

// About is what an auditor asks of a report: who decided what, when, by what plan, on which design and captures.
type About struct {
	Version      string         `json:"version,omitempty"` // of the program
	At           *time.Time     `json:"at,omitempty"`      // of the decision
	DecidedBy    string         `json:"decided_by,omitempty"`
	DesignSHA256 string         `json:"design_sha256,omitempty"` // of the design's text
	Instrument   *Instrument    `json:"instrument,omitempty"`
	Options      map[string]any `json:"options"`        // what was typed that changes a result
	Plan         *Plan          `json:"plan,omitempty"` // the one that decides
	Stations     []string       `json:"stations"`
	Operators    []string       `json:"operators"`
}

// Instrument is what measured, by the design.
type Instrument struct {
	Name       string  `json:"name,omitempty"`
	Calibrated string  `json:"calibrated,omitempty"` // ISO 8601
	Clock      string  `json:"clock,omitempty"`      // as written
	Limit      float64 `json:"clock_limit"`          // relative, rectangular
}

// InstrumentOf is the design's.
func InstrumentOf(d *fit.Design) *Instrument {
	return &Instrument{d.Instrument, d.Calibrated, d.Clock, d.ClockLimit}
}

// Count is how many boards came to what.
type Count struct {
	Boards    int `json:"boards"`
	Pass      int `json:"pass"`
	Fail      int `json:"fail"`
	Undecided int `json:"undecided"`
	NoTarget  int `json:"no_target"`
	Silent    int `json:"no_pulses"` // of those that fail
	Failed    int `json:"failed"`
}

// Failure is a board without values, and why.
type Failure struct {
	Board string `json:"board"`
	Error string `json:"error"`
}

// Outlier is a board that stands out, with what likeliest sets it apart from the others: its parts come from the same batches.
type Outlier struct {
	Board    string        `json:"board"`
	Distance float64       `json:"distance"` // Mahalanobis, from the other boards
	Cause    compare.Cause `json:"cause"`
}

// Sublot is one lot of several.
type Sublot struct {
	Lot        string      `json:"lot"`
	Acceptance Acceptance  `json:"acceptance"`
	Variables  []Variables `json:"variables"`
	Parts      []Part      `json:"parts"`
	Boards     Count       `json:"count"`
}

// Options of a report. The zero value is the default.
type Options struct {
	LotSize    int                   // boards in the lot that the sample was drawn from, or in each where there are several; 0: not known
	Level      string                // inspection level; empty: II
	Inspection acceptance.Inspection // of the first lot; empty: normal. The switching rules lead on from there
	AQL        float64               // percent; 0: 1.0
	ByValue    bool                  // decide by variables in place of attributes
	Rules      []int                 // of the charts, by ISO 7870-2; nil: 1 and 2
	Weight     float64               // of the EWMA chart; 0: its default
	Seed       uint64                // of the sampler
}

// usualAQL is common practice for major defects.
const usualAQL = 1.0

// usual fills in the defaults.
func (o Options) usual() Options {
	o.AQL, o.Inspection = cmp.Or(o.AQL, usualAQL), cmp.Or(o.Inspection, acceptance.Normal)
	return o
}

// Check finds what is wrong with the options before lots are worked through, the largest of which lists so many boards.
func (o Options) Check(boards int) error {
	o = o.usual()
	if o.LotSize != 0 && o.LotSize < boards {
		return fmt.Errorf("the lot size is %d, but %s are listed; expected a lot that holds them all", o.LotSize, quantity.Plural(boards, "board"))
	}
	size := max(o.LotSize, boards, 2)
	if _, err := acceptance.ByLot(size, o.Level, o.Inspection, o.AQL); err != nil {
		return err
	}
	if o.ByValue {
		_, err := acceptance.VariablesByLot(size, o.Level, o.Inspection, o.AQL)
		return err
	}
	return nil
}

// Largest counts the boards of the lot that lists most.
func Largest(boards []Board) int {
	n := map[string]int{}
	most := 0
	for i := range boards {
		n[boards[i].Lot]++
		most = max(most, n[boards[i].Lot])
	}
	return most
}

// count sorts the rows by verdict.
func count(rows []Row) Count {
	n := Count{Boards: len(rows)}
	for i := range rows {
		if rows[i].Silent != "" {
			n.Silent++
		}
		switch rows[i].Verdict {
		case "":
			n.Failed++
		case "pass":
			n.Pass++
		case "fail":
			n.Fail++
		case "undecided":
			n.Undecided++
		default:
			n.NoTarget++
		}
	}
	return n
}

// Chart is one control chart.
type Chart struct {
	Quantity string        `json:"quantity"`
	Chart    string        `json:"chart"`
	Centre   float64       `json:"centre"`
	Low      float64       `json:"low"` // of the last point
	High     float64       `json:"high"`
	Signals  []ChartSignal `json:"signals"`
	Chance   float64       `json:"chance"` // that a steady lot shows as many signals or more
	Steady   bool          `json:"steady"` // no signal, or no more than chance makes
	Drawing  *chart.Chart  `json:"-"`
	Labels   []string      `json:"-"` // boards or lots, one a point
}

// ChartSignal is a rule that fired.
type ChartSignal struct {
	At   string `json:"at"` // board, or lot
	Rule int    `json:"rule"`
	Name string `json:"name"`
}

// Acceptance is the decision on a lot.
type Acceptance struct {
	Result        acceptance.Result `json:"result"`
	Reason        string            `json:"reason"`
	Method        string            `json:"method"`      // attributes or variables
	SampleSize    int               `json:"sample_size"` // boards with a verdict
	Nonconforming int               `json:"nonconforming"`
	Open          int               `json:"without_verdict"` // undecided boards, and those that could not be read
	Accept        int               `json:"accept_number"`
	Reject        int               `json:"reject_number"`
	Plan          Plan              `json:"plan"` // the one that decides

	Curve acceptance.Curve `json:"-"` // operating characteristic of the plan
}

// Plan says where the numbers come from and what risk they carry.
type Plan struct {
	Standard   string                `json:"standard"`
	How        string                `json:"how"`
	Inspection acceptance.Inspection `json:"inspection"`
	Letter     string                `json:"letter"`
	Size       int                   `json:"sample_size"`
	AQL        float64               `json:"aql_percent"`
	LotSize    int                   `json:"lot_size,omitempty"`
	Accept     *int                  `json:"accept_number,omitempty"` // by attributes
	Reject     *int                  `json:"reject_number,omitempty"`
	K          *float64              `json:"k,omitempty"` // by variables
	M          *float64              `json:"m,omitempty"`
	Producer   float64               `json:"accepted_95"` // fraction nonconforming that is accepted with 95 %
	Consumer   float64               `json:"accepted_10"` // and with 10 %
}

// Variables is the decision on one quantity by variables.
type Variables struct {
	Quantity      string            `json:"quantity"`
	Result        acceptance.Result `json:"result"`
	Reason        string            `json:"reason"`
	Standard      string            `json:"standard"`
	Letter        string            `json:"letter"`
	Size          int               `json:"sample_size"`
	K             float64           `json:"k"`
	M             float64           `json:"m"`
	Low           *float64          `json:"quality_index_low,omitempty"`
	High          *float64          `json:"quality_index_high,omitempty"`
	Nonconforming *float64          `json:"estimated_nonconforming,omitempty"`
	Plan          Plan              `json:"plan"`

	Curve acceptance.Curve `json:"-"`
}

// Capability is how one quantity fits its limits. Indexes that have no meaning are left out.
type Capability struct {
	N          int         `json:"count"`
	Mean       float64     `json:"mean"`
	Deviation  float64     `json:"standard_deviation"`
	Within     float64     `json:"within_standard_deviation"`
	Limits     [2]*float64 `json:"limits"`
	Cp         *float64    `json:"cp,omitempty"`
	Cpk        *float64    `json:"cpk,omitempty"`
	Pp         *float64    `json:"pp,omitempty"`
	Ppk        *float64    `json:"ppk,omitempty"`
	CpInterval *[2]float64 `json:"cp_interval95,omitempty"`
	CpkLimits  *[2]float64 `json:"cpk_interval95,omitempty"`
	PpInterval *[2]float64 `json:"pp_interval95,omitempty"`
	PpkLimits  *[2]float64 `json:"ppk_interval95,omitempty"`
	Outside    float64     `json:"fraction_outside"` // of a normal process with that mean and overall deviation
	Normality  Normality   `json:"normality"`
}

// Normality is the test for a normal distribution; the numbers are left out with fewer than eight boards.
type Normality struct {
	Test      string   `json:"test"`
	Statistic *float64 `json:"statistic,omitempty"`
	P         *float64 `json:"p_value,omitempty"`
}

// leastP is the smallest p-value written out: all below it mean the same.
const leastP = 0.001

// Words is the p-value as a person reads it; "" where there is none.
func (n Normality) Words() string {
	switch {
	case n.P == nil:
		return ""
	case *n.P < leastP:
		return "p < 0.001"
	}
	return fmt.Sprintf("p = %.2g", *n.P)
}

// Gauge is what measuring adds to one quantity.
type Gauge struct {
	Quantity        string     `json:"quantity"`
	Method          string     `json:"method"`
	Stations        string     `json:"by"` // station, operator, or both
	Boards          int        `json:"boards"`
	Count           int        `json:"stations"`
	Observations    int        `json:"observations"`
	Repeatability   float64    `json:"repeatability"`
	Interval95      [2]float64 `json:"repeatability_interval95"`
	Reproducibility *float64   `json:"reproducibility,omitempty"`
	Interaction     *float64   `json:"interaction,omitempty"`
	Total           float64    `json:"gauge"`
	BoardToBoard    *float64   `json:"board_to_board,omitempty"`
	Share           *float64   `json:"tolerance_share,omitempty"`         // six of Total over the tolerance
	PerKelvin       *float64   `json:"temperature_coefficient,omitempty"` // 1/K, taken out of all of these
	Notes           []string   `json:"notes"`
}

// MeasuredEffect is what one station, one operator or the temperature does to one quantity.
type MeasuredEffect struct {
	Quantity string `json:"quantity"`
	gauge.Effect
}

// Part is what one part does over the lot: Shift of its batch's mean against the nominal, and Spread from board
// to board, both of ln(value).
type Part struct {
	Name           string   `json:"name"`
	Shift          Estimate `json:"shift"`
	Spread         Estimate `json:"spread"`
	OutOfTolerance float64  `json:"probability_out_of_tolerance"` // of the batch's mean
}

// Estimate is a number with its standard uncertainty.
type Estimate struct {
	Value       float64    `json:"value"`
	Uncertainty float64    `json:"standard_uncertainty"`
	Interval95  [2]float64 `json:"interval95"`
}

// moved is what the lot's boards have in common.
type moved struct {
	parts      []Part
	causes     []compare.Cause
	confounded []string
	outliers   []outlier
	warnings   []string
}

// outlier is a board that stands out, by its distance from the others.
type outlier struct {
	row      *Row
	distance float64
}

// Batch is one of the groups that a lot's boards fall into.
type Batch struct {
	Boards []string        `json:"boards"`
	From   string          `json:"from,omitempty"` // the board with which it begins, where it comes after another
	Count  Count           `json:"count"`
	High   float64         `json:"high_time"` // mean of who does not stand out, ln against what the design predicts
	Low    float64         `json:"low_time"`
	Parts  []Part          `json:"parts"`
	Causes []compare.Cause `json:"causes"`
	rows   []*Row
	usual  []*Row // that do not stand out among them
	moved  *moved
}

// Headline is what most boards fail by: the part whose batch takes them off target, in tolerance or not, and what the target
// bears of it.
type Headline struct {
	Quantity  string      `json:"quantity"`
	Failing   int         `json:"failing"`
	Boards    int         `json:"boards"`
	Mean      float64     `json:"mean"`                // of the boards that do not stand out
	Aside     int         `json:"stand_out,omitempty"` // how many do
	Limits    [2]*float64 `json:"limits"`
	Part      string      `json:"part,omitempty"`        // empty: no single part makes most of it
	Likely    float64     `json:"probability,omitempty"` // of the cause that names it: shifted, or nothing out of tolerance
	Shift     float64     `json:"shift,omitempty"`       // relative, of the batch's mean against nominal
	Tolerance float64     `json:"tolerance,omitempty"`
	Inside    bool        `json:"in_tolerance,omitempty"`
	Bears     *[2]float64 `json:"target_bears,omitempty"` // relative, of the batch's mean, for 95 % of boards of this scatter to be on target; nil: of this scatter none
}

// Trend is a drift of one quantity along the boards, in the order of time, else of the manifest.
type Trend struct {
	Quantity    string   `json:"quantity"`
	From        string   `json:"from"`  // the first board
	To          string   `json:"to"`    // the last
	Value       float64  `json:"value"` // relative change from the first to the last, by the line through all
	Uncertainty float64  `json:"standard_uncertainty"`
	P           float64  `json:"p_value"`                   // of no drift, by Student's distribution
	Bent        *Bent    `json:"bent,omitempty"`            // where it runs otherwise than straight: the line's numbers are no description then
	Batches     []string `json:"or_batches_from,omitempty"` // with which boards other batches may begin instead
}

// Bent is a smooth course along the boards: with which of them it is lowest and highest, and by how much, relative to the mean.
type Bent struct {
	Lowest  string  `json:"lowest"`
	Highest string  `json:"highest"`
	Range   float64 `json:"range"`
}
