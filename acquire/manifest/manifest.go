// Package manifest reads the list of a lot's boards: a table, a folder of captures, or a pattern of file names.
//
// The table has a header. The columns board and capture must be there; lot, station, operator, time, temperature,
// supply and readings may be, in any order:
//
//	board       name or serial number; several rows of one board are repeat captures of it
//	capture     file, seen from the table's own folder; a pattern such as lamp-07-*.csv stands for several
//	time        ISO 8601, "2026-01-31T14:05:00Z" down to "2026-01-31"; without a zone UTC
//	temperature in °C: "23.5" or "23.5 °C"
//	supply      "5.02 V ± 1 %"
//	readings    direct readings, "R2=46.93k ± 0.3 %; C1=101n ± 1 %"
//
// The delimiter is a comma, a semicolon or a tab, whichever the header has most of. Lines that begin with #
// and blank lines are skipped.
package manifest

import (
	"os"
	"path/filepath"

	"offbeat/acquire"
)

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
		return nil, &acquire.Error{File: name, What: acquire.Reason(err).Error(), Expect: "a manifest, a folder of captures or a pattern", Err: err}
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &acquire.Error{File: name, What: acquire.Reason(err).Error(), Expect: "a readable manifest", Err: err}
	}
	defer f.Close()
	return Read(name, filepath.Dir(name), f, opt)
}
