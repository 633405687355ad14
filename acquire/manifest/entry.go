package manifest

import (
	"io"
	"time"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
)

// Entry is one capture of one board.
type Entry struct {
	Board       string
	Capture     string // file name, usable from the working directory
	Lot         string
	Station     string
	Operator    string
	Time        time.Time          // zero where not given
	Temperature *float64           // °C; nil where not given
	Supply      *quantity.Quantity // V; nil where not given
	Readings    []Reading
	Line        int // of the table; 0 where there is none
}

// Reading is a direct reading of a part, of the supply or of the control pin.
type Reading struct {
	Name     string
	Quantity quantity.Quantity
	At       acquire.Error // its place, for messages: File, Line and Column
}

// Manifest is the list.
type Manifest struct {
	Source  string
	Entries []Entry
	Notes   []string // what was not used
}

// Options of a reading.
type Options struct {
	Units map[string]quantity.Unit // of the names that may stand in readings; nil: readings are refused
	Input io.Reader                // what the name "-" reads; nil: standard input
}
