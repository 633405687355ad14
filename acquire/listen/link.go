package listen

import (
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
	if l.retry == 0 {
		l.retry = 250 * time.Millisecond
	}
	if l.open == nil {
		l.open = OpenPort
	}
	if l.baud == 0 {
		l.baud = DefaultBaud
	}
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
			away := time.Since(gone)
			l.notify(Event{Away: away})
			return &back{away}
		case errors.As(err, &pe) && codes[pe.Code].passes:
		default:
			return err
		}
	}
}
