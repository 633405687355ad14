package listen

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"time"

	"offbeat/acquire"
)

// safeBuffer may be read while a session writes to it.
type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safeBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// wait until the text ends so.
func (s *safeBuffer) wait(t *testing.T, end string) {
	t.Helper()
	for late := time.Now().Add(10 * time.Second); !strings.HasSuffix(s.String(), end); time.Sleep(time.Millisecond) {
		if time.Now().After(late) {
			t.Fatalf("waited in vain for %q at the end of\n%s", end, s.String())
		}
	}
}

// The faults of a serial stream, each over a terminal of its own. Rows are worked out by hand from the lines:
// microseconds from the first reading, x where the state is not known.
var portFaults = []struct {
	name   string
	text   string
	rows   string
	last   string // the row that tells that all is heard
	counts acquire.StreamCounts
}{
	{"nothing wrong", "1000,1\n1300,0\n1400,1\n1700,0\n1800,1\n", "0:1 300:0 400:1 700:0 800:1", "700:0",
		acquire.StreamCounts{Lines: 5, Edges: 5, Readings: 5}},
	{"garbage at the start", "\xff\xfe\x00~~\r\n,1\r\n1000,1\r\n1300,0\r\n1400,1\r\n1500,0\r\n", "0:1 300:0 400:1 500:0", "400:1",
		acquire.StreamCounts{Lines: 6, Edges: 4, Readings: 4, Garbage: 2}},
	{"partial line", "1000,1\n1300,0\n1400,1\n1700,0\n18", "0:1 300:0 400:1 700:0", "400:1",
		acquire.StreamCounts{Lines: 5, Edges: 4, Readings: 4, Garbage: 1, Cut: 1}},
	{"lost line", "1000,1\n1300,0\n1600,0\n1700,1\n1800,0\n", "0:1 300:0 400:x 500:1 600:0 700:1 800:0", "700:1",
		acquire.StreamCounts{Lines: 5, Edges: 5, Readings: 5, Lost: 1}},
	{"board reset", "91000,1\n91300,0\n91400,1\nboot 3\n20,0\n120,1\n220,0\n", "0:1 300:0 400:1 548:x 697:0 797:1 897:0", "797:1",
		acquire.StreamCounts{Lines: 7, Edges: 6, Readings: 6, Garbage: 1, Chatter: 1, Resets: 1}},
	{"counter wraps", "4294967000,1\n4294967290,0\n104,1\n404,0\n504,1\n", "0:1 290:0 400:1 700:0 800:1", "700:0",
		acquire.StreamCounts{Lines: 5, Edges: 5, Readings: 5, Wraps: 1}},
	{"time goes back", "1000,1\n1300,0\n14,1\n1700,0\n1800,1\n1900,0\n", "0:1 300:0 433:x 567:1 700:0 800:1 900:0", "800:1",
		acquire.StreamCounts{Lines: 6, Edges: 5, Readings: 6, Backward: 1}},
}

func TestFaultsOverATerminal(t *testing.T) {
	for _, c := range portFaults {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			b := newBoard(t)
			var log safeBuffer
			there := make(chan bool, 1)
			s, done := follow(t, t.Context(), Options{Port: b.name, Save: &log}, func(row string) {
				if row == c.last {
					there <- true
				}
			})
			b.print(c.text)
			wait(t, "the last row", there)
			// The rest of the last line is on its way, too: the log says when it has come.
			log.wait(t, c.text)
			s.Close()
			h := wait(t, "the end", done)
			if h.err != nil {
				t.Fatal(h.err)
			}
			equal(t, "rows", h.rows, []string{c.rows})
			c.counts.Own = 4 // the header
			equal(t, "counts", h.counts, c.counts)
			equal(t, "the saved log, read again", replay(t, log.String()), h)
		})
	}
}

func TestPortGoneAndBack(t *testing.T) {
	b := newBoard(t)
	var log safeBuffer
	events := make(chan Event, 4)
	there := make(chan bool, 2)
	s, done := follow(t, t.Context(), Options{Port: b.name, Save: &log, Retry: 10 * time.Millisecond, Notify: func(e Event) { events <- e }}, func(row string) {
		if row == "400:1" || strings.HasSuffix(row, "900:1") {
			there <- true
		}
	})
	b.print("91000,1\n91300,0\n91400,1\n91700,0\n918")
	wait(t, "the rows before", there)
	log.wait(t, "918")
	b.unplug()
	if e := wait(t, "the port to vanish", events); !e.Gone {
		t.Fatalf("event %+v", e)
	}
	b.plugIn()
	if e := wait(t, "the port to come back", events); e.Gone {
		t.Fatalf("event %+v", e)
	}
	b.print("0,1\n92300,0\n92500,1\n92600,0\n92900,1\n93000,0\n")
	log.wait(t, "93000,0\n")
	s.Close()
	h := wait(t, "the end", done)
	if h.err != nil {
		t.Fatal(h.err)
	}
	// Counter and pause agree, so the time axis runs on: 92300 lies 1300 after the first reading. The line
	// that was cut by the port's going, and the first one after it, are not used.
	equal(t, "rows", h.rows, []string{"0:1 300:0 400:1 700:0 1000:x 1300:0 1500:1 1600:0 1900:1 2000:0"})
	equal(t, "counts", h.counts, acquire.StreamCounts{Lines: 11, Edges: 9, Readings: 10, Garbage: 1, Cut: 1, Reconnects: 1, Unsure: 1, Own: 4 + 1}) // header and reconnect
	if !strings.Contains(log.String(), "\n918<cut>\n# offbeat reconnected ") {
		t.Errorf("the log does not tell of it:\n%s", log.String())
	}
	equal(t, "the saved log, read again", replay(t, log.String()), h)
}

// failing is a port whose Read fails at once.
type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }
func (f failing) Close() error             { return nil }

// TestRetryByCode: a port that was open is opened again through every state that plugging in passes, and
// given up for one that will not pass. Messages play no part: all errors read alike.
func TestRetryByCode(t *testing.T) {
	same := errors.New("no")
	for code := range Code(len(codes)) {
		tries := 0
		opener := func(name string, baud int) (Port, error) {
			switch tries++; tries {
			case 1:
				return failing{&PortError{name, Gone, same}}, nil
			case 2:
				return nil, &PortError{name, code, same}
			}
			return failing{&PortError{name, Closed, same}}, nil
		}
		s, err := Start(t.Context(), Options{Port: "p", Open: opener, Retry: time.Millisecond})
		if err != nil {
			t.Fatal(err)
		}
		h := hear(s, nil)
		var pe *PortError
		gaveUp := errors.As(h.err, &pe) && pe.Code == code
		if passes := codes[code].passes; gaveUp == passes {
			t.Errorf("code %d (%s): gave up %v after %d tries, want %v: %v", code, codes[code].what, gaveUp, tries, !passes, h.err)
		}
	}
}

func TestCloseWakesRead(t *testing.T) {
	b := newBoard(t)
	p, err := OpenPort(b.name, 9600)
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() {
		_, err := p.Read(make([]byte, 16))
		done <- err
	}()
	time.Sleep(5 * time.Millisecond)
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	var pe *PortError
	if err := wait(t, "Read to wake", done); !errors.As(err, &pe) || pe.Code != Closed {
		t.Errorf("Read woke with %v, want code Closed", err)
	}
	if _, err := p.Read(make([]byte, 16)); !errors.As(err, &pe) || pe.Code != Closed {
		t.Errorf("Read after Close: %v, want code Closed", err)
	}
}

func TestOpenErrors(t *testing.T) {
	file := filepath.Join(t.TempDir(), "saved.log")
	if err := os.WriteFile(file, []byte("1,1\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		code Code
	}{{file + ".none", NotFound}, {file, NotAPort}} {
		_, err := Start(t.Context(), Options{Port: c.name})
		var pe *PortError
		if !errors.As(err, &pe) || pe.Code != c.code || !strings.Contains(err.Error(), c.name) {
			t.Errorf("%s: %v, want code %d and the name", c.name, err, c.code)
		}
	}
}

// TestContextEnds: the end of the time asked for is an end of the stream, with the port there or away.
func TestContextEnds(t *testing.T) {
	for _, away := range []bool{false, true} {
		b := newBoard(t)
		ctx, cancel := context.WithCancel(t.Context())
		gone := make(chan Event, 8)
		there := make(chan bool, 1)
		_, done := follow(t, ctx, Options{Port: b.name, Notify: func(e Event) { gone <- e }}, func(string) {
			select {
			case there <- true:
			default:
			}
		})
		b.print("100,1\n200,0\n300,1\n")
		wait(t, "a row", there)
		if away {
			b.unplug()
			wait(t, "the port to vanish", gone)
		}
		cancel()
		if h := wait(t, "the end", done); h.err != nil || h.counts.Edges != 3 {
			t.Errorf("away %v: %+v", away, h)
		}
	}
}

func TestMarks(t *testing.T) {
	b := newBoard(t)
	var log safeBuffer
	there := make(chan bool, 8)
	s, done := follow(t, t.Context(), Options{Port: b.name, Save: &log, Unit: "ms"}, func(string) { there <- true })
	b.print("100,1\n200,0\n300,1\n4")
	wait(t, "a row", there)
	log.wait(t, "4")
	if err := s.Mark("cooled C1\nwith spray"); err != nil { // in the middle of a line
		t.Fatal(err)
	}
	b.print("00,0\n500,1\n")
	log.wait(t, "500,1\n")
	if err := s.Mark("done"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	h := wait(t, "the end", done)
	equal(t, "rows", h.rows, []string{"0:1 100000:0 200000:1 300000:0 400000:1"})
	// The first mark comes after the line that was being heard when it was set.
	equal(t, "marks", h.marks, []acquire.StreamMark{{Time: 0.3, Text: "cooled C1 with spray"}, {Time: 0.4, Text: "done"}})
	equal(t, "the saved log, read again", replay(t, log.String()), h)
}

func TestInput(t *testing.T) {
	var log safeBuffer
	s, err := Start(t.Context(), Options{Input: iotest.OneByteReader(strings.NewReader("H 300\nL 100\nH 310\n")), Save: &log})
	if err != nil {
		t.Fatal(err)
	}
	h := hear(s, nil)
	equal(t, "rows", h.rows, []string{"0:1 300:0 400:1 710:0"})
	equal(t, "the saved log, read again", replay(t, log.String()), h)
}

// An input that says nothing does not keep a session from ending.
func TestSilentInputEnds(t *testing.T) {
	r, w := io.Pipe()
	defer w.Close()
	ctx, cancel := context.WithCancel(t.Context())
	there := make(chan bool, 8)
	_, done := follow(t, ctx, Options{Input: r}, func(string) { there <- true })
	io.WriteString(w, "1,1\n2,0\n3,1\n")
	wait(t, "a row", there)
	cancel()
	if h := wait(t, "the end", done); h.err != nil || h.counts.Edges != 3 {
		t.Errorf("%+v", h)
	}
}

func TestSaveFails(t *testing.T) {
	full := iotest.ErrReader(io.ErrShortWrite)
	s, err := Start(t.Context(), Options{Input: strings.NewReader("1,1\n2,0\n"), Save: writerFunc(func(p []byte) (int, error) {
		if bytes.HasPrefix(p, []byte("# offbeat stream")) {
			return len(p), nil
		}
		return full.Read(nil)
	})})
	if err != nil {
		t.Fatal(err)
	}
	if h := hear(s, nil); !errors.Is(h.err, ErrSave) {
		t.Errorf("%v, want ErrSave", h.err)
	}
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(p []byte) (int, error) { return f(p) }

// TestHoursOverATerminal: what a slow timer prints in days passes through in bounded memory.
func TestHoursOverATerminal(t *testing.T) {
	const edges = 200_000 // of 0.5 s each: 28 hours, 23 wraps of the counter
	b := newBoard(t)
	s, err := Start(t.Context(), Options{Port: b.name})
	if err != nil {
		t.Fatal(err)
	}
	go Simulate(t.Context(), b.master, SimulateOptions{Times: Constant(0.6, 0.4), Edges: edges})
	c, err := s.Next()
	if err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	var blk acquire.Block
	rows, most := 0, uint64(0)
	for i := 0; rows < edges-1; i++ {
		if err := c.Read(&blk); err != nil {
			t.Fatal(err)
		}
		rows += blk.N
		if i == 10 {
			runtime.GC()
			runtime.ReadMemStats(&before)
		}
		if i%200 == 199 {
			runtime.GC()
			runtime.ReadMemStats(&after)
			most = max(most, after.HeapAlloc)
		}
	}
	s.Close()
	// The queue between port and reader may hold 1 MiB.
	if most > before.HeapAlloc+2<<20 {
		t.Errorf("the heap grew from %d to %d bytes", before.HeapAlloc, most)
	}
	if w := s.Counts(); w.Wraps != 23 || w.Lost+w.Garbage+w.Resets+w.Backward != 0 {
		t.Errorf("counts %+v, want 23 wraps and nothing else", w)
	}
}
