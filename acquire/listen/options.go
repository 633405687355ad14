package listen

import (
	"io"
	"time"
)

// DefaultBaud is the speed of a port where none is asked for.
const DefaultBaud = 115200

// Options say what to listen to. The zero value hears nothing: give Port or Input.
type Options struct {
	Port  string    // name of a serial port; not used when Input is set
	Input io.Reader // standard input or a pipe; it does not come back when it ends
	Baud  int       // default DefaultBaud

	Unit    string // of the printed times (s, ms, us, ns, min, h, 62.5ns, 2MHz); default: as the lines say, else a guess
	Invert  bool   // swap high and low
	Channel string // for lines that name a channel; default: the first one named

	Save io.Writer // gets a header and what is heard, as it arrives; default: not saved

	Retry  time.Duration                             // between two tries to open a port that has vanished; default 250 ms
	Open   func(name string, baud int) (Port, error) // default OpenPort
	Notify func(Event)                               // told when the port goes and comes; called from another goroutine; default: nobody
}

// Event is something that happened to the port.
type Event struct {
	Gone bool // it has vanished; else it is back
	Away time.Duration
}
