package cli

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"offbeat/acquire"
	"offbeat/acquire/listen"
	"offbeat/acquire/quantity"
	"offbeat/cmd/internal/benchpage"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/session"
)

// benchOptions are what `offbeat bench` was asked.
type benchOptions struct {
	File      string // the design; empty: none yet
	Captures  []string
	Lot       string // a manifest, a folder or a pattern; empty: none
	Port      int
	NoBrowser bool
	Listen    string // the port to hear, "-": standard input; empty: none
	Baud      int
	Unit      string           // of the times that are heard
	begun     func(url string) // hears where the page is; nil: nobody asks
}

// workbench answers the bench page.
type workbench struct {
	s      *streams.Streams
	files  *benchpage.Files
	folder string // where the design is, and what is saved will be
	begin  benchpage.Start
	ear    *ear   // nil: nothing is heard
	lot    string // that the command line names; empty: none

	mu     sync.Mutex
	lots   *lotJob             // the last that was judged; nil: none
	lotsOf string              // design and boards that it is of
	read   map[string]*reading // captures that were measured, by all that their times depend on
	saved  string              // the text of the file, as it was read or written last
	name   string              // of the file
}

// isFile says whether an evidence is a capture in a file, and no reading, look or output that stood still.
func isFile(e *designfile.Evidence) bool { return e.Capture != "" && !designfile.IsStill(e.Capture) }

// path names the file as the command line does.
func (w *workbench) path() string { return filepath.Join(w.folder, w.name) }

// ear hears a port or standard input for the bench page.
type ear struct {
	s       *streams.Streams
	name    string // of the source
	tape    *benchpage.Tape
	session *listen.Session
	live    *session.Session
	since   atomic.Pointer[time.Time] // the part on the tape began
	gone    atomic.Bool               // the port is away
	ended   atomic.Bool
}

// rowError is an error of one evidence.
type rowError struct {
	row     int
	err     error
	columns []benchpage.Channel // where one must be chosen
}

func (e *rowError) Error() string { return e.err.Error() }

func (e *rowError) Unwrap() error { return e.err }

// newEar begins to listen; nil: nothing is to be heard.
func (o *benchOptions) newEar(ctx context.Context, s *streams.Streams, store *benchpage.Files) (*ear, error) {
	if o.Listen == "" {
		return nil, nil
	}
	tape, err := store.NewTape()
	if err != nil {
		return nil, err
	}
	e := &ear{s: s, name: (&listenOptions{Port: o.Listen, Baud: o.Baud}).source(), tape: tape, live: session.New(nil)}
	e.begins()
	opt := listen.Options{Port: o.Listen, Baud: o.Baud, Unit: o.Unit, Save: tape, Notify: func(v listen.Event) { e.gone.Store(v.Gone) }}
	if o.Listen == "-" {
		opt.Input = s.In
	}
	if e.session, err = listen.Start(ctx, opt); err != nil {
		tape.Close()
		return nil, err
	}
	go e.follow()
	return e, nil
}

func (e *ear) begins() {
	now := e.s.Now()
	e.since.Store(&now)
}

// follow shows what is heard to the live session, until it ends. It keeps nothing: the tape does.
func (e *ear) follow() {
	defer e.ended.Store(true)
	for {
		c, err := e.session.Next()
		if err != nil {
			return
		}
		c = e.live.Watch(c, e.session, func() {})
		for b := new(acquire.Block); err == nil; {
			err = c.Read(b)
		}
		if err != io.EOF {
			return
		}
	}
}

// Close ends the listening.
func (e *ear) Close() {
	e.session.Close()
	e.tape.Close()
}

// heard says how things stand.
func (e *ear) heard() *benchpage.Heard {
	h := &benchpage.Heard{Source: e.name, Since: e.since.Load().Format(time.TimeOnly), Gone: e.gone.Load(), Ended: e.ended.Load()}
	if err := e.session.Err(); err != nil {
		h.Why = said(err)
	}
	switch now := e.live.Snapshot().Now; { // without uncertainty: whose clock it is, the capture will say
	case now == nil:
	case now.Frequency != nil:
		h.Text = fmt.Sprintf("%s, duty factor %s, %s", quantity.Format(now.Frequency.Value, quantity.Hertz), quantity.Relative(now.Duty.Value), quantity.Plural(now.High.Count, "whole cycle"))
	default:
		h.Text = fmt.Sprintf("high time %s, %s", quantity.Format(now.High.Value, quantity.Second), quantity.Plural(now.High.Count, "whole pulse"))
	}
	return h
}

// Heard says what a port or a stream brings; nil: none is heard.
func (w *workbench) Heard() *benchpage.Heard {
	if w.ear == nil {
		return nil
	}
	return w.ear.heard()
}

// Take makes a capture of what was heard, and begins anew; with keep false it only begins anew.
func (w *workbench) Take(keep bool) (f *benchpage.File, err error) {
	if w.ear == nil {
		return nil, usagef("nothing is heard; expected offbeat bench --listen PORT")
	}
	if keep {
		if f, err = w.ear.tape.Take(w.s.Now().Format("heard-20060102-150405.log")); err != nil {
			return nil, err
		}
	}
	w.ear.begins()
	return f, w.ear.tape.Anew()
}
