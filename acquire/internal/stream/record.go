// Package stream turns what a board prints into rows of time and level. It is shared by acquire, which reads
// saved console logs, and by acquire/listen, which hears a port: the same bytes give the same rows.
//
//  1. Framer cuts the bytes into lines, whatever their line ends and however the reads fall.
//  2. parseLine says what a line could mean: a reading in one of the forms, or none.
//  3. window watches the first readings and settles the Form.
//  4. clock makes one growing time axis of the printed counter: wrap, restart and a line that lies in time
//     are told apart.
//  5. train makes rows of state from edges or durations, with an unknown stretch wherever something was missed.
//
// Reader ties them together. Forms of a line, with time or duration in any unit:
//
//	1234567,1        time,level at each edge; the level may be a word (H, LOW, rise …)
//	1234567,512      time,reading of a converter or a voltage
//	1234567,0        time,level at each look (a polled pin): told from the first by its repeats
//	17,1234567,1     number of the line, time, level
//	A,1234567,1      channel, time, level
//	12:00:01.25,1    time of day, level
//	H 8700           level and how long it lasted; also "1,8700"
//	8700             how long each level lasted, in turn; a sign tells the level (+ high, - low)
//	@37 00 -> 01 D0  index, old and new states, channel
//	f=137.5 Hz duty=54.5 %  a frequency or a period, and the duty factor or the high time
//	frequency_hz,duty_percent  names of such values, or of durations: each later line of as many cells holds those
//	! any words      the board has missed edges here: no pulse is taken across
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
	ErrTicks      = errors.New("the times are ticks of a length that is not said")
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
	Volts      bool             // readings are in volts
	Counts     bool             // readings are whole numbers without a unit: a converter's
	Channel    string           // as the lines name it; empty: they do not
	Unit       float64          // s per printed count
	Bare       bool             // the lines do not write their unit
	Resolution float64          // s, one count of the last printed digit
	Step       float64          // s, of edges: greatest common step of the times, at least Resolution; of looks: mean interval
	Rounded    acquire.Rounding // settled when Next returns it
	Digits     [3]float64       // s²: variance of all high times, its covariance with that of all low ones, and theirs, from the digits of lines that rate the train
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
