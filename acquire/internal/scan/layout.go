// Package scan is the hot path: the bytes of a table into columns of float64, without an allocation a row.
//
// Three readers give the same rows, each faster and narrower than the one before; a row that one can't read
// for certain falls back to the next:
//
//   - careful reads anything a table may hold, and defines what a row means;
//   - quick finds where the cells of many rows begin and end, without a branch on what they hold, and then reads the
//     wanted ones column by column, each number from its end; where times are foretold, it only compares them;
//   - template reads rows of one time and one level that look like the row before them, digit for digit.
//
// Where there is AVX, the last two take sixteen bytes at a time, and the marks between cells sixty-four.
package scan

// TimeForm is how a table writes its times.
type TimeForm int

const (
	PlainTime    TimeForm = iota // a number in one unit
	QuantityTime                 // a number with its unit in each cell
	CalendarTime                 // ISO 8601; seconds since Reference
	EpochTime                    // a number so large that Reference is subtracted from it before it is rounded
)

// Layout says how a row is cut into cells and which cells are wanted.
type Layout struct {
	Delim byte // 0: the line is one cell; Blanks: runs of blanks
	Point byte // decimal mark
	Cells int  // a row's cells; more may follow if they are empty
	Join  int  // cell that is joined with the next one by a decimal comma; -1: none

	Time      int // cell of the time; -1: none
	TimeForm  TimeForm
	Grouped   bool  // commas part the thousands of a QuantityTime
	TimeShift int   // power of ten from its unit to seconds
	Longer    int64 // further factor, of minutes and hours; 0: 1
	Reference int64 // s, see CalendarTime and EpochTime

	Value []int // cells of the levels
	Shift []int // power of ten of each
	Bit   []int // line of each, counted from the right, where the cell holds several; -1: the cell is one level; nil: all are
}

// need is how many cells a row must have.
func (l *Layout) need() int {
	n := l.Time + 1
	for _, k := range l.Value {
		n = max(n, k+1)
	}
	return n
}

// Fault says why a line is no row.
type Fault int

const (
	NoFault   Fault = iota
	Few             // too few cells
	Many            // cells where none should be
	BadTime         // the time is no time
	BadLevel        // the level is neither a number nor a mark
	Again           // the row before it once more; the reader of whole records tells, and gives it no text
	FalseTime       // a row whose time its neighbours deny; likewise
)

// Pad is how many bytes a text must be readable past its end.
const Pad = loadPad
