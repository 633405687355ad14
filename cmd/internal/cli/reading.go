package cli

import (
	"strings"

	"offbeat/acquire"
	"offbeat/compare"
	"offbeat/compare/bistable"
	"offbeat/compare/report/picture"
	"offbeat/compare/session"
	"offbeat/fit"
	"offbeat/fit/latch"
	"offbeat/fit/waveform"
)

// readOptions are how captures are read and measured.
type readOptions struct {
	acquire.Options
	level    float64 // V
	levelSet bool
	clock    float64           // relative limit of the instrument's clock
	onePulse bool              // a monostable
	single   bool              // one whole cycle is enough
	charges  bool              // a capacitor's charge will do in place of pulses
	strict   bool              // none will do whose samples lie too far apart for the design's pulses, or that shows no pulse
	latch    *latch.Options    // a bistable; nil: none
	roles    map[string]string // the chosen channels by what they carry
	explain  bool
	quiet    bool
	trace    bool            // keep a trace of each record for the page
	runs     bool            // say how the times run over each record
	design   *fit.Design     // that the captures are to be set against; nil: none
	with     []fit.Condition // what was special about the source
}

// reading is what captures gave: one measurement and one description a record.
type reading struct {
	measurements []*fit.Measurement
	with         [][]fit.Condition  // what was special about each measurement
	waves        []*waveform.Result // one a measurement, nil where no channel shows the capacitor
	captures     []compare.Capture
	from         []int            // of each measurement, the index of its source
	evidence     *evidence        // what was special about the sources; nil: nothing
	traces       []*picture.Trace // nil where none was asked for
	checks       []bistable.Check // of a bistable, in place of measurements
	charges      []compare.Charge // of records without pulses
	blanks       []blank          // records without a train
	warnings     []string
	keep         func(*compare.Finding) error // puts the finding into a ledger; nil: none is wanted
	heard        *session.Snapshot            // a stream that was heard; nil: files
	command      string                       // that gave it, to be copied; empty: none to copy
	anew         string                       // the same without the captures and what was special about them
}

// blank is a record without a train: its samples lie too far apart for the design's pulses, or the output stands still in it.
type blank struct {
	compare.Capture
	still fit.Still
	err   error // what is wrong with it as a capture of pulses
	from  int   // the index of its source
}

// source is a capture's place and how it is to be read.
type source struct {
	name string
	readOptions
}

// alike are sources that are all read in one way.
func alike(names []string, o readOptions) []source {
	var out []source
	for _, n := range names {
		out = append(out, source{n, o})
	}
	return out
}

// described says what was recognised of a record that was read to its end.
func described(c *acquire.Capture, explain bool) compare.Capture {
	d := compare.Capture{Source: strings.ReplaceAll(c.Source, "\n", " "), Record: c.Record, Shape: c.Shape, Rows: c.Rows, Skipped: c.Skipped, Guess: c.Guess, Notes: c.Notes}
	if explain {
		d.Evidence = c.Evidence
	}
	return d
}

// evidence is what the flags say, read.
type evidence struct {
	with    [][]fit.Condition // one list a source
	earlier *compare.Finding
}
