package cli

import (
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"offbeat/acquire/listen"
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
