package acquire

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
