package listen

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"sync/atomic"
	"time"

	"go.bug.st/serial"
)

// Port is what is asked of a serial port. Read blocks until bytes come or Close is called.
type Port interface {
	io.ReadCloser
}

// Code says why a port could not be opened or read.
type Code int

const (
	Failed     Code = iota // some other reason
	NotFound               // no such port
	Busy                   // another program has it
	Permission             // the user may not open it
	NotAPort               // a file of another kind
	Speed                  // the port can't run at that baud rate
	Gone                   // it vanished while it was open
	Closed                 // we closed it
)

// codes says of each Code what to tell the user, and whether a port that was open may get over it: while a
// board is plugged in again its port passes through these states.
var codes = [...]struct {
	what, do string
	passes   bool
}{
	Failed:     {"can't be read", "", true},
	NotFound:   {"is not there", "offbeat listen --ports lists the ports", true},
	Busy:       {"is in use by another program", "close the terminal program that has it open", true},
	Permission: {"may not be opened", "join the group that owns the port (often dialout), or ask for access", true},
	NotAPort:   {"is no serial port", "a saved log is read by offbeat measure FILE, or piped into offbeat listen -", true},
	Speed:      {"can't run at that speed", "choose another --baud", false},
	Gone:       {"has vanished", "", true},
	Closed:     {"was closed", "", false},
}

// PortError is a failure of a port.
type PortError struct {
	Port string
	Code Code
	Err  error // the cause, may be nil
}

func (e *PortError) Error() string {
	s := "port " + e.Port + " " + codes[e.Code].what
	if e.Code == Failed && e.Err != nil {
		s += ": " + e.Err.Error()
	}
	if do := codes[e.Code].do; do != "" {
		s += "; " + do
	}
	return s
}

func (e *PortError) Unwrap() error { return e.Err }

// serialCodes turns the library's codes into ours.
var serialCodes = map[serial.PortErrorCode]Code{
	serial.PortBusy:          Busy,
	serial.PortNotFound:      NotFound,
	serial.InvalidSerialPort: NotAPort,
	serial.PermissionDenied:  Permission,
	serial.InvalidSpeed:      Speed,
	serial.PortClosed:        Gone,
}

// portError gives err its code; other is the code of an error that the library has none for.
func portError(name string, err error, other Code) *PortError {
	e := &PortError{Port: name, Code: other, Err: err}
	var pe *serial.PortError
	switch {
	case errors.As(err, &pe):
		if c, ok := serialCodes[pe.Code()]; ok {
			e.Code = c
		}
	case errors.Is(err, fs.ErrNotExist):
		e.Code = NotFound
	case errors.Is(err, fs.ErrPermission):
		e.Code = Permission
	}
	return e
}

// pollEvery is how long a Read may go on after Close. The library's own Close pulls the file descriptor from
// under a blocked Read, and another file may be given the same number before that Read has noticed; so the
// reading side closes the port itself, at the next of these.
const pollEvery = 50 * time.Millisecond

// OpenPort opens a serial port at so many baud, 8 data bits, no parity, 1 stop bit. The error is a *PortError.
func OpenPort(name string, baud int) (Port, error) {
	p, err := serial.Open(name, &serial.Mode{BaudRate: baud})
	if err != nil {
		return nil, portError(name, err, Failed)
	}
	if err := p.SetReadTimeout(pollEvery); err != nil {
		p.Close()
		return nil, portError(name, err, Failed)
	}
	return &port{name: name, p: p}, nil
}

// port is a serial port whose Close wakes Read. One goroutine reads.
type port struct {
	name    string
	p       serial.Port
	closing atomic.Bool
	reading atomic.Bool
}

// Read waits for bytes. Its errors are *PortError: Closed after Close, Gone when the port has vanished.
func (p *port) Read(b []byte) (int, error) {
	p.reading.Store(true)
	defer p.reading.Store(false)
	for {
		if p.closing.Load() {
			return 0, &PortError{Port: p.name, Code: Closed}
		}
		n, err := p.p.Read(b)
		if err != nil {
			return n, portError(p.name, err, Gone)
		}
		if n > 0 {
			return n, nil
		}
	}
}

// Close closes the port. A blocked Read returns within pollEvery.
func (p *port) Close() error {
	if p.closing.Swap(true) {
		return nil
	}
	for p.reading.Load() {
		time.Sleep(pollEvery / 10)
	}
	return p.p.Close()
}

// PortInfo is a port that could be listened to.
type PortInfo struct {
	Name  string
	About string // what the device calls itself, where that is known
}

// Ports lists the serial ports of this machine.
func Ports() ([]PortInfo, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, fmt.Errorf("the serial ports can't be listed: %w", err)
	}
	about := describe()
	ps := make([]PortInfo, len(names))
	for i, n := range names {
		ps[i] = PortInfo{Name: n, About: about[n]}
	}
	return ps, nil
}
