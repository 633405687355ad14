package acquire

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
