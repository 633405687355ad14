package acquire

import "maps"

// Counts says what became of every line of a source; each line is counted once. It is complete when Next has
// returned io.EOF.
type Counts struct {
	Lines    int64            // all lines
	Rows     int64            // data rows
	Header   int64            // column names and units
	Preamble int64            // comments, name and value pairs, markers, chatter
	Blank    int64            //
	Skipped  map[string]int64 // lines that could not be used, by reason
}

// Sum adds up everything but Lines; it equals Lines.
func (c Counts) Sum() int64 {
	n := c.Rows + c.Header + c.Preamble + c.Blank
	for _, k := range c.Skipped {
		n += k
	}
	return n
}

// Clone is a copy that no later line changes.
func (c Counts) Clone() Counts {
	c.Skipped = maps.Clone(c.Skipped)
	return c
}

// LineClass is what a line turned out to be.
type LineClass int

const (
	RowLine LineClass = iota
	HeaderLine
	PreambleLine
	BlankLine
	SkippedLine
)

// Add counts n lines; reason is used for skipped lines only.
func (c *Counts) Add(class LineClass, n int64, reason string) {
	c.Lines += n
	switch class {
	case RowLine:
		c.Rows += n
	case HeaderLine:
		c.Header += n
	case PreambleLine:
		c.Preamble += n
	case BlankLine:
		c.Blank += n
	default:
		if c.Skipped == nil {
			c.Skipped = map[string]int64{}
		}
		c.Skipped[reason] += n
	}
}
