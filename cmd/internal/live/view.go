// Package live shows a stream while it is heard: in place on a terminal, as plain lines elsewhere. It keeps the
// back-solve going beside it, and takes the notes that the user types as marks.
package live

import (
	"bufio"
	"fmt"
	"strings"
	"sync"
	"time"

	"offbeat/cmd/internal/streams"
	"offbeat/compare/report/document"
	"offbeat/compare/report/page"
	"offbeat/compare/report/text"
	"offbeat/compare/session"
)

const (
	redrawEvery = 250 * time.Millisecond // on a terminal
	lineEvery   = time.Second            // elsewhere
	// rest is how long the back-solve rests, in its own durations: it takes at most a sixth of one core.
	rest     = 5
	restLess = 500 * time.Millisecond
)

// Options say what to show. Session, Streams and Source must be given.
type Options struct {
	Session *session.Session
	Streams *streams.Streams
	Style   text.Style
	Source  string                  // what is listened to, in words
	Saved   string                  // file that keeps it; empty: none
	Mark    func(text string) error // nil: what is typed is not read
	Silent  bool                    // show nothing
}

// View is a stream being shown.
type View struct {
	opt   Options
	page  string // address of the web page; empty: none
	begun time.Time
	done  chan struct{}
	wake  chan struct{} // the back-solve may have something to do
	all   sync.WaitGroup

	mu    sync.Mutex
	gone  bool
	ended time.Time // zero: not yet
	lines int       // of the block that stands on the terminal
	shown int       // version last shown
}

// New makes a view that does not show yet.
func New(opt Options) *View {
	return &View{opt: opt, begun: opt.Streams.Now(), done: make(chan struct{}), wake: make(chan struct{}, 1), shown: -1}
}

// Start begins to show; page is the address of the web page, empty where there is none.
func (v *View) Start(page string) {
	v.page = page
	if v.opt.Mark != nil {
		go v.keys() // a Read of a terminal can't be ended
	}
	if v.opt.Silent && page == "" {
		return
	}
	v.all.Go(v.judge)
	if v.opt.Silent {
		return
	}
	v.all.Go(v.keep)
	switch {
	case !v.opt.Streams.InTerminal || v.inPlace() && v.opt.Mark != nil:
	case v.opt.Mark != nil:
		fmt.Fprintln(v.opt.Streams.Err, howToMark)
	default:
		fmt.Fprintln(v.opt.Streams.Err, "What is typed here is the stream itself and sets no mark; --page takes marks.")
	}
}

// howToMark says how a mark is set from a terminal.
const howToMark = "Type what you do and press Enter to set a mark; Ctrl-C ends."

// Changed says that rows have come.
func (v *View) Changed() {
	select {
	case v.wake <- struct{}{}:
	default:
	}
}

// Port says that the port has vanished or is back.
func (v *View) Port(gone bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.gone = gone
}

// End says that the stream has ended.
func (v *View) End() {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.ended = v.opt.Streams.Now()
}

// Stop takes the block off the terminal. Nothing is shown afterwards.
func (v *View) Stop() {
	close(v.done)
	v.all.Wait()
	v.mu.Lock()
	defer v.mu.Unlock()
	v.erase()
}

// judge keeps the back-solve up to date, with rests.
func (v *View) judge() {
	for {
		select {
		case <-v.done:
			return
		case <-v.wake:
		}
		begin := time.Now()
		if !v.opt.Session.Judge() {
			continue
		}
		select {
		case <-v.done:
			return
		case <-time.After(max(restLess, rest*time.Since(begin))):
		}
		v.Changed() // what came meanwhile
	}
}

// keep redraws until done.
func (v *View) keep() {
	every := lineEvery
	if v.inPlace() {
		every = redrawEvery
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-v.done:
			return
		case <-tick.C:
			v.show()
		}
	}
}

func (v *View) inPlace() bool { return v.opt.Streams.OutTerminal && v.opt.Streams.Height > 4 }

// show draws the block anew, or prints a line when something is new.
func (v *View) show() {
	version := v.opt.Session.Version()
	sh := v.opt.Session.Snapshot()
	v.mu.Lock()
	defer v.mu.Unlock()
	if !v.inPlace() {
		if version != v.shown && sh.Now != nil {
			fmt.Fprintln(v.opt.Streams.Out, document.LiveLine(&sh)) // if it can't be printed, the result's printing will say so
		}
		v.shown = version
		return
	}
	var b strings.Builder
	if err := text.Write(v.opt.Streams.Filter(&b), document.Live(&sh, v.status(&sh)...), v.opt.Style); err != nil {
		return
	}
	v.draw(strings.Split(strings.TrimRight(b.String(), "\n"), "\n"))
}

// draw puts lines in place of those that stand there, the cursor staying on the line below: what is being typed
// there is not disturbed.
func (v *View) draw(lines []string) {
	lines = lines[:min(len(lines), v.opt.Streams.Height-2)]
	var b strings.Builder
	if len(lines) != v.lines {
		b.WriteString(v.up())
		b.WriteString("\x1b[J")
		for _, l := range lines {
			b.WriteString(l + "\n")
		}
	} else {
		b.WriteString("\x1b7" + v.up())
		for _, l := range lines {
			b.WriteString(l + "\x1b[K\r\x1b[1B")
		}
		b.WriteString("\x1b8")
	}
	v.lines = len(lines)
	fmt.Fprint(v.opt.Streams.Terminal(), b.String())
}

// up moves the cursor to the block's first line.
func (v *View) up() string {
	if v.lines == 0 {
		return "\r"
	}
	return fmt.Sprintf("\r\x1b[%dA", v.lines)
}

// erase takes the block away.
func (v *View) erase() {
	if v.lines > 0 {
		fmt.Fprint(v.opt.Streams.Terminal(), v.up()+"\x1b[J")
		v.lines = 0
	}
}

// keys takes each line that the user types as a mark, and refuses one that can be none: a line that no person typed has no
// moment of its own, and the stream may have ended.
func (v *View) keys() {
	in := bufio.NewScanner(v.opt.Streams.In)
	for in.Scan() {
		text := strings.TrimSpace(in.Text())
		v.mu.Lock()
		ended := !v.ended.IsZero()
		v.below()
		v.mu.Unlock()
		why := ""
		switch {
		case text == "":
			continue
		case !v.opt.Streams.InTerminal:
			why = "standard input is no terminal; type it in one while it listens, or add --page"
		case ended:
			why = "the stream has ended; listen again to mark what you do"
		default:
			if err := v.opt.Mark(text); err != nil {
				why = err.Error() + "; type it again"
			}
		}
		if why == "" {
			continue
		}
		v.mu.Lock()
		fmt.Fprintf(v.opt.Streams.Err, "No mark %q: %s.\n", text, why)
		v.below()
		v.mu.Unlock()
	}
}

// below counts a line that came below the block: it moves away with it.
func (v *View) below() {
	if v.inPlace() && v.opt.Streams.InTerminal {
		v.lines++
	}
}

// status is what is going on, in a few lines.
func (v *View) status(sh *session.Snapshot) []string {
	lines := []string{v.state(sh)}
	if !v.gone {
		lines[0] += map[bool]string{true: " for ", false: " after "}[v.ended.IsZero()] + v.clock()
	}
	var where []string
	if v.opt.Saved != "" {
		where = append(where, "kept in "+v.opt.Saved)
	}
	if v.page != "" {
		where = append(where, "page at "+v.page)
	}
	if where != nil {
		lines = append(lines, strings.Join(where, "; "))
	}
	if v.opt.Mark != nil && v.opt.Streams.InTerminal {
		lines = append(lines, howToMark)
	}
	return lines
}

// state is what is going on, in one line.
func (v *View) state(sh *session.Snapshot) string {
	name := ""
	if sh.Design != nil && sh.Design.Title != "" {
		name = sh.Design.Title + ": "
	}
	switch {
	case !v.ended.IsZero():
		return fmt.Sprintf("%s%s has ended", name, v.opt.Source)
	case v.gone:
		return fmt.Sprintf("%s%s has vanished; waiting for it to come back", name, v.opt.Source)
	}
	return fmt.Sprintf("%slistening to %s", name, v.opt.Source)
}

// clock is for how long it has been heard; it stops at the end.
func (v *View) clock() string {
	until := v.ended
	if until.IsZero() {
		until = v.opt.Streams.Now()
	}
	return until.Sub(v.begun).Truncate(time.Second).String()
}

// Heard is how things stand, for the page.
func (v *View) Heard() *page.Heard {
	sh := v.opt.Session.Snapshot()
	v.mu.Lock()
	defer v.mu.Unlock()
	return &page.Heard{Snapshot: sh, Source: v.opt.Source, State: v.state(&sh), Clock: v.clock(), Gone: v.gone, Saved: v.opt.Saved}
}
