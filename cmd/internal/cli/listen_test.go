package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/term"

	"offbeat/acquire/listen"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
)

func TestListenFlags(t *testing.T) {
	s, _, _ := buffered("")
	var got listenOptions
	err := execute(t, newListen(s, func(o *listenOptions) error { got = *o; return nil }), "/dev/ttyUSB0", "--design", "d.toml", "--baud", "9600", "--unit", "ms",
		"--for", "30s", "--save", "x.log", "--page", "--json", "--invert", "--channel", "D0", "--clock", "ceramic", "--part", "R1=10k")
	want := listenOptions{Port: "/dev/ttyUSB0", File: "d.toml", Baud: 9600, Unit: "ms", For: 30 * time.Second, Save: "x.log", Page: true, Invert: true, Channel: "D0", Clock: "ceramic",
		Output: outputFlags{JSON: true}, Design: designFlags{designfile.Flags{Parts: []string{"R1=10k"}}}}
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v\ngot  %+v\nwant %+v", err, got, want)
	}
}

func TestListenUsage(t *testing.T) {
	bench(t)
	for _, c := range []struct{ args, says string }{
		{"", "the port is missing"},
		{"a b", "one argument too many"},
		{"--ports a", "one argument too many"},
		{"--ports --simulate lamp.toml", "exclude each other"},
		{"--simulate lamp.toml -", "one argument too many"},
		{"- --baud 0", "--baud 0"},
		{"- --baud fast", "--baud"},
		{"- --for -1s", "--for"},
		{"- --for soon", "--for"},
		{"- --fast", "--simulate"},
		{"- --save a --no-save", "exclude each other"},
		{"- --unit parsec", "parsec"},
		{"- --part R1=10k", "--circuit"},
		{"- --json --quiet", "exclude each other"},
		{"- --clock sundial", "sundial"},
		{"- --circuit bistable", "bistable"},
	} {
		_, stderr, status := run(t, "1,1\n", append([]string{"listen"}, strings.Fields(c.args)...)...)
		if status != Usage || !strings.Contains(stderr, c.says) {
			t.Errorf("listen %s: status %d, %s; want %q", c.args, status, stderr, c.says)
		}
	}
}

func TestListenFaults(t *testing.T) {
	bench(t)
	for _, c := range []struct{ name, input, args, says string }{
		{"no such port", "", "nowhere", "port nowhere is not there"},
		{"a file is no port", "", "lamp.toml", "port lamp.toml is no serial port"},
		{"nothing heard", "", "-", "no line was heard"},
		{"noise", "\xff\xfe~\n\x00\n", "-", "no line is a reading in a known form"},
		{"times without levels", "1\n3\n4\n6\n7\n9\n", "-", "a time without a level"},
		{"too few", "1,1\n3,0\n4,1\n", "-", "0 whole cycles"},
		{"no such design", "1,1\n", "- --design nowhere.toml", "nowhere.toml"},
		{"a log that is there", "1,1\n", "- --save lamp.toml", "lamp.toml is there already"},
	} {
		stdout, stderr, status := run(t, c.input, append([]string{"listen"}, strings.Fields(c.args)...)...)
		if status != Failed || stdout != "" || !strings.Contains(stderr, c.says) {
			t.Errorf("%s: status %d, %q, %s; want %q", c.name, status, stdout, stderr, c.says)
		}
	}
	if left, _ := filepath.Glob("offbeat-*.log"); len(left) > 0 {
		t.Errorf("a port that did not open left %v", left)
	}
}

// lampLines is what a board on the lamp prints in 20 s, with faults in it.
func lampLines(t *testing.T) string {
	t.Helper()
	stdout, stderr, status := run(t, "", "listen", "--simulate", "lamp.toml", "--fast", "--for", "20s")
	if status != Done || stderr != "" {
		t.Fatalf("status %d: %s", status, stderr)
	}
	lines := strings.SplitAfter(stdout, "\n")
	if !strings.HasPrefix(lines[0], "offbeat edge timer") || len(lines) < 5000 {
		t.Fatalf("%d lines, the first %q", len(lines), lines[0])
	}
	lines[0] = "\x00\xff,1\n"
	lines[1000] = ""
	lines[2000] = "\x80" + lines[2000]
	return strings.Join(lines, "")
}

// What listen prints of a stream is what measure and reconcile print of its saved log, with the stream's counts
// besides.
func TestListenEqualsReplay(t *testing.T) {
	bench(t)
	text := lampLines(t)
	for i, c := range []struct{ listen, replay string }{
		{"listen - --json --save 0.log", "measure 0.log --json"},
		{"listen - --design lamp.toml --json --save 1.log", "reconcile lamp.toml 1.log --json"},
		{"listen - --design lamp.toml --json --save 2.log --unit 2MHz", "reconcile lamp.toml 2.log --json"},
	} {
		heard, stderr, status := run(t, text, strings.Fields(c.listen)...)
		again, stderr2, status2 := run(t, "", strings.Fields(c.replay)...)
		if status != status2 || stderr != "" || stderr2 != "" {
			t.Fatalf("status %d and %d: %s %s", status, status2, stderr, stderr2)
		}
		var a, b map[string]any
		if err := json.Unmarshal([]byte(heard), &a); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal([]byte(again), &b); err != nil {
			t.Fatal(err)
		}
		counts, _ := a["stream"].(map[string]any)
		for key, want := range map[string]float64{"lines": float64(strings.Count(text, "\n")), "garbage": 2, "lost": 2, "resets": 0, "wraps": 0, "reconnects": 0} {
			if got, ok := counts[key].(float64); !ok || got != want {
				t.Errorf("%s: %s is %v, want %g", c.listen, key, counts[key], want)
			}
		}
		delete(a, "stream")
		// The unit that was asked for is in the log; measure then has it from there.
		x, y := fmt.Sprint(a), strings.ReplaceAll(fmt.Sprint(b), fmt.Sprintf("%d.log", i), "-")
		if x != y {
			t.Errorf("%s\n%s", c.listen, difference(x, y))
		}
	}
}

// A stream whose times jump is said to change before anything else, with a design and without, and is never passed.
func TestListenSaysAChange(t *testing.T) {
	bench(t)
	var b strings.Builder
	rnd, at := rand.New(rand.NewPCG(1, 2)), 0.0
	for i := range 240 {
		length := []float64{3965, 3258}[i%2] + 2*rnd.NormFloat64()
		if i >= 130 {
			length *= 1.03
		}
		fmt.Fprintf(&b, "%.0f,%d\n", at, 1-i%2)
		at += length
	}
	heard, _, _ := run(t, b.String(), strings.Fields("listen - --quiet --no-save --unit us")...)
	if !regexp.MustCompile(`intermittent, the period changes at 4[67]\d ms`).MatchString(heard) {
		t.Errorf("%s", heard)
	}
	heard, _, status := run(t, b.String(), strings.Fields("listen - --quiet --no-save --unit us --design lamp.toml")...)
	if !strings.HasPrefix(heard, "Intermittent: ") || status == 0 || strings.Contains(heard, "None needed") {
		t.Errorf("status %d: %s", status, heard)
	}
}

// Listening to a port: the board's lines come over a pseudo-terminal, are saved under the time's name, and the
// verdict is the exit status.
func TestListenToAPort(t *testing.T) {
	bench(t)
	text := lampLines(t)
	master, tty, err := pty.Open()
	if err != nil {
		t.Skipf("no pseudo-terminal on this system: %v", err)
	}
	defer master.Close()
	defer tty.Close()
	if _, err := term.MakeRaw(int(tty.Fd())); err != nil {
		t.Fatal(err)
	}
	go io.WriteString(master, text)
	s, out, stderr := buffered("")
	s.Now = func() time.Time { return time.Date(2001, 1, 1, 10, 0, 0, 0, time.UTC) }
	const name = "offbeat-20010101-100000.log"
	ctx, cancel := context.WithCancel(t.Context())
	o := &listenOptions{Port: tty.Name(), File: "lamp.toml", Output: outputFlags{Quiet: true, Report: "page.html"}, until: ctx}
	done := make(chan error, 1)
	go func() { done <- o.run(s) }()
	for late := time.Now().Add(20 * time.Second); time.Now().Before(late); time.Sleep(10 * time.Millisecond) {
		if b, err := os.ReadFile(name); err == nil && strings.HasSuffix(string(b), text) {
			break
		}
	}
	cancel()
	if err := <-done; err != nil || stderr.String() != "" || !strings.HasPrefix(out.String(), "On target: frequency 137.") {
		t.Errorf("%v: %s%s", err, out, stderr)
	}
	log, err := os.ReadFile(name)
	if err != nil || !strings.HasPrefix(string(log), "# offbeat stream 1\n# offbeat source "+tty.Name()+"\n# offbeat baud 115200\n") || !strings.HasSuffix(string(log), text) {
		t.Errorf("the log is not what was heard: %v, %d bytes of %d", err, len(log), len(text))
	}
	page, err := os.ReadFile("page.html")
	if err != nil || !strings.Contains(string(page), ">Heard</h2>") {
		t.Errorf("the report does not show the session: %v", err)
	}
}

// On a terminal that cannot move its cursor there are plain lines from the first to the last, the marks that are typed there are
// taken, and one that comes too late is refused.
func TestListenOnADumbTerminal(t *testing.T) {
	bench(t)
	t.Setenv("TERM", "dumb")
	open := func() (master, tty *os.File) {
		master, tty, err := pty.Open()
		if err != nil {
			t.Skipf("no pseudo-terminal on this system: %v", err)
		}
		t.Cleanup(func() { master.Close(); tty.Close() })
		return master, tty
	}
	board, port := open()
	if _, err := term.MakeRaw(int(port.Fd())); err != nil {
		t.Fatal(err)
	}
	person, screen := open()
	if err := pty.Setsize(screen, &pty.Winsize{Rows: 40, Cols: 80}); err != nil {
		t.Fatal(err)
	}
	in, out, errs := os.Stdin, os.Stdout, os.Stderr
	os.Stdin, os.Stdout, os.Stderr = screen, screen, screen
	s := streams.System()
	os.Stdin, os.Stdout, os.Stderr = in, out, errs
	var shown syncBuffer
	go io.Copy(&shown, person)
	go io.WriteString(board, lampLines(t))
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() {
		o := &listenOptions{Port: port.Name(), File: "lamp.toml", NoSave: true, until: ctx}
		done <- o.run(s)
	}()
	await := func(what string) {
		t.Helper()
		for late := time.Now().Add(20 * time.Second); !strings.Contains(shown.String(), what); time.Sleep(10 * time.Millisecond) {
			if time.Now().After(late) {
				t.Fatalf("no %q in\n%s", what, shown.String())
			}
		}
	}
	await("Type what you do and press Enter to set a mark")
	await(" s: 137.")
	io.WriteString(person, "cooled C1\n")
	await("cooled C1")
	time.Sleep(50 * time.Millisecond) // the line is read
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
	await("certifies nothing.")
	if text := shown.String(); strings.Contains(text, "\x1b") || !strings.Contains(text, ", cooled C1: ") || strings.Count(text, "On target: frequency 137.") != 1 {
		t.Errorf("%q", text)
	}
}

// A simulation whose lines nobody reads ends when it is interrupted all the same.
func TestListenSimulateEnds(t *testing.T) {
	bench(t)
	r, w := io.Pipe()
	defer r.Close()
	s, _, _ := buffered("")
	s.Out = w
	ctx, cancel := context.WithCancel(t.Context())
	o := &listenOptions{Simulate: "lamp.toml", Fast: true, until: ctx}
	done := make(chan error, 1)
	go func() { done <- o.run(s) }()
	time.Sleep(50 * time.Millisecond) // it writes by now, or will find itself interrupted
	cancel()
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(10 * time.Second):
		t.Error("it still waits for a reader")
	}
}

// syncBuffer may be read while a command writes to it.
type syncBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *syncBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *syncBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// The page: what is heard shows there, marks set there are in the result, the report can be had while it runs.
func TestListenPage(t *testing.T) {
	bench(t)
	in, board := io.Pipe()
	s, out, _ := buffered("")
	var stderr syncBuffer
	s.In, s.Err = in, &stderr
	ctx, cancel := context.WithCancel(t.Context())
	o := &listenOptions{Port: "-", Page: true, Output: outputFlags{JSON: true}, until: ctx}
	done := make(chan error, 1)
	go func() { done <- o.run(s) }()
	// A mark is taken after 10 s of the board's time, and 10 s more follow.
	var lines bytes.Buffer
	if err := listen.Simulate(t.Context(), &lines, listen.SimulateOptions{Times: listen.Constant(4e-3, 3e-3), Jitter: 1e-6, For: 20}); err != nil {
		t.Fatal(err)
	}
	half := regexp.MustCompile(`\n10\d{6},`).FindIndex(lines.Bytes())[0]
	board.Write(lines.Bytes()[:half+1])
	var url string
	for late := time.Now().Add(10 * time.Second); url == "" && time.Now().Before(late); time.Sleep(5 * time.Millisecond) {
		url = regexp.MustCompile(`http://\S+`).FindString(stderr.String())
	}
	until(t, url, "142.8") // hertz, by hand 1/7 ms
	if a, err := http.Post(url+"mark", "application/x-www-form-urlencoded", strings.NewReader("text=no+origin")); err != nil || a.StatusCode != http.StatusForbidden {
		t.Errorf("a mark from nowhere: %v, %v", a, err)
	}
	r, err := http.NewRequest("POST", url+"mark", strings.NewReader("text=cooled+C1"))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Origin", strings.TrimSuffix(url, "/"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if a, err := http.DefaultClient.Do(r); err != nil || a.StatusCode != http.StatusNoContent {
		t.Fatalf("mark: %v, %v", a, err)
	}
	board.Write(lines.Bytes()[half+1:])
	until(t, url, ", cooled C1:")
	until(t, url+"report.html", ">Heard</h2>")
	board.Close()
	until(t, url, "standard input has ended")
	until(t, url+"report.html", ", cooled C1:")
	cancel() // until then the page stays
	if err := <-done; err != nil {
		t.Errorf("%v: %s", err, stderr.String())
	}
	var result struct {
		Marks []struct {
			Text string
			High struct{ Relative, Standard_uncertainty float64 } `json:"high_time"`
		}
	}
	if err := json.Unmarshal(out.Bytes(), &result); err != nil || len(result.Marks) != 1 || result.Marks[0].Text != "cooled C1" {
		t.Fatalf("%v in %s", err, out)
	}
	if h := result.Marks[0].High; h.Relative == 0 || !(h.Standard_uncertainty > 0) || h.Relative > 5*h.Standard_uncertainty {
		t.Errorf("a step of %+v where nothing happened", h)
	}
}

// until asks for a page until it says something.
func until(t *testing.T, url, says string) {
	t.Helper()
	last := ""
	for late := time.Now().Add(10 * time.Second); time.Now().Before(late); time.Sleep(20 * time.Millisecond) {
		a, err := http.Get(url)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(a.Body)
		a.Body.Close()
		if last = string(b); err == nil && strings.Contains(last, says) {
			return
		}
	}
	t.Fatalf("%s never says %q:\n%s", url, says, last)
}
