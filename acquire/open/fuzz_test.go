package open

import (
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/acquire/read"
	"offbeat/acquire/recognise"
)

// telling reads a source wholly, checks what holds of every source, and puts what it says into a text.
func telling(t *testing.T, r io.Reader, opt acquire.Options) string {
	t.Helper()
	return tellingOf(t, r, -1, opt, 0)
}

// tellingOf does it of a regular file of total bytes where r can be read anywhere.
func tellingOf(t *testing.T, r io.Reader, total int64, opt acquire.Options, chunk int) string {
	t.Helper()
	var out strings.Builder
	s, err := from("fuzz", r, total, opt, read.Tuning{Chunk: chunk})
	if err != nil {
		var e *acquire.Error
		if !errors.As(err, &e) {
			t.Fatalf("error without a place: %v", err)
		}
		return "open: " + err.Error()
	}
	defer s.Close()
	for {
		c, err := s.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			fmt.Fprintf(&out, "next: %v\n", err)
			return out.String()
		}
		rows, last := int64(0), math.Inf(-1)
		var b acquire.Block
		for err = c.Read(&b); err == nil; err = c.Read(&b) {
			if b.First != rows || b.N == 0 || len(b.Value) != len(c.Channels) || b.Time != nil && len(b.Time) != b.N {
				t.Fatalf("block from %d on of %d rows, %d channels, %d times; %d rows before it", b.First, b.N, len(b.Value), len(b.Time), rows)
			}
			for i := range b.N {
				if b.Time != nil {
					if !(b.Time[i] >= last) {
						t.Fatalf("time falls from %g to %g in a record", last, b.Time[i])
					}
					last = b.Time[i]
					fmt.Fprint(&out, b.Time[i], " ")
				}
				for _, v := range b.Value {
					fmt.Fprint(&out, v[i], " ")
				}
				out.WriteByte('\n')
			}
			rows += int64(b.N)
		}
		if err != io.EOF {
			fmt.Fprintf(&out, "read: %v\n", err)
		}
		if c.Rows != rows {
			t.Fatalf("%d rows read, the capture says %d", rows, c.Rows)
		}
		if rows > 1 && err == io.EOF && b.Time == nil && c.Kind != acquire.Transitions && c.Step < 0 {
			t.Fatalf("step %g", c.Step)
		}
		fmt.Fprintln(&out, c.Record, c.Shape, c.Kind, c.Channels, c.Start, c.Step, c.StepRelative, c.TimeResolution, c.Regressed, c.Rows, c.Skipped, c.Notes)
	}
	n := s.Counts()
	if n.Sum() != n.Lines {
		t.Fatalf("line counts do not add up: %+v", n)
	}
	fmt.Fprintf(&out, "%+v\n", n)
	return out.String()
}

// ways are other ways for the same bytes to reach the reader.
var ways = []func(t *testing.T, text []byte, opt acquire.Options) string{
	func(t *testing.T, text []byte, opt acquire.Options) string {
		return telling(t, iotest.OneByteReader(bytes.NewReader(text)), opt)
	},
	inChunks(1, false), inChunks(100, false), inChunks(1, true), inChunks(100, true),
}

func inChunks(chunk int, file bool) func(t *testing.T, text []byte, opt acquire.Options) string {
	return func(t *testing.T, text []byte, opt acquire.Options) string {
		t.Helper()
		if file {
			return tellingOf(t, bytes.NewReader(text), int64(len(text)), opt, chunk)
		}
		return tellingOf(t, bytes.NewReader(text), -1, opt, chunk)
	}
}

// largestInput bounds what one run of a fuzz target reads, so that there are many.
const largestInput = 2048

// properties checks one input: it reads the same in whatever portions it comes and however it is cut for the workers, and
// whatever ends its lines; each line is counted once; cut short or with its rows doubled it still reads or is refused. One
// of these is looked at in each run, by the bytes of the input.
func properties(t *testing.T, text []byte, opt acquire.Options) {
	t.Helper()
	text = text[:min(len(text), largestInput)]
	whole := telling(t, bytes.NewReader(text), opt)
	if strings.Contains(whole, "--channel") {
		opt.Channels = []string{"1"}
		whole = telling(t, bytes.NewReader(text), opt)
	}
	pick := int(crc32.ChecksumIEEE(text))
	switch way := pick % (len(ways) + 3); way {
	case len(ways):
		telling(t, bytes.NewReader(text[:pick/8%(len(text)+1)]), opt)
	case len(ways) + 1:
		lines := bytes.SplitAfter(text, []byte("\n"))
		var again []byte
		for _, l := range lines {
			again = append(again, bytes.Repeat(l, 1+pick>>4&3)...)
		}
		telling(t, bytes.NewReader(again), opt)
	case len(ways) + 2:
		if bytes.ContainsAny(text, "\r\x00\x1f\xfe\xff") || len(text) == 0 || text[len(text)-1] != '\n' {
			return
		}
		mixed := append([]byte{}, text...)
		for i, c := range text {
			if c == '\n' && (i+pick)%3 == 0 {
				mixed[i] = '\r'
			}
		}
		if bytes.Contains(mixed, []byte("\r\n")) {
			return // that is one line end, where there were two
		}
		if got := telling(t, bytes.NewReader(mixed), opt); got != whole {
			t.Fatalf("some lines end in CR alone:\n%s\nall in LF:\n%s", got, whole)
		}
	default:
		if got := ways[way](t, text, opt); got != whole {
			t.Fatalf("in way %d:\n%s\nat once:\n%s", way, got, whole)
		}
	}
}

// TestEveryWay looks at all of it for the miniature captures, which the fuzz targets begin with.
func TestEveryWay(t *testing.T) {
	for _, text := range miniatures(t) {
		var opt acquire.Options
		whole := telling(t, bytes.NewReader(text), opt)
		if strings.Contains(whole, "--channel") {
			opt.Channels = []string{"1"}
			whole = telling(t, bytes.NewReader(text), opt)
		}
		for i, way := range ways {
			if got := way(t, text, opt); got != whole {
				t.Errorf("in way %d:\n%s\nat once:\n%s", i, got, whole)
			}
		}
		for n := 0; n < len(text); n += 1 + len(text)/500 {
			telling(t, bytes.NewReader(text[:n]), opt)
		}
	}
}

// miniatures are the captures of the catalogue.
func miniatures(t testing.TB) (texts [][]byte) {
	t.Helper()
	files, err := filepath.Glob("../../testdata/captures/*.[ctv]*")
	if err != nil || len(files) < 22 {
		t.Fatalf("%d captures, %v", len(files), err)
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		texts = append(texts, text)
	}
	return texts
}

// seeds gives the miniature captures to a fuzz target.
func seeds(f *testing.F) {
	f.Helper()
	for _, text := range miniatures(f) {
		f.Add(text)
	}
}

// FuzzRecognise takes any bytes.
func FuzzRecognise(f *testing.F) {
	seeds(f)
	f.Add([]byte("\xff\xfe0\x00,\x001\x00\n\x00"))
	f.Fuzz(func(t *testing.T, text []byte) { properties(t, text, acquire.Options{}) })
}

// fuzzShape takes any bytes for the shape of so many, in the order in which they are tried.
func fuzzShape(f *testing.F, shape int) {
	seeds(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		properties(t, text, acquire.Options{Shape: recognise.ShapeNames()[shape]})
	})
}

func FuzzDump(f *testing.F)        { fuzzShape(f, 0) }
func FuzzConsole(f *testing.F)     { fuzzShape(f, 1) }
func FuzzPulses(f *testing.F)      { fuzzShape(f, 2) }
func FuzzRecordRows(f *testing.F)  { fuzzShape(f, 3) }
func FuzzBeside(f *testing.F)      { fuzzShape(f, 4) }
func FuzzCycles(f *testing.F)      { fuzzShape(f, 5) }
func FuzzDurations(f *testing.F)   { fuzzShape(f, 6) }
func FuzzDifferences(f *testing.F) { fuzzShape(f, 7) }
func FuzzBits(f *testing.F)        { fuzzShape(f, 8) }
func FuzzRun(f *testing.F)         { fuzzShape(f, 9) }
func FuzzValues(f *testing.F)      { fuzzShape(f, 10) }
func FuzzIndex(f *testing.F)       { fuzzShape(f, 11) }
func FuzzPairs(f *testing.F)       { fuzzShape(f, 12) }
func FuzzSteps(f *testing.F)       { fuzzShape(f, 13) }
func FuzzLogic(f *testing.F)       { fuzzShape(f, 14) }
func FuzzTransitions(f *testing.F) { fuzzShape(f, 15) }
func FuzzSegments(f *testing.F)    { fuzzShape(f, 16) }
func FuzzTable(f *testing.F)       { fuzzShape(f, 17) }

// TestEveryShapeHasAFuzzTarget reads this file, so that a new shape is not forgotten.
func TestEveryShapeHasAFuzzTarget(t *testing.T) {
	text, err := os.ReadFile("fuzz_test.go")
	if err != nil {
		t.Fatal(err)
	}
	targets := regexp.MustCompile(`(?m)^func Fuzz\w+\(f \*testing\.F\)\s+\{ fuzzShape\(`).FindAll(text, -1)
	if n := len(recognise.ShapeNames()); len(targets) != n {
		t.Errorf("%d fuzz targets for %d shapes", len(targets), n)
	}
	files, err := filepath.Glob("../recognise/shape_*.go")
	if n := len(recognise.ShapeNames()); err != nil || len(files) != n {
		t.Errorf("%d files for %d shapes: %v %v", len(files), n, files, err)
	}
}

// FuzzWriteRead writes a random signal in every shape that can be written, and reads it back: the levels are those
// written, to the digits printed, and the times lie where they were put.
func FuzzWriteRead(f *testing.F) {
	f.Add(uint64(1), 3e-3, 4e-3, byte(5), byte(0))
	f.Add(uint64(2), 1e-5, 7e-6, byte(3), byte(1))
	f.Add(uint64(3), 2.0, 1.0, byte(9), byte(6))
	f.Fuzz(func(t *testing.T, seed uint64, high, low float64, cycles, which byte) {
		if !(high > 1e-9 && high < 1e3 && low > 1e-9 && low < 1e3) || high/low > 20 || low/high > 20 {
			t.Skip()
		}
		r := rand.New(rand.NewPCG(seed, 1))
		sig := acquiretest.Astable(high, low, 1+int(cycles%20))
		w := Writers[int(which)%len(Writers)]
		if w.Kind == "samples" {
			sig.Noise, sig.Rand = 0.01, r
		}
		if w.Tick*20 > min(high, low) {
			t.Skip() // edges would fall on one tick
		}
		var text bytes.Buffer
		if err := w.Write(&text, sig, acquiretest.Form{Bits: 8, Time: "%.12e"}); err != nil {
			t.Fatal(err)
		}
		s, err := OpenReader("fuzz", &text, acquire.Options{})
		if err != nil {
			t.Fatal(err)
		}
		c, err := s.Next()
		if err != nil {
			t.Fatal(err)
		}
		var edges []float64
		var b acquire.Block
		last, row := math.NaN(), int64(0)
		for err = c.Read(&b); err == nil; err = c.Read(&b) {
			for i, v := range b.Value[0] {
				v = math.Round(v / 5)
				if c.Kind != acquire.Samples {
					v = b.Value[0][i]
				}
				if !math.IsNaN(last) && v != last {
					at := float64(row)
					if b.Time != nil {
						at = b.Time[i]
					}
					edges = append(edges, at)
				}
				last = v
				row++
			}
		}
		if err != io.EOF || len(edges) != len(sig.Edges) {
			t.Fatalf("%s: %v, %d edges, %d written; %q", w.Name, err, len(edges), len(sig.Edges), c.Notes)
		}
		truth := w.Truth(sig)
		for i, e := range edges {
			slack := 1e-11*sig.Duration + w.Tick + float64(i)*w.Digit/2
			if c.Kind != acquire.Transitions {
				e, slack = c.Start+(e-0.5)*c.Step, 0.51*c.Step
			}
			if strings.Contains(c.Shape, "in pairs of rows") { // a pair that spans the edge is half-way up, and noise puts it on either side
				slack = 1.51 * c.Step
			}
			if !(math.Abs(e-truth[i]) <= slack) {
				t.Fatalf("%s: edge %d at %.12g, written at %.12g", w.Name, i, e, truth[i])
			}
		}
		if next, err := s.Next(); err != io.EOF {
			t.Fatalf("another record: %v, %v", next, err)
		}
		if !slices.Contains([]string{"samples", "logic", "transitions"}, w.Kind) {
			t.Fatal(w.Kind)
		}
	})
}
