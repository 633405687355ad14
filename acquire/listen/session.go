package listen

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"offbeat/acquire"
	"offbeat/acquire/internal/stream"
	"offbeat/acquire/open"
)

const (
	chunkSize = 4096
	chunks    = 256 // that may wait for the reader: 1 MiB, ten seconds of 1 Mbaud
)

// CheckUnit says what is wrong with a unit of printed times, nil if nothing is.
func CheckUnit(unit string) error {
	_, err := stream.ParseUnit(unit)
	return err
}

// ErrSave is wrapped by the error of a Session whose log could not be written.
var ErrSave = errors.New("what was heard can't be saved")

// Session listens until its context ends, its input ends, or something fails: then its captures end, and Err
// tells why. Next, Counts, Marks and the captures belong to one goroutine; Mark, Err and Close may be called
// from any.
type Session struct {
	*open.Stream
	opt  Options
	link *link
	stop context.CancelFunc

	out  chan []byte
	rest []byte // of the last chunk

	mu       sync.Mutex
	boundary bool     // what went out last ended a line
	waiting  []string // lines of ours that wait for the end of a line
	ended    bool     // out is closed
	err      error    // why
}

// Start opens the port and begins to listen. When ctx ends, the stream ends as if its source had. The error
// is a *PortError, an *acquire.Error about the options, or wraps ErrSave.
func Start(ctx context.Context, opt Options) (*Session, error) {
	s := &Session{opt: opt, out: make(chan []byte, chunks), boundary: true}
	name := "-"
	if opt.Input == nil {
		name = opt.Port
	}
	var err error
	if s.Stream, err = open.NewStream(name, s, acquire.StreamOptions{Unit: opt.Unit, Invert: opt.Invert, Channel: opt.Channel}); err != nil {
		return nil, err
	}
	ctx, s.stop = context.WithCancel(ctx)
	if s.link, err = dial(ctx, opt); err != nil {
		s.stop()
		return nil, err
	}
	h := stream.Header{Source: name, Unit: opt.Unit, Started: time.Now()}
	if opt.Input == nil {
		h.Baud = s.link.baud
	}
	if err := s.send(h.Lines()); err != nil {
		s.Close()
		return nil, err
	}
	if opt.Input != nil { // nothing wakes a Read of it
		context.AfterFunc(ctx, func() { s.end(io.EOF) })
	}
	go s.pump()
	return s, nil
}

// Err is why the stream ended, where that was not the end of the input or of the context: a *PortError, an
// error that wraps ErrSave, or what Input failed with.
func (s *Session) Err() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.err == io.EOF {
		return nil
	}
	return s.err
}

// Close stops listening; captures then end with what was heard so far.
func (s *Session) Close() error {
	s.stop()
	return s.link.close()
}

// Mark sets a user's mark in the stream, after the line that is being heard.
func (s *Session) Mark(text string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.own(stream.MarkLine(text))
}

// own sends a line of ours as soon as a line has ended.
func (s *Session) own(line string) error {
	if !s.boundary {
		s.waiting = append(s.waiting, line)
		return nil
	}
	return s.send([]byte(line))
}

// pump carries what the link hears to the disk and to the reader.
func (s *Session) pump() {
	for {
		b := make([]byte, chunkSize)
		n, err := s.link.Read(b)
		if away, ok := errors.AsType[*back](err); ok {
			err = s.reconnected(away.away)
		} else if n > 0 {
			if e := s.heard(b[:n]); e != nil {
				err = e
			}
		}
		if err != nil {
			s.end(err)
			return
		}
	}
}

func (s *Session) end(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.ended {
		s.err, s.ended = err, true
		close(s.out)
	}
}

// heard sends what came from the port, and lets lines of ours in where a line ends.
func (s *Session) heard(b []byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if i := bytes.IndexAny(b, "\r\n") + 1; i > 0 && len(s.waiting) > 0 {
		if err := s.send(b[:i]); err != nil {
			return err
		}
		for _, line := range s.waiting {
			if err := s.send([]byte(line)); err != nil {
				return err
			}
		}
		s.waiting, b = nil, b[i:]
	}
	if len(b) == 0 {
		return nil
	}
	return s.send(b)
}

// reconnected spoils the line that was cut, and notes that the port was away.
func (s *Session) reconnected(away time.Duration) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.boundary {
		if err := s.send([]byte(stream.CutMark)); err != nil {
			return err
		}
	}
	lines := append(s.waiting, stream.Gone(away))
	s.waiting = nil
	for _, line := range lines {
		if err := s.send([]byte(line)); err != nil {
			return err
		}
	}
	return nil
}

// send writes b to the disk and hands it to the reader, in that order: what was measured can be found in the log.
func (s *Session) send(b []byte) error {
	if s.ended {
		return nil
	}
	if s.opt.Save != nil {
		if _, err := s.opt.Save.Write(b); err != nil {
			return fmt.Errorf("%w: %w", ErrSave, err)
		}
	}
	s.boundary = b[len(b)-1] == '\n' || b[len(b)-1] == '\r'
	s.out <- b
	return nil
}

// Read hands the joined stream to the reader of lines. It is not for callers of a Session.
func (s *Session) Read(p []byte) (int, error) {
	if len(s.rest) == 0 {
		b, ok := <-s.out
		if !ok {
			return 0, io.EOF
		}
		s.rest = b
	}
	n := copy(p, s.rest)
	s.rest = s.rest[n:]
	return n, nil
}
