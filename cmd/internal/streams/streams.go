// Package streams holds what a command reads from and writes to, and what the terminal can do.
package streams

import (
	"fmt"
	"io"
	"os"
	"strconv"
	"time"
	"unicode/utf8"

	"golang.org/x/term"
)

// fallbackWidth is the width of an output that is no terminal.
const fallbackWidth = 100

// System is the process's own streams. Colour needs a terminal, no NO_COLOR and a TERM other than "dumb".
func System() *Streams {
	s := Over(os.Stdin, os.Stdout, os.Stderr)
	s.InTerminal = term.IsTerminal(int(os.Stdin.Fd()))
	s.OutTerminal = term.IsTerminal(int(os.Stdout.Fd()))
	s.ErrTerminal = term.IsTerminal(int(os.Stderr.Fd()))
	s.Color = s.OutTerminal && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
	if w, h, err := term.GetSize(int(os.Stdout.Fd())); s.OutTerminal && err == nil && w > 0 {
		s.Width, s.Height = w, h
	}
	if os.Getenv("TERM") == "dumb" {
		s.Height, s.ErrTerminal = 0, false // the cursor can't be moved there: plain lines, no progress
	}
	if w, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil && w > 0 {
		s.Width = w // who sets it means it, on a terminal and off it
	}
	return s
}

// Over is streams over what is given, no terminal anywhere.
func Over(in io.Reader, out, err io.Writer) *Streams {
	return &Streams{In: in, Out: out, Err: err, Width: fallbackWidth, Now: time.Now}
}

// patience is how long work may last before progress shows, and how often it then does.
const (
	patience = time.Second
	interval = 200 * time.Millisecond
)

// Progress reports how far the reading of one input has come, on a terminal's standard error, once it lasts
// longer than a second.
type Progress struct {
	s     *Streams
	name  string
	start time.Time
	told  time.Time
	shown int // width of what stands on the line
}

// Progress starts the clock for an input; quiet keeps it silent.
func (s *Streams) Progress(name string, quiet bool) *Progress {
	if !s.ErrTerminal || quiet {
		return nil
	}
	return &Progress{s: s, name: name, start: s.Now()}
}

// Tell takes bytes read so far and the total (-1: unknown). A nil Progress says nothing.
func (p *Progress) Tell(read, total int64) {
	if !p.due() {
		return
	}
	if total > 0 {
		p.say(fmt.Sprintf("%d %% of %d MB", 100*read/total, total/1e6))
	} else {
		p.say(fmt.Sprintf("%d MB read", read/1e6))
	}
}

// due says whether it is time to tell again.
func (p *Progress) due() bool {
	if p == nil {
		return false
	}
	now := p.s.Now()
	if now.Sub(p.start) < patience || now.Sub(p.told) < interval {
		return false
	}
	p.told = now
	return true
}

// say writes over what stands on the line.
func (p *Progress) say(text string) {
	text = Clean(p.name) + ": " + text
	fmt.Fprintf(p.s.console(), "\r%-*s", p.shown, text)
	p.shown = max(p.shown, utf8.RuneCountInString(text))
}

// Done wipes the line.
func (p *Progress) Done() {
	if p != nil && p.shown > 0 {
		fmt.Fprintf(p.s.console(), "\r%*s\r", p.shown, "")
		p.shown = 0
	}
}

// console is Err for what moves the cursor.
func (s *Streams) console() io.Writer {
	if s.rawErr != nil {
		return s.rawErr
	}
	return s.Err
}

// Boards takes how many boards of a lot are done. A nil Progress says nothing.
func (p *Progress) Boards(done, total int) {
	if !p.due() {
		return
	}
	text := fmt.Sprintf("%d of %d boards", done, total)
	if left := p.left(done, total); left != "" {
		text += ", " + left
	}
	p.say(text)
}

// left guesses how long the rest will take, once that can be told.
func (p *Progress) left(done, total int) string {
	if done < 10 {
		return ""
	}
	rest := p.s.Now().Sub(p.start).Seconds() / float64(done) * float64(total-done)
	if rest < 60 {
		return fmt.Sprintf("about %.0f s left", rest)
	}
	return fmt.Sprintf("about %.0f min left", rest/60)
}
