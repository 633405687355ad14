package listen

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/term"

	"offbeat/acquire"
	"offbeat/acquire/open"
)

// board is the far end of a pseudo-terminal, under a name that stays when the board is plugged in again.
type board struct {
	t           testing.TB
	name        string
	master, tty *os.File
}

func newBoard(t testing.TB) *board {
	t.Helper()
	b := &board{t: t, name: filepath.Join(t.TempDir(), "board")}
	b.plugIn()
	t.Cleanup(b.unplug)
	return b
}

// plugIn makes a terminal of its own and gives it the board's name.
func (b *board) plugIn() {
	b.t.Helper()
	var err error
	if b.master, b.tty, err = pty.Open(); err != nil {
		b.t.Skipf("no pseudo-terminal on this system: %v", err)
	}
	if _, err := term.MakeRaw(int(b.tty.Fd())); err != nil {
		b.t.Fatal(err)
	}
	next := b.name + ".next"
	if err := os.Symlink(b.tty.Name(), next); err != nil {
		b.t.Fatal(err)
	}
	if err := os.Rename(next, b.name); err != nil {
		b.t.Fatal(err)
	}
}

// unplug makes the terminal and its name vanish.
func (b *board) unplug() {
	if b.master == nil {
		return
	}
	os.Remove(b.name)
	b.tty.Close()
	b.master.Close()
	b.master = nil
}

func (b *board) print(text string) {
	b.t.Helper()
	if _, err := io.WriteString(b.master, text); err != nil {
		b.t.Fatal(err)
	}
}

// heard is everything that came out of a stream.
type heard struct {
	rows   []string // a record each
	shapes []string
	marks  []acquire.StreamMark
	counts acquire.StreamCounts
	err    error
}

// source is a Session or a Stream.
type source interface {
	Next() (*acquire.Capture, error)
	Counts() acquire.StreamCounts
	Marks() []acquire.StreamMark
}

// hear reads a source to its end. Rows come as "microseconds:state", x for not known; each is told to row, if
// that is not nil.
func hear(s source, row func(string)) heard {
	var h heard
	for {
		c, err := s.Next()
		if err != nil {
			if err != io.EOF {
				h.err = err
			}
			if e, ok := s.(*Session); ok && e.Err() != nil {
				h.err = e.Err()
			}
			h.counts = s.Counts()
			return h
		}
		var rows []string
		var b acquire.Block
		for err == nil {
			if err = c.Read(&b); err != nil {
				break
			}
			for i := range b.N {
				v := strconv.FormatFloat(b.Value[0][i], 'g', -1, 64)
				if math.IsNaN(b.Value[0][i]) {
					v = "x"
				}
				r := strconv.FormatFloat(math.Round(b.Time[i]*1e6), 'f', -1, 64) + ":" + v
				rows = append(rows, r)
				if row != nil {
					row(r)
				}
			}
		}
		if err != io.EOF {
			h.err = err
		}
		h.rows, h.shapes, h.marks = append(h.rows, strings.Join(rows, " ")), append(h.shapes, c.Shape), s.Marks()
	}
}

// replay reads a saved log.
func replay(t *testing.T, log string) heard {
	t.Helper()
	s, err := open.NewStream("saved.log", strings.NewReader(log), acquire.StreamOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return hear(s, nil)
}

// follow starts a session on the board and hears it in the background: done gives the result.
func follow(t *testing.T, ctx context.Context, opt Options, row func(string)) (s *Session, done chan heard) {
	t.Helper()
	s, err := Start(ctx, opt)
	if err != nil {
		t.Fatal(err)
	}
	done = make(chan heard, 1)
	go func() { done <- hear(s, row) }()
	return s, done
}

// wait for one of a channel, or fail.
func wait[T any](t *testing.T, what string, c <-chan T) T {
	t.Helper()
	var v T
	select {
	case v = <-c:
	case <-time.After(20 * time.Second):
		t.Fatalf("waited in vain for %s", what)
	}
	return v
}

func equal(t *testing.T, what string, got, want any) {
	t.Helper()
	if g, w := fmt.Sprintf("%+v", got), fmt.Sprintf("%+v", want); g != w {
		t.Errorf("%s\n got %s\nwant %s", what, g, w)
	}
}

func atof(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
