package open_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/open"
)

const captures = "../../testdata/captures"

// want is what stands in a .want file: what a person expects of the capture beside it.
type want struct {
	options    acquire.Options
	shape      string
	kind       acquire.Kind
	unit       string
	records    int
	rows       []int64
	start      []float64
	step       []float64
	resolution float64
	reference  float64
	edges      [][]float64
	tolerance  float64
	counts     acquire.Counts
	notes      []string
	unknown    int
	clipped    int
}

func numbers(t *testing.T, s string) (v []float64) {
	t.Helper()
	for f := range strings.FieldsSeq(s) {
		x, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		v = append(v, x)
	}
	return v
}

func readWant(t *testing.T, name string) want {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w := want{records: 1}
	for in := bufio.NewScanner(f); in.Scan(); {
		key, value, ok := strings.Cut(in.Text(), ":")
		value = strings.TrimSpace(value)
		if strings.HasPrefix(in.Text(), "#") || in.Text() == "" {
			continue
		}
		switch {
		case !ok:
			t.Fatalf("%s: %q is no key and value", name, in.Text())
		case key == "channel":
			w.options.Channels = append(w.options.Channels, value)
		case key == "shape":
			w.shape = value
		case key == "kind":
			k, ok := map[string]acquire.Kind{"samples": acquire.Samples, "logic": acquire.Logic, "transitions": acquire.Transitions}[value]
			if !ok {
				t.Fatalf("%s: kind %q", name, value)
			}
			w.kind = k
		case key == "unit":
			w.unit = value
		case key == "records":
			w.records = int(numbers(t, value)[0])
		case key == "rows":
			for _, x := range numbers(t, value) {
				w.rows = append(w.rows, int64(x))
			}
		case key == "start":
			w.start = numbers(t, value)
		case key == "step":
			w.step = numbers(t, value)
		case key == "resolution":
			w.resolution = numbers(t, value)[0]
		case key == "reference":
			w.reference = numbers(t, value)[0]
		case key == "edges":
			w.edges = append(w.edges, numbers(t, value))
		case key == "tolerance":
			w.tolerance = numbers(t, value)[0]
		case key == "unknown":
			w.unknown = int(numbers(t, value)[0])
		case key == "clipped":
			w.clipped = int(numbers(t, value)[0])
		case key == "note":
			w.notes = append(w.notes, value)
		case key == "lines":
			f := strings.Fields(value)
			for i := 0; i+1 < len(f); i += 2 {
				n := int64(numbers(t, f[i+1])[0])
				w.counts.Lines += n
				switch f[i] {
				case "rows":
					w.counts.Rows = n
				case "header":
					w.counts.Header = n
				case "preamble":
					w.counts.Preamble = n
				case "blank":
					w.counts.Blank = n
				case "skipped":
					w.counts.Skipped = map[string]int64{"all": n}
				default:
					t.Fatalf("%s: lines %q", name, f[i])
				}
			}
		default:
			t.Fatalf("%s: unknown key %q", name, key)
		}
	}
	return w
}

// at is v[i], or the last of v for records beyond.
func at(v []float64, i int) float64 { return v[min(i, len(v)-1)] }

// crossings finds the edges of one channel, plainly: the level crosses the reference between two finite levels,
// a state changes half a step before its row (logic) or with it (transitions).
func crossings(c *acquire.Capture, rows []row, reference float64) (edges []float64) {
	var last row
	seen := false
	for _, r := range rows {
		v := r.v[0]
		if math.IsNaN(v) {
			continue
		}
		if seen && (v >= reference) != (last.v[0] >= reference) {
			switch c.Kind {
			case acquire.Samples:
				edges = append(edges, last.t+(reference-last.v[0])/(v-last.v[0])*(r.t-last.t))
			case acquire.Logic:
				edges = append(edges, r.t-c.Step/2)
			default:
				edges = append(edges, r.t)
			}
		}
		last, seen = r, true
	}
	return edges
}

// checkCapture compares what is read from text with what is wanted.
func checkCapture(t *testing.T, name string, text []byte, w want) {
	t.Helper()
	s, err := open.OpenReader(name, bytes.NewReader(text), w.options)
	if err != nil {
		t.Fatal(err)
	}
	caps, rows := readAll(t, s)
	if len(caps) != w.records {
		for _, c := range caps {
			t.Log(c.Rows, c.Notes)
		}
		t.Fatalf("%d records, expected %d", len(caps), w.records)
	}
	for i, c := range caps {
		fail := func(format string, a ...any) {
			t.Helper()
			t.Errorf("record %d: "+format+"\nevidence: %q\nnotes: %q", append(append([]any{c.Record}, a...), c.Evidence, c.Notes)...)
		}
		if c.Record != i+1 {
			fail("record number %d", c.Record)
		}
		if c.Shape != w.shape || c.Kind != w.kind {
			fail("shape %q of kind %d, expected %q of kind %d", c.Shape, c.Kind, w.shape, w.kind)
		}
		if c.Channels[0].Unit != w.unit {
			fail("unit %q, expected %q", c.Channels[0].Unit, w.unit)
		}
		if n := w.rows[min(i, len(w.rows)-1)]; c.Rows != n {
			fail("%d rows, expected %d", c.Rows, n)
		}
		tolerance := w.tolerance
		if tolerance == 0 {
			tolerance = 1e-12
			if len(w.step) > 0 {
				tolerance = 1e-6 * at(w.step, i)
			}
		}
		if start := at(w.start, i); !(math.Abs(rows[i][0].t-start) <= tolerance) {
			fail("row 0 lies at %.12g s, expected %.12g", rows[i][0].t, start)
		}
		if len(w.step) > 0 && !(math.Abs(c.Step-at(w.step, i)) <= 1e-3*tolerance+1e-9*c.Step) {
			fail("step %.12g s, expected %.12g", c.Step, at(w.step, i))
		}
		if (c.Kind != acquire.Transitions || w.resolution > 0) && !(math.Abs(c.TimeResolution-w.resolution) <= 1e-6*w.resolution) {
			fail("time resolution %g s, expected %g", c.TimeResolution, w.resolution)
		}
		reference := w.reference
		if w.kind != acquire.Samples {
			reference = 0.5
		}
		edges := crossings(c, rows[i], reference)
		same := len(edges) == len(w.edges[i])
		for k := range edges {
			same = same && math.Abs(edges[k]-w.edges[i][k]) <= tolerance
		}
		if !same {
			fail("edges %.12g, expected %.12g", edges, w.edges[i])
		}
		unknown, clipped := 0, 0
		for _, r := range rows[i] {
			if math.IsNaN(r.v[0]) && r.t == r.t {
				unknown++
			}
			if math.IsInf(r.v[0], 0) {
				clipped++
			}
		}
		if w.unknown > 0 && unknown != w.unknown || clipped != w.clipped {
			fail("%d unknown and %d clipped levels, expected %d and %d", unknown, clipped, w.unknown, w.clipped)
		}
	}
	var all []string
	for _, c := range caps {
		all = append(all, c.Notes...)
	}
	for _, n := range w.notes {
		if !slices.ContainsFunc(all, func(s string) bool {
			return strings.Contains(s, n) || strings.Contains(strings.ReplaceAll(s, " is a guess", " guess"), n)
		}) {
			t.Errorf("no note says %q, in %q", n, all)
		}
	}
	if len(w.notes) == 0 && len(caps[0].Notes) > 0 {
		t.Errorf("notes %q, expected none", caps[0].Notes)
	}
	got := s.Counts()
	skipped := int64(0)
	for _, n := range got.Skipped {
		skipped += n
	}
	w.counts.Skipped, got.Skipped = map[string]int64{"all": w.counts.Skipped["all"]}, map[string]int64{"all": skipped}
	if fmt.Sprint(got) != fmt.Sprint(w.counts) {
		t.Errorf("line counts %+v, expected %+v (really skipped: %v)", got, w.counts, s.Counts().Skipped)
	}
}

// miniatures lists the captures of the catalogue; an empty folder fails.
func miniatures(t *testing.T) []string {
	t.Helper()
	wants, err := filepath.Glob(filepath.Join(captures, "*.want"))
	if err != nil || len(wants) < 22 {
		t.Fatalf("%d miniature captures found, %v", len(wants), err)
	}
	return wants
}

// captureOf gives the text of the capture beside a .want file.
func captureOf(t *testing.T, want string) (name string, text []byte) {
	t.Helper()
	stem := strings.TrimSuffix(want, ".want")
	for _, end := range []string{".csv", ".tsv", ".txt"} {
		if b, err := os.ReadFile(stem + end); err == nil {
			return filepath.Base(stem + end), b
		}
	}
	t.Fatalf("no capture beside %s", want)
	return "", nil
}

func TestShapes(t *testing.T) {
	for _, file := range miniatures(t) {
		name, text := captureOf(t, file)
		t.Run(name, func(t *testing.T) {
			w := readWant(t, file)
			if n := int64(bytes.Count(text, []byte("\n"))); w.counts.Lines != n {
				t.Fatalf("%d lines expected, the file has %d", w.counts.Lines, n)
			}
			checkCapture(t, name, text, w)
		})
	}
}
