package lot

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot/hierarchy"
	"offbeat/compare/reconcile"
	"offbeat/fit"
)

// Row is what a lot keeps of one board.
type Row struct {
	Board   string
	Lot     string
	Time    time.Time     // of its first capture; zero where not given
	Verdict string        // pass, fail, undecided, no target; empty where it failed
	Values  [5]float64    // of its first capture, in the order of compare.Quantities; nought where it has no meaning
	Cause   compare.Cause // the likeliest: against the others where it stands out, else by its own times
	Apart   *Apart        // set by Collector.Report where it stands out
	Guard   float64       // guard band of the verdict on the first quantity of the target; 0: none
	Rule    string        // of the verdict
	Files   []File
	Each    []Repeat
	Error   string    // why it could not be judged
	Silent  string    // what was read of it that shows no pulses: it fails, and has no values
	Inside  *Changing // how its times change inside a capture; nil: they don't

	slipped   bool          // its times are a power of a thousand of the design's
	own       compare.Cause // the likeliest by its own times
	times     hierarchy.Board
	predicted [2]float64 // s, the design's high and low time for it; the low one 0 for a single pulse
}

// Changing is a board whose times change inside a capture, by jumps or without.
type Changing struct {
	Board   string       `json:"board"`
	Changes []fit.Change `json:"changes,omitempty"`
	Moves   fit.Moves    `json:"moves,omitzero"`
	Shots   bool         `json:"single_pulses,omitempty"`
}

// File is one capture as it lies in its file, and how it was taken.
type File struct {
	Name, SHA256      string // hexadecimal; empty where it could not be read
	Station, Operator string
	Time              time.Time // zero where not given
	Temperature       *float64  // °C; nil where not given
}

// Repeat is one capture of a board.
type Repeat struct {
	Capture           string
	Station, Operator string
	Values            [5]float64
	Uncertainties     [5]float64 // standard
	Temperature       *float64   // °C; nil where not given
}

// Judged says whether the board has a verdict and values.
func (r *Row) Judged() bool { return r.Error == "" && r.Silent == "" }

// Collector keeps the rows of a lot.
type Collector struct {
	design *fit.Design
	rows   []Row
	clock  float64 // the widest limit of the instruments' clocks
	short  int     // captures too short to show mains hum

	stations, operators []string         // in the order in which they appear
	digests             map[string]owner // of the captures so far
	duplicates          []Duplicate

	nominal *hierarchy.Model // takes the boards' temperatures out; nil where the circuit has no law
}

// NewCollector begins a lot of boards of the design.
func NewCollector(d *fit.Design) *Collector {
	c := &Collector{design: d, digests: map[string]owner{}}
	if m, err := hierarchy.NewModel(d, nil); err == nil { // what is wrong with the design, every board will say
		c.nominal = m
	}
	return c
}

// Rows are the boards kept so far, in the order in which they were added. The slice stays the collector's: read it only.
func (c *Collector) Rows() []Row { return c.rows }

// Add keeps what the lot needs of an outcome.
func (c *Collector) Add(o *Outcome) {
	r := Row{Board: o.Board.Name, Lot: o.Board.Lot, Time: o.Board.Captures[0].Time}
	for i := range o.Board.Captures {
		e := &o.Board.Captures[i]
		c.stations, c.operators = With(c.stations, e.Station), With(c.operators, e.Operator)
		f := File{e.Capture, "", e.Station, e.Operator, e.Time, e.Temperature}
		if i < len(o.Board.Digests) {
			f.SHA256 = o.Board.Digests[i]
		}
		r.Files = append(r.Files, f)
	}
	c.duplicates = append(c.duplicates, o.Board.Copies...)
	if !o.Silent { // flat captures are alike, whatever board they are of
		if err := c.shared(o.Board); err != nil && o.Err == nil {
			o.Finding, o.Each, o.Err = nil, nil, err
		}
	}
	switch {
	case o.Silent:
		r.Verdict, r.Silent = o.Finding.Verdict.Result, o.Finding.Warnings[0]
	case o.Err == nil:
		o.Err = c.measured(&r, o)
	}
	if o.Err != nil {
		r.Error = o.Err.Error()
	}
	c.rows = append(c.rows, r)
}

// With adds a name to a set.
func With(names []string, name string) []string {
	if name == "" || slices.Contains(names, name) {
		return names
	}
	return append(names, name)
}

// measured fills in a board that was judged.
func (c *Collector) measured(r *Row, o *Outcome) error {
	f := o.Finding
	r.Verdict, r.Rule = f.Verdict.Result, f.Verdict.Rule
	if len(f.Verdict.Each) > 0 {
		r.Guard = f.Verdict.Each[0].GuardBand
	}
	r.Values, _ = values(&f.Measured)
	r.slipped = reconcile.Slipped(f) > 0
	if len(f.Causes) > 0 {
		r.own, r.Cause = f.Causes[0], f.Causes[0]
	}
	for i := range f.Captures {
		if s := f.Captures[i].Stability; r.Inside == nil && s != nil && (len(s.Changes) > 0 || s.Moves.Lead()) {
			r.Inside = &Changing{r.Board, s.Changes, s.Moves, s.Shots}
		}
	}
	var ms []*fit.Measurement
	for _, m := range o.Each {
		t := reconcile.Measured(m.Measurement)
		v, u := values(&t)
		r.Each = append(r.Each, Repeat{m.Entry.Capture, m.Entry.Station, m.Entry.Operator, v, u, m.Entry.Temperature})
		ms = append(ms, m.Measurement)
		c.clock = max(c.clock, m.Measurement.Clock)
		if m.Measurement.Slow.HumUnseen {
			c.short++
		}
	}
	r.predicted[0] = f.Predicted.High.Nominal
	if f.Predicted.Low != nil {
		r.predicted[1] = f.Predicted.Low.Nominal
	}
	var err error
	r.times, err = hierarchy.BoardOf(r.Board, ms, r.predicted[0], r.predicted[1])
	if t, ok := temperature(o.Board); ok && err == nil && c.nominal != nil {
		r.times = c.nominal.At25(r.times, t)
	}
	return err
}

// temperature is the mean of those given with a board's captures, in °C.
func temperature(b *Board) (t float64, ok bool) {
	n := 0.0
	for i := range b.Captures {
		if v := b.Captures[i].Temperature; v != nil {
			n++
			t += (*v - t) / n
		}
	}
	return t, n > 0
}

// values lists measured quantities and their standard uncertainties; nought where one has no meaning.
func values(t *compare.Times[compare.Measured]) (v, u [5]float64) {
	for i, m := range t.Each() {
		if m != nil {
			v[i], u[i] = m.Value, m.Uncertainty
		}
	}
	return v, u
}

// Ordered are the rows with values, in the charts' order.
func Ordered(rows []Row) []*Row { return judged(rows) }

// judged are the rows with values, in time order where every one has a time, else in the manifest's.
func judged(rows []Row) []*Row {
	var out []*Row
	for i := range rows {
		if rows[i].Judged() {
			out = append(out, &rows[i])
		}
	}
	inTime(out, func(r *Row) time.Time { return r.Time })
	return out
}

// inTime sorts by time where everything has one; else the order stays.
func inTime[T any](all []T, at func(T) time.Time) {
	if !slices.ContainsFunc(all, func(x T) bool { return at(x).IsZero() }) {
		slices.SortStableFunc(all, func(a, b T) int { return at(a).Compare(at(b)) })
	}
}

// shared says whose capture a board brings that another brought before it; the board has none of its own then.
func (c *Collector) shared(b *Board) error {
	for i, digest := range b.Digests {
		if digest == "" {
			continue
		}
		first, ok := c.digests[digest]
		if !ok {
			c.digests[digest] = owner{b.Name, b.Lot, b.Captures[i].Capture}
			continue
		}
		if first.board == b.Name && first.lot == b.Lot {
			continue
		}
		detail := fmt.Sprintf("%s of %s is the same capture as %s of %s: which of the two boards it shows is not known", b.Captures[i].Capture, b.Name, first.capture, first.board)
		c.duplicates = append(c.duplicates, Duplicate{OneCapture, []string{first.board, b.Name}, []string{first.capture, b.Captures[i].Capture}, detail})
		return fmt.Errorf("%s", detail)
	}
	return nil
}

// owner is who brought a capture first.
type owner struct{ board, lot, capture string }

// CauseTitle is the likeliest cause, as it is said of the board alone or against the others.
func (r *Row) CauseTitle() string {
	title := cause.Title(r.Cause.Cause, r.Cause.Parts)
	if r.Apart != nil {
		title = AgainstOthers(title)
	}
	if r.Inside != nil {
		return "changes inside its capture; else " + title
	}
	return title
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

// Apart is what sets a board that stands out apart from the others.
type Apart struct {
	Causes []compare.Cause
	likely string // in a sentence
}

// Finding is the board's finding: its verdict, and what sets it apart in place of the cause that its own times name.
func (a *Apart) Finding(own string, v *compare.Verdict) string {
	verdict := reconcile.VerdictText(v)
	before, _, _ := strings.Cut(own, verdict)
	return strings.TrimSpace(before + verdict + " " + a.likely)
}

// apartWords say against what such a board is judged: the others' parts, not the design's.
var apartWords = strings.NewReplacer("nothing wrong, every part in tolerance", "no part unlike the others', so the device or its setting", "out of tolerance", "unlike the others'", " nominal ", " their ")

// AgainstOthers puts the words of a cause so.
func AgainstOthers(text string) string { return apartWords.Replace(text) }
