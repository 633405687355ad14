package live

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"offbeat/acquire"
	"offbeat/acquire/listen"
	"offbeat/acquire/open"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/report/text"
	"offbeat/compare/session"
)

// screen is a terminal: enough of ECMA-48 to see what stands on it.
type screen struct {
	lines       [][]rune
	row, column int
	saved       [2]int
}

var control = regexp.MustCompile(`^\x1b(?:\[(\d*)([ABJKm])|([78]))`)

func (s *screen) write(text string) {
	for len(text) > 0 {
		if m := control.FindStringSubmatch(text); m != nil {
			s.control(m)
			text = text[len(m[0]):]
			continue
		}
		r := []rune(text)[0]
		text = text[len(string(r)):]
		switch r {
		case '\n':
			s.row++
			s.column = 0 // as a terminal's driver does
		case '\r':
			s.column = 0
		default:
			s.at(s.row, s.column)
			s.lines[s.row][s.column] = r
			s.column++
		}
	}
}

// at makes room.
func (s *screen) at(row, column int) {
	for len(s.lines) <= row {
		s.lines = append(s.lines, nil)
	}
	for len(s.lines[row]) <= column {
		s.lines[row] = append(s.lines[row], ' ')
	}
}

func (s *screen) control(m []string) {
	n := 1
	if m[1] != "" {
		n, _ = strconv.Atoi(m[1])
	}
	switch m[2] + m[3] {
	case "A":
		s.row = max(s.row-n, 0)
	case "B":
		s.row += n
	case "K":
		s.at(s.row, s.column)
		s.lines[s.row] = s.lines[s.row][:s.column]
	case "J":
		s.at(s.row, s.column)
		s.lines[s.row] = s.lines[s.row][:s.column]
		s.lines = s.lines[:s.row+1]
	case "7":
		s.saved = [2]int{s.row, s.column}
	case "8":
		s.row, s.column = s.saved[0], s.saved[1]
	}
}

func (s *screen) text() string {
	var out []string
	for _, l := range s.lines {
		out = append(out, strings.TrimRight(string(l), " "))
	}
	return strings.TrimRight(strings.Join(out, "\n"), "\n")
}

// heard is a session without a design that has heard so many seconds.
func heard(t *testing.T, seconds float64) *session.Session {
	t.Helper()
	var b bytes.Buffer
	if err := listen.Simulate(t.Context(), &b, listen.SimulateOptions{Times: listen.Constant(4e-3, 3.3e-3), For: seconds}); err != nil {
		t.Fatal(err)
	}
	src, err := open.NewStream("-", &b, acquire.StreamOptions{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := src.Next()
	if err != nil {
		t.Fatal(err)
	}
	s := session.New(nil)
	w := s.Watch(c, src, func() {})
	var blk acquire.Block
	for err == nil {
		err = w.Read(&blk)
	}
	if err != io.EOF {
		t.Fatal(err)
	}
	s.End(src)
	return s
}

// terminal is a view on a screen of so many lines.
func terminal(t *testing.T, s *session.Session, height int) (*View, *bytes.Buffer) {
	st, out, _ := buffered("")
	st.OutTerminal, st.Height, st.Width = true, height, 80
	st.Now = func() time.Time { return time.Date(2001, 1, 1, 10, 0, 0, 0, time.UTC) }
	return New(Options{Session: s, Streams: st, Style: text.Style{Width: 80}, Source: "a test"}), out
}

// The block stays in one place, however its length changes, and what is typed below it stays there.
func TestBlockStaysInPlace(t *testing.T) {
	v, out := terminal(t, session.New(nil), 40)
	var sc screen
	sc.write("$ offbeat listen\n")
	show := func() string {
		out.Reset()
		v.show()
		sc.write(out.String())
		return sc.text()
	}
	empty := show()
	if !strings.HasPrefix(empty, "$ offbeat listen\nlistening to a test for 0s\n") || !strings.Contains(empty, "No whole cycles yet.") {
		t.Fatalf("the screen shows\n%s", empty)
	}
	if again := show(); again != empty {
		t.Errorf("drawn twice:\n%s", again)
	}
	v.opt.Session = heard(t, 20)
	full := show()
	if !strings.HasPrefix(full, "$ offbeat listen\nlistening to a test") || strings.Contains(full, "No whole cycles") || strings.Count(full, "high time") != 1 {
		t.Errorf("after it has grown:\n%s", full)
	}
	sc.write("cooled")
	v.Port(true)
	gone := show()
	if !strings.HasPrefix(gone, "$ offbeat listen\na test has vanished; waiting for it to come back\n") || !strings.HasSuffix(gone, "\ncooled") {
		t.Errorf("while something is typed:\n%s", gone)
	}
	v.Port(false)
	v.opt.Session = session.New(nil)
	if shorter := show(); shorter != empty {
		t.Errorf("after it has shrunk:\n%s", shorter)
	}
	out.Reset()
	v.Start("")
	v.Stop()
	sc.write(out.String())
	if end := sc.text(); end != "$ offbeat listen" {
		t.Errorf("the end leaves\n%s", end)
	}
}

func TestBlockFitsTheTerminal(t *testing.T) {
	v, out := terminal(t, heard(t, 20), 8)
	v.show()
	var sc screen
	sc.write(out.String())
	if n := strings.Count(out.String(), "\n"); n != 6 {
		t.Errorf("%d lines on a terminal of 8:\n%s", n, sc.text())
	}
}

// Off a terminal there are plain lines: one when something is new, none when nothing is.
func TestPlainLines(t *testing.T) {
	st, out, _ := buffered("")
	v := New(Options{Session: heard(t, 20), Streams: st, Source: "a test"})
	v.show()
	line := out.String()
	// Frequency and duty factor by hand: 1/7.3 ms and 4/7.3.
	if strings.Contains(line, "\x1b") || strings.Count(line, "\n") != 1 || !strings.HasPrefix(line, "20.0 s: 136.986") || !strings.Contains(line, "duty factor 54.79") {
		t.Errorf("%q", line)
	}
	v.show()
	if out.String() != line {
		t.Errorf("nothing was new, and yet %q", out.String()[len(line):])
	}
}

// What the user types is a mark; blank lines are none, and a mark that fails is said and does no harm.
func TestTypedMarks(t *testing.T) {
	st, _, problems := buffered("cooled C1\n\n  warmed R2  \nlast")
	st.InTerminal, st.OutTerminal, st.Height = true, true, 40
	var mu sync.Mutex
	var got []string
	done := make(chan bool)
	v := New(Options{Session: session.New(nil), Streams: st, Source: "a test", Mark: func(text string) error {
		mu.Lock()
		defer mu.Unlock()
		if got = append(got, text); len(got) == 3 {
			close(done)
		}
		return errors.New("too late")
	}})
	v.Start("http://127.0.0.1:1/")
	select {
	case <-done:
	case <-time.After(10 * time.Second):
	}
	v.Stop()
	mu.Lock()
	defer mu.Unlock()
	if s := fmt.Sprint(got); s != "[cooled C1 warmed R2 last]" {
		t.Errorf("marks %s", s)
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	if !strings.Contains(problems.String(), `No mark "cooled C1": too late; type it again.`) {
		t.Errorf("%q", problems.String())
	}
}

// lineWriter sends each line that is written.
type lineWriter chan string

func (w lineWriter) Write(b []byte) (int, error) { w <- string(b); return len(b), nil }

// A mark that cannot be one is refused, each by itself, with what to do instead; under TERM=dumb, where the cursor can't be
// moved, what is typed moves nothing either.
func TestRefusedMarks(t *testing.T) {
	for _, c := range []struct {
		name            string
		typed, ended    bool
		refused, advice string
	}{
		{"piped", false, false, `No mark "cooled C1": standard input is no terminal`, "--page"},
		{"ended", true, true, `No mark "cooled C1": the stream has ended`, "listen again"},
	} {
		st, out, _ := buffered("cooled C1\n\nsecond\n")
		said := make(lineWriter, 8)
		st.Err, st.InTerminal, st.OutTerminal, st.Height = said, c.typed, true, 0
		v := New(Options{Session: session.New(nil), Streams: st, Source: "a test", Silent: true, Mark: func(string) error { t.Error("marked"); return nil }})
		if c.ended {
			v.End()
		}
		v.Start("")
		if first, second := <-said, <-said; !strings.HasPrefix(first, c.refused) || !strings.Contains(first, c.advice) || !strings.HasPrefix(second, `No mark "second"`) {
			t.Errorf("%s: %q, %q", c.name, first, second)
		}
		v.Stop()
		if out.Len() > 0 {
			t.Errorf("%s: %q", c.name, out.String())
		}
	}
}

func TestStatus(t *testing.T) {
	s := session.New(nil)
	st, _, _ := buffered("")
	st.InTerminal = true
	v := New(Options{Session: s, Streams: st, Source: "a port", Saved: "x.log", Mark: func(string) error { return nil }})
	v.page = "http://127.0.0.1:1/"
	v.End()
	sh := s.Snapshot()
	if got := strings.Join(v.status(&sh), "\n"); got != "a port has ended after 0s\nkept in x.log; page at http://127.0.0.1:1/\nType what you do and press Enter to set a mark; Ctrl-C ends." {
		t.Error(got)
	}
	if h := v.Heard(); h.State != "a port has ended" || h.Clock != "0s" || h.Saved != "x.log" || h.Source != "a port" {
		t.Errorf("%+v", h)
	}
}

// buffered is streams over buffers; input is what In holds.
func buffered(input string) (s *streams.Streams, out, err *bytes.Buffer) {
	out, err = &bytes.Buffer{}, &bytes.Buffer{}
	return streams.Over(strings.NewReader(input), out, err), out, err
}
