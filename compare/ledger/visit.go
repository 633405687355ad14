package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"offbeat/compare"
	"offbeat/compare/lot"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// Visit is one result of one board.
type Visit struct {
	Key         string    `json:"key"` // identifies the result; set by Record
	Board       string    `json:"board"`
	Lot         string    `json:"lot,omitempty"`
	Design      string    `json:"design,omitempty"` // title
	Revision    string    `json:"design_revision"`
	Tool        string    `json:"tool_version"`
	Station     string    `json:"station,omitempty"`
	Operator    string    `json:"operator,omitempty"`
	At          time.Time `json:"time"`                  // of the capture; the time of recording where it is not known
	Recorded    time.Time `json:"recorded"`              // when it was written down; set by Record where zero
	Temperature *float64  `json:"temperature,omitempty"` // °C
	Supply      *float64  `json:"supply,omitempty"`      // V
	Verdict     string    `json:"verdict"`               // pass, fail, undecided, no target; empty with an Error
	Error       string    `json:"error,omitempty"`       // why there is no result

	Measured    compare.Times[compare.Measured] `json:"measured"`
	Cause       string                          `json:"cause,omitempty"` // the likeliest
	CauseParts  []string                        `json:"cause_parts"`
	Probability float64                         `json:"probability"`
	Parts       []Part                          `json:"parts"`
	Captures    []Capture                       `json:"captures"`
}

// Part is what a part likely was.
type Part struct {
	Name           string     `json:"name"`
	Nominal        float64    `json:"nominal"`
	Value          float64    `json:"value"`
	Interval95     [2]float64 `json:"interval95"`
	OutOfTolerance float64    `json:"probability_out_of_tolerance"`
}

// Capture is a raw file.
type Capture struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"` // hexadecimal; empty where the file could not be read
}

// Of makes the visit of a board of a lot from its finding, or from why there is none; it digests the raw files.
func Of(b *lot.Board, f *compare.Finding, failure error) *Visit {
	first := &b.Captures[0]
	v := &Visit{Board: b.Name, Lot: b.Lot, Station: first.Station, Operator: first.Operator, At: first.Time, Temperature: first.Temperature}
	if first.Supply != nil {
		v.Supply = &first.Supply.Value
	}
	b.Identify()
	for i := range b.Captures {
		v.Captures = append(v.Captures, Capture{b.Captures[i].Capture, b.Digests[i]})
	}
	if failure != nil {
		v.Error = failure.Error()
		return v
	}
	v.take(f)
	return v
}

// take copies a finding into the visit.
func (v *Visit) take(f *compare.Finding) {
	v.Verdict, v.Measured = f.Verdict.Result, f.Measured
	if len(f.Causes) > 0 {
		c := f.Causes[0]
		v.Cause, v.CauseParts, v.Probability = c.Cause, c.Parts, c.Probability
	}
	v.Parts = nil
	for _, p := range f.Parts {
		v.Parts = append(v.Parts, Part{p.Name, p.Nominal, p.Value, p.Interval95, p.OutOfTolerance})
	}
}

// key is a digest of what makes a result the same: board, lot, design, version and the raw files.
func (v *Visit) key() string {
	h := sha256.New()
	fields := []string{v.Board, v.Lot, v.Revision, v.Tool}
	for _, c := range v.Captures {
		digest := c.SHA256
		if digest == "" {
			digest = "unread " + c.Name
		}
		fields = append(fields, digest)
	}
	for _, f := range fields {
		fmt.Fprintf(h, "%d:%s", len(f), f) // the length keeps neighbours apart
	}
	return hex.EncodeToString(h.Sum(nil))
}

// Revision is a short digest of all that a design says, its file's name and comments apart.
func Revision(d *fit.Design) (string, error) {
	bare := *d
	bare.File, bare.Notes = "", nil
	text, err := json.Marshal(bare)
	if err != nil {
		return "", fmt.Errorf("the design has no revision: %w", err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:6]), nil
}

// columnsOf pairs the five measured quantities with their columns.
func columnsOf(t *compare.Times[compare.Measured]) []**compare.Measured {
	return []**compare.Measured{&t.High, &t.Low, &t.Period, &t.Frequency, &t.Duty}
}

// quantities are the columns' names, in the same order.
var quantities = predict.Quantities

// layout writes times so that their text sorts as they do.
const layout = "2006-01-02T15:04:05.000000000Z"

func stamp(t time.Time) string { return t.UTC().Format(layout) }

// list stores a few names in one column; unlist reads them back.
func list(names []string) string { return strings.Join(names, ",") }

func unlist(text string) []string {
	if text == "" {
		return []string{}
	}
	return strings.Split(text, ",")
}
