package recognise

import (
	"bytes"
	"fmt"
	"math"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// Plan says how a source is read. Nothing changes it once it is handed out.
type Plan struct {
	Name  string // of the source
	Shape string // in plain words
	Kind  acquire.Kind
	Lines any // how rows are made of lines that hang on those before them: one of the types below; nil: each line is a row by Layout

	Layout   scan.Layout
	First    int                 // line of the first row, from 0
	Offset   int                 // bytes before it
	Classes  []acquire.LineClass // of the lines before it
	Header   [][]byte            // names and units as they stand, to know them again
	Preamble [][]byte            // first cells of the lines above the table, to know them again
	Tail     NumberForm          // of the last cell of every row; zero where they differ
	Filled   int                 // cells up to the last one that every row fills; 0 where they differ
	Repeats  Repeats             // how often a row is printed
	Channels []acquire.Channel

	Step     float64         // s, the interval that the file or the user states; 0: none
	Rounding float64         // its standard uncertainty, relative
	Start    float64         // s, where the rows have no time
	Counting bool            // the time column counts samples
	Segments bool            // records that begin with a time that falls back are what the file is made of
	Uneven   bool            // rows keep their own times
	TimeUnit string          // of the times, see acquire.Capture
	WeakUnit bool            // the time column's unit is a guess, or said by the preamble alone
	Res      grid.Resolution // of the times
	Grid     grid.Grid       // that the head's times lie on; no step: none
	Tick     float64         // s, unit of the greatest common step; 0: not wanted
	Half     *float64        // level between the two that a list of transitions gives; nil: it gives states
	States   int             // how many channels, the first ones, hold states: 0 or 1, and whatever else is none

	Length                       int64 // rows that the preamble states; 0: none
	IntervalLine, IntervalColumn int   // where the interval is stated, from 1

	Guess    string // what the times rest on that nothing says, in a few words; empty: nothing
	Notes    []string
	Evidence []string
}

// The ways in which rows hang on the lines before them.
type (
	// Pairs: two rows make one.
	Pairs struct{}
	// Steps: of rows with one time the last counts, which has the state behind the edge.
	Steps struct{}
	// Differences: the times are added up.
	Differences struct {
		Layout scan.Layout // the difference comes first
		Longer float64     // further factor of the difference, see scan.Layout
		Before bool        // a difference ends at its own row's edge
	}
	// Durations: a start and a duration a row.
	Durations struct {
		Layout    scan.Layout // start, duration, and the state if there is one
		Longer    [2]float64  // further factors of start and duration, see scan.Layout
		Tolerance float64     // s, by which an end may miss the next start
	}
	// Cycles: a high and a low time a row; where the layout has one column, a high or a low time a row, in turn.
	Cycles struct {
		Longer   [2]float64 // further factors of the high and the low time, see scan.Layout
		LowFirst bool
		Instants bool // when the pulse rises and when it falls stand in their places
	}
	// Pulses: durations in running text.
	Pulses struct {
		Unit  timeunit.Unit // of durations without one
		Array bool
	}
	// Changes: a sample number and the states before and after it.
	Changes struct {
		Step float64 // s
		Bits []int   // from the right, of the chosen channels
	}
	// Counter: a counter and a level behind a time of day.
	Counter struct{ Unit timeunit.Unit }
	// Bits: each character is a sample.
	Bits struct{}
	// Dump: a value change dump.
	Dump struct {
		Codes []DumpBit // of the chosen channels
		Count uint64    // of the unit, in a tick
		Power int       // of ten of the unit, in s
		Zero  float64   // ticks, added to each time
	}
	// DumpBit is a bit of a net, counted from the right.
	DumpBit struct {
		Code string
		Bit  int
	}
	// Records: one record a row, or a part of one.
	Records struct {
		RecordRow
		Header   int    // line of the names, from 0; -1: none
		Channel  string // wanted; empty: all
		Continue bool   // each row goes on where the one before it ends
	}
)

// OfStates reports whether a channel, counted from 0, is one of states once ToStates has seen it.
func (p *Plan) OfStates(channel int) bool { return channel < p.States || channel == 0 && p.Half != nil }

// ToStates turns the first channel's two levels, of a list of transitions, into states; what is no level stays none.
func (p *Plan) ToStates(v []float64) {
	if p.Half == nil {
		return
	}
	for i, x := range v {
		if x > *p.Half {
			v[i] = 1
		} else if x <= *p.Half {
			v[i] = 0
		}
	}
}

// HasTime reports whether rows have times.
func (p *Plan) HasTime() bool { return p.Layout.Time >= 0 }

// Above classes a line that stands above the table, or is blank, or a comment, or repeats the head.
func (p *Plan) Above(line []byte, num int64) (acquire.LineClass, bool) {
	trimmed := bytes.TrimSpace(line)
	switch {
	case num <= int64(len(p.Classes)):
		return p.Classes[num-1], true
	case len(trimmed) == 0:
		return acquire.BlankLine, true
	case p.IsHeader(trimmed):
		return acquire.HeaderLine, true
	case IsComment(trimmed, p.Layout.Delim):
		return acquire.PreambleLine, true
	}
	return 0, false
}

// Cut reports whether a last line that has no line end is cut, and in which cell: it fills fewer cells than every row does, the one
// before it too (nil: not known), or its last number has not the form that all others have.
func (p *Plan) Cut(line, before []byte) (cell int, short bool) {
	form, cell := TailForm(line, p.Layout.Delim)
	if _, last := TailForm(before, p.Layout.Delim); p.Filled > cell+1 && (before == nil || last > cell) {
		return cell + 1, true
	}
	return cell, p.Tail != (NumberForm{}) && form != p.Tail
}

// IsHeader reports whether a line repeats the names or the units.
func (p *Plan) IsHeader(line []byte) bool {
	return slices.ContainsFunc(p.Header, func(l []byte) bool { return bytes.Equal(l, line) })
}

// IsPreamble reports whether a line begins as one of the preamble does.
func (p *Plan) IsPreamble(line []byte) bool {
	line = bytes.TrimLeft(line, " \"")
	return slices.ContainsFunc(p.Preamble, func(k []byte) bool { return bytes.HasPrefix(line, k) })
}

// Contradiction is the error for an interval that the time column denies.
func (p *Plan) Contradiction(stated, step float64) error {
	return &acquire.Error{File: p.Name, Line: p.IntervalLine, Column: p.IntervalColumn,
		What:   fmt.Sprintf("the stated interval of %.9g s contradicts the time column, whose mean step is %.9g s", stated, step),
		Expect: "both to agree", Do: "say which holds with --interval or --time-unit", Err: acquire.ErrTime}
}

// Agreeing finds the factor, 1 if it can, by which a span of n steps, known to bound, agrees with the stated
// interval; 0: none. Only a unit that was a guess, or the preamble's word, may give way.
func (p *Plan) Agreeing(stated, span, n, bound float64) float64 {
	scales := []float64{1}
	if p.WeakUnit {
		scales = append(scales, scan.Pow10(-p.Layout.TimeShift), 1e-3, 1e3, 1e-6, 1e6, 1e-9, 1e9)
	}
	for _, k := range scales {
		if math.Abs(stated*n-span*k) <= 1.01*bound*k+0.01*stated {
			return k
		}
	}
	return 0
}

// Repeats says that a source prints its rows more than once: equal rows are one row. From 2 on it is how many equal lines
// are one line, of which the next may be equal too.
type Repeats int

const (
	Once     Repeats = 0 // each row stands once
	AllEqual Repeats = 1 // a row that equals the one before it is the same row: some column counts up or is a time
)

// RecordRow is how such a row is laid out.
type RecordRow struct {
	Delim   byte
	Point   byte
	Samples int // cell of the first sample
	Count   int // cell that says how many there are, -1: none
	Rate    int // cell of the rate, -1: none
	Step    int // cell of the interval, -1: none
	Channel int // cell of the channel, -1: none
}
