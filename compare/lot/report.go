package lot

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/lot/acceptance"
	"offbeat/compare/lot/chart"
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
	Silent     []Failure             `json:"no_pulses"` // boards whose capture was read and shows none: they count as nonconforming
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

// Report decides on the lot.
func (c *Collector) Report(opt Options) (*Report, error) {
	opt = opt.usual()
	c.unlike()
	for _, name := range c.lots() {
		if err := opt.Check(len(c.of(name))); err != nil {
			return nil, err
		}
	}
	r := &Report{Schema: 1, Title: c.design.Title, Capability: map[string]Capability{}, Values: map[string][]float64{}, Boards: count(c.rows), Duplicates: c.duplicates}
	for i := range c.rows {
		switch row := &c.rows[i]; {
		case row.Silent != "":
			r.Silent = append(r.Silent, Failure{row.Board, row.Silent})
		case row.Error != "":
			r.Failed = append(r.Failed, Failure{row.Board, row.Error})
		}
	}
	rows := judged(c.rows)
	for _, row := range rows {
		row.Cause, row.Apart = row.own, nil // of an earlier report
	}
	whole := c.moved(rows, opt)
	r.Parts, r.Causes, r.Confounded = whole.parts, whole.causes, whole.confounded
	r.Warnings = append(r.Warnings, whole.warnings...)
	if r.Batches = c.batches(rows, opt); len(r.Batches) == 0 {
		c.stand(r, whole)
	}
	for i := range r.Batches { // who stands out is judged in its own batch
		c.stand(r, r.Batches[i].moved)
	}
	c.limits(r, rows, opt)
	r.Headline = c.headline(r, rows)
	c.gauges(r, rows)
	r.Follows = c.follows(rows)
	if err := c.decide(r, opt); err != nil {
		return nil, err
	}
	r.Plan, r.Stations, r.Operators = &r.Acceptance.Plan, c.stations, c.operators
	r.warn(c.design)
	r.Finding = r.sentence(c.design)
	return r, nil
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

// lots are the names of the lots, in the order in which they appear.
func (c *Collector) lots() []string {
	var out []string
	for i := range c.rows {
		if !slices.Contains(out, c.rows[i].Lot) {
			out = append(out, c.rows[i].Lot)
		}
	}
	return out
}

// of are the rows of one lot.
func (c *Collector) of(lot string) []Row {
	var out []Row
	for i := range c.rows {
		if c.rows[i].Lot == lot {
			out = append(out, c.rows[i])
		}
	}
	return out
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
