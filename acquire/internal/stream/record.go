package stream

import "errors"

// What Next returns where no record can be made.
var (
	ErrEmpty      = errors.New("no line was heard")
	ErrNone       = errors.New("no line is a reading in a known form")
	ErrTimesOnly  = errors.New("each line is a time without a level")
	ErrLevelsOnly = errors.New("each line is a level without a time")
)

// Options override what would be inferred.
type Options struct {
	Unit    string // of the printed times, as ParseUnit reads it; empty: as the stream says, else a guess
	Invert  bool   // swap high and low
	Channel string // for lines that name a channel; empty: the first one named
}

// Counts says what was met. Lines = Readings + Garbage once the stream has ended; lines of our own are not counted.
type Counts struct {
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

// Mark is a user's mark at its place on the time axis.
type Mark struct {
	Time float64 `json:"time"` // s
	Text string  `json:"text"`
}

// maxMarks bounds what one record keeps.
const maxMarks = 1000

// Record is one run of lines of one form. Form, Volts, Channel, Unit and Resolution are settled when Next
// returns it, the rest grows with each Read and is settled once it has returned io.EOF.
type Record struct {
	Number     int // from 1
	Form       Form
	Volts      bool    // readings are in volts
	Channel    string  // as the lines name it; empty: they do not
	Unit       float64 // s per printed count
	Resolution float64 // s, one count of the last printed digit
	Step       float64 // s, of edges: greatest common step of the times, at least Resolution; of looks: mean interval
	Rows       int64
	Skipped    int64 // readings not used
	Marks      []Mark
	Guess      string // what the times rest on that nothing says, in a few words; empty: nothing
	Notes      []string
	Evidence   []string
}
