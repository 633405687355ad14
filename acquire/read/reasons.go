package read

import (
	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// Reasons why a row that could be read is not used.
const (
	repeatedRow = "the row before it again"
	falseTime   = "a time that its neighbours deny"
)

// Reasons why a line is skipped.
const (
	anotherTable = "part of another table"
	looseText    = "text among the rows"
	badRow       = "malformed row"
	cutRow       = "cut in mid-row"
)

const otherChannel = "row of another channel"

// maxBad is how many bad rows may be slips however short the file is; of a longer one, one row in a hundred.
const maxBad = 3

// cutError is the error for a last line that is no whole row and has no line end.
func cutError(name string, num int64, column int) *acquire.Error {
	return &acquire.Error{File: name, Line: int(num), Column: column, What: "the last line is cut in mid-row", Expect: "whole rows",
		Do: "copy or export the file again; without its last line it can be read", Err: acquire.ErrTruncated}
}

// allText: no cell but text and empty ones, and some text.
func allText(cells [][]byte) bool {
	some := false
	for _, c := range cells {
		switch scan.Classify(c) {
		case scan.Text:
			some = true
		case scan.Empty:
		default:
			return false
		}
	}
	return some
}
