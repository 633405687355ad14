// Package ledger keeps every board's result: what was measured when, where and by whom, from which raw file (by
// its SHA-256), against which design, with which version of the program and which options; what was decided on its lot;
// and what a repair found.
//
// A result's key is a digest of all that makes it what it is: board, lot, design, version, options, and each capture's
// bytes and conditions. The same key is the same result, so that a run that is repeated adds nothing twice; anything else
// is another result of the board, and both stay. The newest one is the current one and supersedes the others. A board that
// stands out from its lot gets a second result once all are known: what sets it apart from the others, in place of the cause
// that its own times name; when it no longer stands out, its own result stands again.
package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"offbeat/acquire/manifest"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot"
	"offbeat/fit"
)

// Visit is one result of one board.
type Visit struct {
	Key          string          `json:"key"` // identifies the result
	Board        string          `json:"board"`
	Lot          string          `json:"lot,omitempty"`
	Place        int             `json:"place"`            // among its manifest's boards, from 0; -1: none
	Design       string          `json:"design,omitempty"` // title
	Revision     string          `json:"design_revision"`
	DesignSHA256 string          `json:"design_sha256,omitempty"` // of the design's text
	Tool         string          `json:"tool_version"`
	Version      string          `json:"version"` // the same
	Options      map[string]any  `json:"options"` // what was typed that changes a result
	Instrument   *lot.Instrument `json:"instrument,omitempty"`
	Station      string          `json:"station,omitempty"`
	Operator     string          `json:"operator,omitempty"`
	Stations     []string        `json:"stations"`
	Operators    []string        `json:"operators"`
	At           time.Time       `json:"time"`                  // of the capture; the time of recording where it is not known
	Recorded     time.Time       `json:"recorded"`              // when it was written down; set by Record where zero
	Written      time.Time       `json:"at"`                    // the same
	Temperature  *float64        `json:"temperature,omitempty"` // °C
	Supply       *float64        `json:"supply,omitempty"`      // V
	Verdict      string          `json:"verdict"`               // pass, fail, undecided, no target; empty with an Error
	Error        string          `json:"error,omitempty"`       // why there is no result
	Silent       bool            `json:"no_pulses,omitempty"`

	Measured    compare.Times[compare.Measured] `json:"measured"`
	Cause       string                          `json:"cause,omitempty"` // the likeliest
	CauseParts  []string                        `json:"cause_parts"`
	Probability float64                         `json:"probability"`
	Parts       []compare.Part                  `json:"parts"` // by its own times
	Captures    []Capture                       `json:"captures"`

	Finding   string            `json:"finding,omitempty"`
	Judgement *compare.Verdict  `json:"judgement,omitempty"` // verdict with its rule, limits and guard band
	Causes    []compare.Cause   `json:"causes,omitempty"`    // those with 0.1 % or more
	Predicted [2]float64        `json:"predicted"`           // s, nominal high and low time; 0 where there is none
	Read      []compare.Capture `json:"read,omitempty"`      // what was recognised of the captures
	Warnings  []string          `json:"warnings,omitempty"`
	Whole     *Whole            `json:"whole,omitempty"` // all that was found of a single board
	Alone     *Alone            `json:"alone,omitempty"` // what its own times say, where finding and causes are against the other boards of its lot

	SupersededBy string    `json:"superseded_by,omitempty"` // the key of the board's current result, where that is another
	Decision     *Decision `json:"decision,omitempty"`      // the latest on its lot
}

// Capture is a raw file, how it was taken and what it measured.
type Capture struct {
	Name        string          `json:"name"`
	SHA256      string          `json:"sha256"` // hexadecimal; empty where the file could not be read
	Station     string          `json:"station,omitempty"`
	Operator    string          `json:"operator,omitempty"`
	Time        *time.Time      `json:"time,omitempty"`
	Temperature *float64        `json:"temperature,omitempty"` // °C
	Conditions  json.RawMessage `json:"conditions,omitempty"`  // supply and readings, as the manifest gives them
	Records     []Record        `json:"records,omitempty"`     // one a record that was measured
}

// Record is what one record measured: times in s, their covariance in s² without the clock, and the same as logarithms.
type Record struct {
	High         compare.Measured  `json:"high_time"`
	Low          *compare.Measured `json:"low_time,omitempty"`
	Covariance   float64           `json:"covariance"`
	Clock        float64           `json:"clock"` // relative limit, rectangular
	Cycles       int               `json:"cycles"`
	LnHigh       float64           `json:"ln_high_time"`
	LnLow        float64           `json:"ln_low_time,omitempty"`
	LnCovariance [3]float64        `json:"ln_covariance"` // high-high, high-low, low-low
}

// Run is what the results of one run have in common.
type Run struct {
	Title, Revision, DesignSHA256, DesignText, Tool string
	Options                                         map[string]any // what was typed that changes a result
	Instrument                                      *lot.Instrument
}

// NewRun describes a run. The text is the design's as it was read; where there is none, as with a design that was typed,
// the design itself stands for it.
func NewRun(d *fit.Design, text []byte, tool string, options map[string]any) (*Run, error) {
	bare := *d
	bare.File, bare.Notes = "", nil
	bare.Instrument, bare.Calibrated = "", "" // a result does not depend on them
	meant, err := json.Marshal(bare)
	if err != nil {
		return nil, fmt.Errorf("the design has no revision: %w", err)
	}
	if len(text) == 0 {
		text = meant
	}
	return &Run{Title: d.Title, Revision: Digest(meant)[:12], DesignSHA256: Digest(text), DesignText: string(text), Tool: tool, Options: options, Instrument: lot.InstrumentOf(d)}, nil
}

// Key identifies a board's result before it is worked out: a digest of board, lot, design, version, options, and of each
// capture's bytes and conditions. It is empty where a capture cannot be read: that may be otherwise next time.
func (r *Run) Key(b *lot.Board) string {
	b.Identify()
	if slices.Contains(b.Digests, "") {
		return ""
	}
	return r.digest(b)
}

func (r *Run) digest(b *lot.Board) string {
	options, err := json.Marshal(r.Options)
	if err != nil { // they were typed as text
		options = []byte(fmt.Sprint(r.Options))
	}
	h := sha256.New()
	write := func(fields ...string) {
		for _, f := range fields {
			fmt.Fprintf(h, "%d:%s", len(f), f) // the length keeps neighbours apart
		}
	}
	write(b.Name, b.Lot, r.Revision, r.Tool, string(options))
	for i := range b.Captures {
		e := &b.Captures[i]
		digest := b.Digests[i]
		if digest == "" {
			digest = "unread " + e.Capture
		}
		write(digest, e.Station, e.Operator, Stamp(e.Time), string(conditions(e)))
	}
	return hex.EncodeToString(h.Sum(nil))
}

// conditions are what the manifest says of a capture that changes its result.
func conditions(e *manifest.Entry) json.RawMessage {
	type reading struct{ Name, Value string }
	c := struct {
		Temperature *float64  `json:"temperature,omitempty"`
		Supply      string    `json:"supply,omitempty"`
		Readings    []reading `json:"readings,omitempty"`
	}{Temperature: e.Temperature}
	if e.Supply != nil {
		c.Supply = e.Supply.String()
	}
	for _, r := range e.Readings {
		c.Readings = append(c.Readings, reading{r.Name, r.Quantity.String()})
	}
	text, err := json.Marshal(c)
	if err != nil || string(text) == "{}" {
		return nil
	}
	return text
}

// Visit makes a result of what became of a board.
func (r *Run) Visit(o *lot.Outcome) *Visit {
	b := o.Board
	b.Identify()
	first := &b.Captures[0]
	v := &Visit{Key: r.digest(b), Board: b.Name, Lot: b.Lot, Place: b.Place, Design: r.Title, Revision: r.Revision, DesignSHA256: r.DesignSHA256, Tool: r.Tool, Version: r.Tool,
		Options: r.Options, Instrument: r.Instrument, Station: first.Station, Operator: first.Operator, At: first.Time, Temperature: first.Temperature}
	if first.Supply != nil {
		v.Supply = &first.Supply.Value
	}
	for i := range b.Captures {
		v.Captures = append(v.Captures, captureOf(&b.Captures[i], b.Digests[i], o.Each))
		v.Stations, v.Operators = lot.With(v.Stations, b.Captures[i].Station), lot.With(v.Operators, b.Captures[i].Operator)
	}
	if o.Err != nil {
		v.Error = o.Err.Error()
		return v
	}
	v.take(o.Finding)
	v.Silent = o.Silent
	if slices.Contains(b.Digests, "") { // a pipe, whose bytes are gone: what it showed tells it from the next
		h := sha256.New()
		fmt.Fprintln(h, v.Key)
		for _, m := range o.Each {
			fmt.Fprintln(h, m.Measurement.High, m.Measurement.Low, m.Measurement.Covariance)
		}
		v.Key = hex.EncodeToString(h.Sum(nil))
	}
	return v
}

func captureOf(e *manifest.Entry, digest string, each []lot.Measured) Capture {
	c := Capture{Name: e.Capture, SHA256: digest, Station: e.Station, Operator: e.Operator, Temperature: e.Temperature, Conditions: conditions(e)}
	if !e.Time.IsZero() {
		c.Time = &e.Time
	}
	for _, m := range each {
		if m.Entry == e {
			c.Records = append(c.Records, recordOf(m.Measurement))
		}
	}
	return c
}

func recordOf(m *fit.Measurement) Record {
	r := Record{High: m.High, Covariance: m.Covariance, Clock: m.Clock, Cycles: m.Cycles, LnHigh: math.Log(m.High.Value)}
	u := m.High.Uncertainty / m.High.Value
	r.LnCovariance[0] = u * u
	if m.Low.Value > 0 {
		low := m.Low // a copy, which keeps no measurement alive
		r.Low, r.LnLow = &low, math.Log(m.Low.Value)
		w := m.Low.Uncertainty / m.Low.Value
		r.LnCovariance[1], r.LnCovariance[2] = m.Covariance/(m.High.Value*m.Low.Value), w*w
	}
	return r
}

// take copies a finding into the visit.
func (v *Visit) take(f *compare.Finding) {
	v.Verdict, v.Measured, v.Parts, v.Warnings, v.Read = f.Verdict.Result, f.Measured, f.Parts, f.Warnings, f.Captures
	if f.Verdict.Rule != "" || len(f.Verdict.Each) > 0 {
		v.Judgement = &f.Verdict
	}
	v.blame(f.Finding, f.Causes)
	if f.Predicted.High != nil {
		v.Predicted[0] = f.Predicted.High.Nominal
	}
	if f.Predicted.Low != nil {
		v.Predicted[1] = f.Predicted.Low.Nominal
	}
}

// ErrThin says that a result was kept by an earlier program, without what judging its lot needs.
var ErrThin = errors.New("kept by an earlier version, without its captures' times; run the lot again from the captures")

// Outcome is the result as the run that made it had it, with what judging its lot needs.
func (v *Visit) Outcome() (*lot.Outcome, error) {
	v = v.Own()
	b := &lot.Board{Name: v.Board, Lot: v.Lot, Place: v.Place, Digests: []string{}}
	for i := range v.Captures {
		c := &v.Captures[i]
		e := manifest.Entry{Board: v.Board, Lot: v.Lot, Capture: c.Name, Station: c.Station, Operator: c.Operator, Temperature: c.Temperature}
		if c.Time != nil {
			e.Time = *c.Time
		}
		b.Captures, b.Digests = append(b.Captures, e), append(b.Digests, c.SHA256)
	}
	return v.On(b)
}

// On is the result as that of a board with the same captures.
func (v *Visit) On(b *lot.Board) (*lot.Outcome, error) {
	o := &lot.Outcome{Board: b, Silent: v.Silent}
	for i := range v.Captures {
		for _, r := range v.Captures[i].Records {
			m := &fit.Measurement{Source: v.Captures[i].Name, High: r.High, Covariance: r.Covariance, Clock: r.Clock, Cycles: r.Cycles}
			if r.Low != nil {
				m.Low = *r.Low
			}
			o.Each = append(o.Each, lot.Measured{Entry: &b.Captures[i], Measurement: m})
		}
	}
	if v.Error != "" {
		o.Err = errors.New(v.Error)
		return o, nil
	}
	if len(o.Each) == 0 && !v.Silent {
		return nil, fmt.Errorf("board %s: %w", v.Board, ErrThin)
	}
	f := &compare.Finding{Finding: v.Finding, Measured: v.Measured, Parts: v.Parts, Causes: v.Causes, Captures: v.Read, Warnings: v.Warnings, Verdict: compare.Verdict{Result: v.Verdict}}
	if v.Judgement != nil {
		f.Verdict = *v.Judgement
	}
	if v.Predicted[0] > 0 {
		f.Predicted.High = &compare.Predicted{Nominal: v.Predicted[0]}
	}
	if v.Predicted[1] > 0 {
		f.Predicted.Low = &compare.Predicted{Nominal: v.Predicted[1]}
	}
	o.Finding = f
	return o, nil
}

// Layout writes times so that their text sorts as they do.
const Layout = "2006-01-02T15:04:05.000000000Z"

// Digest is the SHA-256 of a text, hexadecimal.
func Digest(text []byte) string { return fmt.Sprintf("%x", sha256.Sum256(text)) }

// Stamp is a time as the tables have it; "" where it is not known.
func Stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(Layout)
}

// Decision is what was decided on a lot: by whom, when, by which plan, against which design.
type Decision struct {
	Key          string         `json:"key"`
	Lot          string         `json:"lot,omitempty"`
	At           time.Time      `json:"at"`
	By           string         `json:"decided_by"`
	Result       string         `json:"result"`
	Reason       string         `json:"reason"`
	Plan         lot.Plan       `json:"plan"`
	Boards       lot.Count      `json:"count"`
	Options      map[string]any `json:"options"` // what was typed that changes the decision
	Design       string         `json:"design,omitempty"`
	DesignSHA256 string         `json:"design_sha256"`
	Version      string         `json:"version"`
}

// Found is what a repair showed of a board.
type Found struct {
	Board string    `json:"board"`
	Lot   string    `json:"lot,omitempty"`
	Cause string    `json:"cause"`
	Part  string    `json:"part,omitempty"`
	At    time.Time `json:"at"`
	By    string    `json:"found_by,omitempty"`
	Note  string    `json:"note,omitempty"`
	Visit string    `json:"visit,omitempty"` // the key of the result that stood for the board then
}

// Parts are those that the finding names.
func (f *Found) Parts() []string {
	return strings.FieldsFunc(f.Part, func(x rune) bool { return strings.ContainsRune(" +,", x) })
}

// Alone is what a board's own times say of it, and the key of that result.
type Alone struct {
	Key     string          `json:"key"`
	Finding string          `json:"finding"`
	Causes  []compare.Cause `json:"causes"`
}

// leastKept is the probability from which a cause is kept.
const leastKept = 0.001

func kept(all []compare.Cause) (out []compare.Cause) {
	for _, c := range all {
		if c.Probability >= leastKept {
			out = append(out, c)
		}
	}
	return out
}

// blame sets the finding and its causes.
func (v *Visit) blame(finding string, causes []compare.Cause) {
	v.Finding, v.Causes = finding, kept(causes)
	if len(causes) > 0 {
		v.Cause, v.CauseParts, v.Probability = causes[0].Cause, causes[0].Parts, causes[0].Probability
	}
}

// Own is the result as the board's own times have it.
func (v *Visit) Own() *Visit {
	if v.Alone == nil {
		return v
	}
	o := *v
	o.Key, o.Alone = v.Alone.Key, nil
	o.blame(v.Alone.Finding, v.Alone.Causes)
	return &o
}

// Whole is all that was found of a single board, with the words that the finding's own JSON leaves out, so that it can be
// printed again as it was.
type Whole struct {
	*compare.Finding
	Runs        bool     `json:"runs"` // how the times ran was looked at
	Answer      []string `json:"answer"`
	Briefs      []string `json:"briefs"`      // of the causes
	Kinds       []string `json:"kinds"`       // of the next readings
	Unsupported []bool   `json:"unsupported"` // of the parts
}

// WholeOf keeps a finding; runs says that how the times ran was looked at.
func WholeOf(f *compare.Finding, runs bool) *Whole {
	w := &Whole{Finding: f, Runs: runs, Answer: f.Answer}
	for i := range f.Causes {
		w.Briefs = append(w.Briefs, f.Causes[i].Brief)
	}
	for i := range f.Next {
		w.Kinds = append(w.Kinds, f.Next[i].Kind)
	}
	for i := range f.Parts {
		w.Unsupported = append(w.Unsupported, f.Parts[i].Unsupported)
	}
	return w
}

// Restored is the finding as it was; nil where it was not kept whole.
func (w *Whole) Restored() *compare.Finding {
	if w == nil || w.Finding == nil || len(w.Briefs) != len(w.Causes) || len(w.Kinds) != len(w.Next) || len(w.Unsupported) != len(w.Parts) {
		return nil
	}
	f := *w.Finding
	f.Answer = w.Answer
	for i, text := range w.Briefs {
		f.Causes[i].Brief = text
	}
	for i, kind := range w.Kinds {
		f.Next[i].Kind = kind
	}
	for i, not := range w.Unsupported {
		f.Parts[i].Unsupported = not
	}
	return &f
}

// InLot is the result of a board that was judged against the others of its lot; nil says that it does not stand out.
func (v *Visit) InLot(a *lot.Apart) *Visit {
	if a == nil {
		return v
	}
	in, verdict := *v, compare.Verdict{Result: v.Verdict}
	if v.Judgement != nil {
		verdict = *v.Judgement
	}
	in.Whole, in.Alone = nil, &Alone{v.Key, v.Finding, v.Causes}
	in.blame(a.Finding(v.Finding, &verdict), a.Causes)
	return &in
}

// Supersede makes the result one that takes the place of another of the same board and captures. It says false where the
// other names the same causes.
func (v *Visit) Supersede(now *Visit) (*Visit, bool, error) {
	text := func(v *Visit) ([]byte, error) { return json.Marshal([]any{v.Finding, v.Causes}) }
	a, err := text(v)
	if err != nil {
		return nil, false, err
	}
	b, err := text(now)
	if err != nil || string(a) == string(b) {
		return nil, false, err
	}
	next := *v
	if next.Alone == nil { // it no longer stands out
		next.Alone = &Alone{v.Key, v.Finding, v.Causes}
	}
	next.Key, next.Recorded = Digest(append([]byte(now.Key), a...)), time.Now()
	if !next.Recorded.After(now.Recorded) { // another station's clock is ahead
		next.Recorded = now.Recorded.Add(time.Microsecond)
	}
	return &next, true, nil
}

// CauseTitle is the likeliest cause, as it is said of the board alone or against the others.
func (v *Visit) CauseTitle() string {
	title := cause.Title(v.Cause, v.CauseParts)
	if v.Alone != nil && v.Alone.Finding != v.Finding {
		return lot.AgainstOthers(title)
	}
	return title
}
