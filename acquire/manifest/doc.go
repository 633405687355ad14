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
