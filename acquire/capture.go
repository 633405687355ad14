package acquire

// Kind says what the rows of a capture mean.
type Kind int

const (
	// Samples are analogue readings at regular instants; between rows the signal is interpolated.
	Samples Kind = iota
	// Logic is the state (0 or 1) sampled at regular instants; an edge lies up to one step before its row.
	Logic
	// Transitions list a state only when some channel changes; it holds until the next row.
	Transitions
)

// CountUnit is the unit of levels that are a converter's counts, whatever they stand for.
const CountUnit = "count"

// Channel is one signal column of the input.
type Channel struct {
	Name   string // as the header has it, or "1", "2" … where there is none
	Number int    // counted from 1, time and index columns not counted
	Unit   string // "V", CountUnit, "" for logic states and where the unit is unknown
}

// Capture is one record of one source: what was recognised, and its rows as a stream.
// Fields marked "final" may still be refined while Read runs and are settled once it has returned io.EOF.
type Capture struct {
	Source   string    // file name, "-" for standard input
	Record   int       // 1-based number of the record in the source
	Shape    string    // the recognised shape in plain words, such as "time and volt table with preamble"
	Kind     Kind      //
	Channels []Channel // the chosen channels, in the order asked for (out first, cap second); Block.Value has the same order

	Start          float64 // s, time of row 0; final
	Step           float64 // s, mean sample interval; for Transitions the greatest common step of the times (0: unknown); final
	StepRelative   float64 // standard uncertainty of Step relative to it, from the rounding of the time column; final
	TimeResolution float64 // s, the rounding step of a printed time (0: negligible); final
	Regressed      bool    // Step was recovered by regression over times rounded more coarsely than it, and nothing states it; final

	Rows     int64    // data rows of this record handed out; final
	Skipped  int64    // rows of this record that could not be used, each counted in Notes by reason; final
	Guess    string   // what the times rest on that nothing says, for an output of a single line; empty: nothing; final
	Notes    []string // what a user should know: guesses, lost rows, coarse time; final
	Evidence []string // what was recognised and why, for --explain

	read func(*Block) error
}

// Block is a run of consecutive rows of one capture. The reader owns the slices and reuses them on the
// next Read: copy what you keep.
type Block struct {
	First int64       // index of the first row within the record, counted from 0
	Time  []float64   // s, one a row; nil where row i lies at Capture.Start + i*Capture.Step (both final only at io.EOF)
	Value [][]float64 // one slice a chosen channel, each as long as the block has rows: V or 0/1; NaN unknown, ±Inf clipped at a rail
	N     int         // rows
}

// Read fills b with the next rows. It returns io.EOF, and no rows, at the end of the record, and an *Error
// when the input breaks; the rows before the break have been handed out.
func (c *Capture) Read(b *Block) error { return c.read(b) }

// NewCapture makes a capture whose rows come from read, which follows the rules of Capture.Read. Sources
// other than files (a serial stream, a simulation) use it.
func NewCapture(meta Capture, read func(*Block) error) *Capture {
	meta.read = read
	return &meta
}
