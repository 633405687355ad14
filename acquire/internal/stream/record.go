package stream

import (
	"errors"

	"offbeat/acquire"
)

// What Next returns where no record can be made.
var (
	ErrEmpty      = errors.New("no line was heard")
	ErrNone       = errors.New("no line is a reading in a known form")
	ErrTimesOnly  = errors.New("each line is a time without a level")
	ErrLevelsOnly = errors.New("each line is a level without a time")
)

// The types at the seam.
type (
	Options = acquire.StreamOptions
	Counts  = acquire.StreamCounts
	Mark    = acquire.StreamMark
)

// maxMarks bounds what one record keeps.
const maxMarks = 1000

// Record is one run of lines of one form. Form, Volts, Channel, Unit and Resolution are settled when Next
// returns it, the rest grows with each Read and is settled once it has returned io.EOF.
type Record struct {
	Number     int // from 1
	Form       Form
	Volts      bool    // readings are in volts
	Counts     bool    // readings are whole numbers without a unit: a converter's
	Channel    string  // as the lines name it; empty: they do not
	Unit       float64 // s per printed count
	Resolution float64 // s, one count of the last printed digit
	Step       float64 // s, of edges: greatest common step of the times, at least Resolution; of looks: mean interval
	Rows       int64
	Skipped    int64 // readings not used
	Marks      []Mark
	Guess      string // what the times rest on that nothing says, in a few words; empty: nothing
	Notes      []string
	Evidence   []string
}

// Rows are times in seconds from the first reading, and values: 0 or 1, a reading, NaN for not known.
type Rows struct {
	Time, Value []float64
}

func (o *Rows) add(t, v float64) {
	o.Time = append(o.Time, t)
	o.Value = append(o.Value, v)
}

// Len is the number of rows.
func (o *Rows) Len() int { return len(o.Time) }

func (o *Rows) clear() { o.Time, o.Value = o.Time[:0], o.Value[:0] }
