package read

import (
	"offbeat/acquire"
	"offbeat/acquire/recognise"
)

// tableReader cuts rows into records and hands them out.
type tableReader struct {
	opt    acquire.Options
	counts *acquire.Counts
	look   surveyor
	p      *recognise.Plan
	rows   batchSource

	b        *batch
	pos      int      // next row of b
	odd      int      // next odd line of b
	passed   int      // odd lines of b before it
	event    int      // next event of b
	boundary bool     // an odd line has ended the record
	worded   bool     // words ended the last record, and no row has followed
	foreign  bool     // inside another table, which is none of ours
	pending  []string // notes for the next record
	step     float64  // s, the interval stated for the next records, where it differs from the plan's; 0: it does not
	rounding float64  // its standard uncertainty, relative
	bad      int64
	firstBad *acquire.Error

	records int
	cur     *record
	err     error
}

// line is the number of the line at row i of the batch, the odd lines up to now counted.
func (r *tableReader) line(i int) int64 { return r.b.line + int64(i+r.passed) }

// note tells the user something about the record being read, or else about the next.
func (r *tableReader) note(text string) {
	if r.cur == nil || r.cur.done {
		r.pending = append(r.pending, text)
		return
	}
	r.cur.note("%s", text)
}

// beginRows is how many rows at a record's start tell its grid.
const beginRows = 64
