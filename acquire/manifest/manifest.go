package manifest

import (
	"io"
	"os"
	"path/filepath"
	"strings"
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

// Load reads the named table ("-" is standard input), lists the named folder, or expands the pattern. A
// folder that holds a file manifest.csv is read by it. Faults in a table are *acquire.Error, joined.
func Load(name string, opt Options) (*Manifest, error) {
	if name == "-" {
		in := opt.Input
		if in == nil {
			in = os.Stdin
		}
		return Read(name, ".", in, opt)
	}
	st, err := os.Stat(name)
	switch {
	case err == nil && st.IsDir():
		table := filepath.Join(name, "manifest.csv")
		if st, err := os.Stat(table); err == nil && st.Mode().IsRegular() {
			return Load(table, opt)
		}
		return folder(name)
	case err != nil && isPattern(name):
		return pattern(name)
	case err != nil:
		return nil, &acquire.Error{File: name, What: cause(err), Expect: "a manifest, a folder of captures or a pattern", Err: err}
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &acquire.Error{File: name, What: cause(err), Expect: "a readable manifest", Err: err}
	}
	defer f.Close()
	return Read(name, filepath.Dir(name), f, opt)
}

func cause(err error) string {
	if pe, ok := err.(*os.PathError); ok {
		return pe.Err.Error()
	}
	return err.Error()
}

func isPattern(name string) bool { return strings.ContainsAny(name, "*?[") }
