// Package acquire holds the types at the seam between what a bench wrote and what is made of it: a Capture is one record of
// rows of time and level with their units settled. It knows no circuit, and imports none of its sub-packages, which do the
// work:
//
//  1. open takes a file, or standard input, and undoes how it is stored: gzip, UTF-16, byte-order marks, CR alone.
//  2. recognise cuts the head, the first thousand lines, into cells; the delimiter and the decimal mark are those that give
//     the longest run of rows. From what stands above the rows come names, units, interval. The shapes are asked in turn
//     whether they fit, each its own file; they weigh structure alone, and draw up a plan: where the time and the levels
//     lie, in what unit, on what grid. A plan does not change once it is made.
//  3. read follows the plan: workers parse chunks of lines side by side (internal/scan); a time that falls back, a gap in an
//     even column, a repeated header or a row that can't be read begins a new record, so that no pulse is made across it.
//  4. Capture.Read hands out Blocks of rows in one pass and bounded memory. What only the whole record can tell, the
//     mean interval above all, is settled when it returns io.EOF.
//
// A serial stream has a reader of its own (internal/stream), heard by listen, or saved and opened like any file.
//
// Every line is counted once, see Counts. Every failure that has a place in the input is an *Error with file, line
// and column; columns count bytes of the text as UTF-8.
package acquire

import "maps"

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

// Rounding says what was rounded to the digits of a list of transitions.
type Rounding int

const (
	// OfInstants: when each edge came.
	OfInstants Rounding = iota
	// OfTimes: perhaps how long each high and each low time lasted; or they are differences of such instants.
	OfTimes
	// OfPeriods: perhaps each period, and the high time in it.
	OfPeriods
	// OfPulses: when each pulse began, and perhaps how long it was high.
	OfPulses
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

	Start          float64    // s, time of row 0; final
	Step           float64    // s, mean sample interval; for Transitions the greatest common step of the times, where it is more than chance (0: unknown); final
	StepRelative   float64    // standard uncertainty of Step relative to it, from the rounding of the time column; final
	Digits         [3]float64 // s²: variance of what is common to all high times, covariance with that of the low times, and theirs, from the rounding of frequencies and duty factors; final
	TimeResolution float64    // s, the rounding step of a printed time (0: negligible); final
	Rounded        Rounding   // of Transitions; final
	TimeUnit       string     // s, ms, us or ns: what the printed times were read in; empty: they say their own, or there are none
	Regressed      bool       // Step was recovered by regression over times rounded more coarsely than it, and nothing states it; final

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

// Watched is the same capture; show sees each block before its reader does.
func (c *Capture) Watched(show func(*Block)) *Capture {
	w := *c
	read := func(b *Block) error {
		err := c.Read(b)
		own := w.read
		w = *c // with what is settled only at the end of the record
		w.read = own
		if err == nil {
			show(b)
		}
		return err
	}
	w.read = read
	return &w
}

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

// Options override what the recogniser would guess. The zero value lets it guess everything.
type Options struct {
	TimeUnit  string                  // unit of the time column: "s", "ms", "us", "ns", "min", "h"; empty: from the file, seconds if it says nothing
	Interval  float64                 // s, sample interval where the file has no time column, or in place of it; 0: from the file
	Channels  []string                // chosen channels by name or number (from 1); empty: the only one, else an ErrChoice
	Delimiter string                  // "," ";" "|" ":" "tab" "space"; empty: from the file
	Invert    bool                    // swap high and low
	Shape     string                  // name of a shape to force; empty: recognise
	Record    int                     // only this record (from 1); 0: all
	Progress  func(read, total int64) // called now and then, from any goroutine but one call at a time, with bytes read and the total (-1 unknown); nil: silent
}

// StreamOptions override what would be inferred.
type StreamOptions struct {
	Unit    string // of the printed times, such as "us", "62.5ns" or "2MHz"; empty: as the stream says, else a guess
	Invert  bool   // swap high and low
	Channel string // for lines that name a channel; empty: the first one named
}

// StreamCounts says what was met. Lines = Readings + Garbage once the stream has ended; lines of our own are not counted.
type StreamCounts struct {
	Lines      int64 `json:"lines"`      // lines that hold something
	Edges      int64 `json:"edges"`      // edges told: a line each; of looks, the passes through the middle
	Garbage    int64 `json:"garbage"`    // lines that are no reading, chatter and cut lines among them
	Lost       int64 `json:"lost"`       // edges missed: a level said twice
	Resets     int64 `json:"resets"`     // the time began anew
	Wraps      int64 `json:"wraps"`      // the 32-bit counter wrapped
	Reconnects int64 `json:"reconnects"` // the port was gone and came back
	Readings   int64 `json:"readings"`   // lines that are readings of the settled form
	Chatter    int64 `json:"chatter"`    // of the garbage: readable text
	Cut        int64 `json:"cut"`        // of the garbage: cut by the end of the stream, or too long
	Backward   int64 `json:"backward"`   // readings thrown away because they lie about the time
	Doubled    int64 `json:"doubled"`    // readings printed twice
	Other      int64 `json:"other"`      // readings of another channel
	Unsure     int64 `json:"unsure"`     // first readings after a reconnect: they may lack their beginning
	Own        int64 `json:"-"`          // lines of our own in a saved log; Lines does not hold them
}

// StreamMark is a user's mark at its place on the time axis.
type StreamMark struct {
	Time float64 `json:"time"` // s
	Text string  `json:"text"`
}
