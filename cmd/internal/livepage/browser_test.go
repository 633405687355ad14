package livepage

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"offbeat/acquire"
	"offbeat/acquire/listen"
	"offbeat/acquire/open"
	"offbeat/compare/report/browsertest"
	"offbeat/compare/report/page"
	"offbeat/compare/session"
	"offbeat/fit"
)

// warmed is a session of three minutes: C1 is cooled at 60 s and R1 warmed at 120 s, both told as changes of the
// printed times alone.
func warmed(t *testing.T) *session.Session {
	t.Helper()
	d := &fit.Design{Title: "Harbour lamp 3", Circuit: "astable", Family: fit.Ideal, History: fit.Worked, Supply: fit.Reading{Value: 5, Half: 0.1}, ClockLimit: 100e-6,
		Parts: []fit.Part{
			{Name: "R1", Nominal: 10e3, Minus: 0.01, Plus: 0.01},
			{Name: "R2", Nominal: 47e3, Minus: 0.01, Plus: 0.01},
			{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1},
		},
		Targets: []fit.Target{{Quantity: "frequency", Value: 138, Low: 138 * 0.97, High: 138 * 1.03}},
	}
	after := func(at, since, settling float64) float64 { return 1 - math.Exp(-max(at-since, 0)/settling) }
	times := func(at float64) (float64, float64) {
		c := 1.15 * (1 - 0.012*after(at, 60, 6) + 2e-6*at)
		return 3.9509e-3 * c * (1 + 0.004*10/57*after(at, 120, 3)), 3.2578e-3 * c
	}
	var b bytes.Buffer
	if err := listen.Simulate(t.Context(), &b, listen.SimulateOptions{Times: times, Jitter: 2e-6, For: 180, Banner: true}); err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	marks := []struct {
		at   float64
		text string
	}{{60, "cooled C1 with spray"}, {120, "soldering iron near R1"}, {1e9, ""}}
	for line := range bytes.Lines(b.Bytes()) {
		var us float64
		if fmt.Sscanf(string(line), "%f,", &us); us*1e-6 >= marks[0].at {
			fmt.Fprintf(&text, "# offbeat mark %s\n", marks[0].text)
			marks = marks[1:]
		}
		text.Write(line)
	}
	src, err := open.NewStream("-", &slow{r: &text}, acquire.StreamOptions{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := src.Next()
	if err != nil {
		t.Fatal(err)
	}
	s := session.New(d)
	w := s.Watch(c, src, func() { s.Judge() })
	var blk acquire.Block
	for err == nil {
		err = w.Read(&blk)
	}
	s.End(src)
	return s
}

// slow hands out what a port would in some seconds, so that there are blocks enough for a trend of the parts.
type slow struct{ r io.Reader }

func (s *slow) Read(p []byte) (int, error) { return s.r.Read(p[:min(len(p), 12_000)]) }

// counted is a stream that has met something since.
type counted struct{}

func (counted) Counts() acquire.StreamCounts { return acquire.StreamCounts{Lines: 4321} }
func (counted) Marks() []acquire.StreamMark  { return nil }

// TestInBrowser looks at the live page as its user would. OFFBEAT_PAGES names a folder to keep what was seen in.
func TestInBrowser(t *testing.T) {
	b := browsertest.New(t)
	keep := os.Getenv("OFFBEAT_PAGES")
	s := warmed(t)
	var mu sync.Mutex
	state, clock, gone := "Harbour lamp 3: listening to /dev/ttyUSB0, 115200 baud", "3m0s", false
	marks := make(chan string, 1)
	server, err := Start(Options{
		Heard: func() *page.Heard {
			mu.Lock()
			defer mu.Unlock()
			return &page.Heard{Snapshot: s.Snapshot(), Source: "/dev/ttyUSB0", State: state, Clock: clock, Gone: gone, Saved: "offbeat-20010101-100000.log"}
		},
		Mark:   func(text string) error { marks <- text; return nil },
		Report: func(w io.Writer) error { return nil },
		Every:  50 * time.Millisecond,
	})
	if err != nil {
		t.Fatal(err)
	}
	defer server.Close()
	b.Open(server.URL())
	for _, width := range []int{390, 768, 1280} {
		for _, scheme := range []string{"light", "dark"} {
			if keep == "" && (width == 768) != (scheme == "dark") {
				continue // colours do not depend on the width: one of each will do
			}
			b.Screen(width, scheme)
			var wrong, faint []string
			b.Run(browsertest.LayoutFaults, &wrong)
			b.Run(browsertest.Contrast, &faint)
			for _, w := range append(wrong, faint...) {
				t.Errorf("%d px, %s: %s", width, scheme, w)
			}
			var small []string
			b.Run(`return [...document.querySelectorAll("button, input, a")].filter(e => e.getBoundingClientRect().height < (e.tagName == "A" ? 16 : 40)).map(e => e.outerHTML)`, &small)
			for _, e := range small {
				t.Errorf("%d px: too small to touch: %s", width, e)
			}
			b.Accessible(fmt.Sprintf("live %d %s", width, scheme), width == 768)
			if keep != "" {
				b.Picture(filepath.Join(keep, fmt.Sprintf("live-%d-%s.png", width, scheme)))
			}
		}
	}
	for _, f := range b.Faults(b.Paper(8.27, 11.69, false, "")) {
		t.Error("on paper ", f)
	}
	// The clock goes on without being announced, and what is selected beside it stays selected until it is let go.
	b.Run(`getSelection().selectAllChildren(document.querySelector("#heard p"))`, nil)
	mu.Lock()
	clock = "3m1s"
	s.End(counted{})
	mu.Unlock()
	b.Until(`return document.querySelector("#clock").textContent == "3m1s"`)
	var announced, kept string
	b.Run(`return document.querySelector("[role=status]").textContent`, &announced)
	b.Run(`return getSelection().toString()`, &kept)
	if strings.Contains(announced, "3m") || !strings.Contains(kept, "heard") || strings.Contains(kept, "4321") {
		t.Errorf("announced %q, selected %q", announced, kept)
	}
	b.Run(`getSelection().removeAllRanges()`, nil)
	b.Until(`return document.querySelector("#heard").textContent.includes("4321 lines")`)
	b.Until(`return document.querySelector("#causes").textContent.includes("out of tolerance") && document.querySelector("#next li")`)
	// The page follows what happens, without being loaded again.
	mu.Lock()
	state, gone = "the port has vanished", true
	mu.Unlock()
	b.Until(`return document.querySelector("#state .gone")?.textContent == "the port has vanished"`)
	// A mark is set by typing it.
	b.Run(`const f = document.getElementById("mark"); f.elements.text.value = "warmed R2"; f.requestSubmit();`, nil)
	select {
	case got := <-marks:
		if got != "warmed R2" {
			t.Errorf("mark %q", got)
		}
	case <-time.After(10 * time.Second):
		t.Error("no mark came")
	}
	b.Until(`return document.getElementById("mark-text").value == "" && document.getElementById("mark-note").textContent == ""`)
	for _, e := range b.Log() {
		t.Errorf("console says %s: %s", e.Level, e.Message)
	}
	for _, url := range b.Asked(server.URL()) {
		if !strings.HasPrefix(url, server.URL()) {
			t.Errorf("the page asks for %s", url)
		}
	}
	// When the program ends, the page says so.
	server.Close()
	b.Until(`return document.querySelector("#state .gone").textContent.includes("no longer answers")`)
}
