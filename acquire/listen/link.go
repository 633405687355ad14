// Package listen hears what a board prints, on a serial port or on standard input, and keeps it.
//
//  1. Port is all that is asked of a serial port; OpenPort makes one, and says by a Code why it could not.
//  2. Link holds a port open: when it vanishes, Link waits until it is back.
//  3. Session joins what is heard, the marks a user sets and the notes about the port into one stream of
//     bytes. The same bytes go to the disk as they arrive and to the reader of lines, so a saved log gives
//     the same captures again.
//  4. Simulate prints the bytes that a board would.
//
// The lines themselves, and what can go wrong with them, are read by open.Stream.
package listen

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"
)

// link is a port that comes back.
type link struct {
	ctx    context.Context
	name   string
	baud   int
	retry  time.Duration
	open   func(name string, baud int) (Port, error)
	notify func(Event)
	back   bool // it can come back

	mu   sync.Mutex
	port io.Reader
	shut func() error
}

// back is the error of a Read after which the port was opened again.
type back struct{ away time.Duration }

func (b *back) Error() string { return fmt.Sprintf("the port was away for %v", b.away) }

// dial makes the link; its first try to open the port must succeed.
func dial(ctx context.Context, opt Options) (*link, error) {
	l := &link{ctx: ctx, name: opt.Port, baud: opt.Baud, retry: opt.Retry, open: opt.Open, notify: opt.Notify}
	if l.notify == nil {
		l.notify = func(Event) {}
	}
	l.retry = cmp.Or(l.retry, 250*time.Millisecond)
	if l.open == nil {
		l.open = OpenPort
	}
	l.baud = cmp.Or(l.baud, DefaultBaud)
	if opt.Input != nil {
		l.port = opt.Input
		return l, nil
	}
	l.back = true
	p, err := l.open(l.name, l.baud)
	if err != nil {
		return nil, err
	}
	l.port, l.shut = p, p.Close
	context.AfterFunc(ctx, func() { l.close() })
	return l, nil
}

// close closes the port that is open now.
func (l *link) close() error {
	l.mu.Lock()
	shut := l.shut
	l.shut = nil
	l.mu.Unlock()
	if shut == nil {
		return nil
	}
	return shut()
}

// Read reads the port. It returns io.EOF when the context or the input has ended, a *back after the port had
// vanished and is open again, and a *PortError where it can't come back.
func (l *link) Read(b []byte) (int, error) {
	n, err := l.port.Read(b)
	if n > 0 || err == nil {
		return n, nil // an error that came with bytes will come again
	}
	if l.ctx.Err() != nil {
		return 0, io.EOF
	}
	if !l.back {
		return 0, err
	}
	var pe *PortError
	if errors.As(err, &pe) && !codes[pe.Code].passes {
		if pe.Code == Closed {
			return 0, io.EOF
		}
		return 0, err
	}
	return 0, l.reopen()
}

// reopen waits until the port is back. It returns a *back, io.EOF when the context ends first, or why the
// port can't come back.
func (l *link) reopen() error {
	l.close()
	gone := time.Now()
	l.notify(Event{Gone: true})
	tick := time.NewTicker(l.retry)
	defer tick.Stop()
	for {
		select {
		case <-l.ctx.Done():
			return io.EOF
		case <-tick.C:
		}
		p, err := l.open(l.name, l.baud)
		var pe *PortError
		switch {
		case err == nil:
			l.mu.Lock()
			l.port, l.shut = p, p.Close
			l.mu.Unlock()
			if l.ctx.Err() != nil {
				l.close()
				return io.EOF
			}
			l.notify(Event{})
			return &back{time.Since(gone)}
		case errors.As(err, &pe) && codes[pe.Code].passes:
		default:
			return err
		}
	}
}

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
}
