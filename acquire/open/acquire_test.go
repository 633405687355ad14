package open_test

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/acquire/open"
)

// row is one row read back.
type row struct {
	t float64
	v []float64
}

// readAll reads every record of a source.
func readAll(t *testing.T, s *open.Source) (caps []*acquire.Capture, rows [][]row) {
	t.Helper()
	for {
		c, err := s.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		caps = append(caps, c)
		rows = append(rows, readRecord(t, c))
	}
	counts := s.Counts()
	if counts.Sum() != counts.Lines {
		t.Errorf("counts do not add up: %+v", counts)
	}
	return caps, rows
}

// drain reads over a record and returns what ended it.
func drain(c *acquire.Capture) (err error) {
	var b acquire.Block
	for err == nil {
		err = c.Read(&b)
	}
	return err
}

func readRecord(t *testing.T, c *acquire.Capture) []row {
	t.Helper()
	var b acquire.Block
	var out []row
	var grid []int
	for {
		err := c.Read(&b)
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if b.First != int64(len(out)) {
			t.Fatalf("block starts at row %d, expected %d", b.First, len(out))
		}
		out = slices.Grow(out, b.N)
		levels := make([]float64, 0, b.N*len(b.Value))
		for i := range b.N {
			r := row{t: math.NaN()}
			if b.Time != nil {
				r.t = b.Time[i]
			} else {
				grid = append(grid, len(out))
			}
			from := len(levels)
			for _, v := range b.Value {
				levels = append(levels, v[i])
			}
			r.v = levels[from:len(levels):len(levels)]
			out = append(out, r)
		}
	}
	for _, i := range grid {
		out[i].t = c.Start + float64(i)*c.Step
	}
	if c.Rows != int64(len(out)) {
		t.Errorf("Rows = %d, read %d", c.Rows, len(out))
	}
	return out
}

func TestWrittenIsRead(t *testing.T) {
	sig := acquiretest.Astable(3.95e-3, 3.26e-3, 12)
	sig.Start = -0.01
	for i := range sig.Edges {
		sig.Edges[i] -= 0.01
	}
	for _, w := range open.Writers {
		t.Run(w.Name, func(t *testing.T) {
			var b bytes.Buffer
			if err := w.Write(&b, sig, acquiretest.Form{}); err != nil {
				t.Fatal(err)
			}
			s, err := open.OpenReader(w.Name, &b, acquire.Options{})
			if err != nil {
				t.Fatal(err)
			}
			caps, rows := readAll(t, s)
			if len(caps) != 1 {
				t.Fatalf("%d records, expected 1; %q", len(caps), caps[0].Notes)
			}
			t.Log(caps[0].Shape, caps[0].Notes, caps[0].Step, caps[0].StepRelative, s.Counts())
			truth, n := w.Truth(sig), 0
			slack := 1e-9 + w.Tick
			for i := 1; i < len(rows[0]); i++ {
				a, b := rows[0][i-1], rows[0][i]
				if (a.v[0] > 0.5) == (b.v[0] > 0.5) {
					continue
				}
				if n == len(truth) {
					t.Fatalf("more than %d edges", n)
				}
				e := truth[n]
				if caps[0].Kind == acquire.Transitions && !(math.Abs(b.t-e) <= slack) || !(e > a.t-slack && e <= b.t+slack) {
					t.Fatalf("edge %d lies at %g, not between rows at %g and %g", n, e, a.t, b.t)
				}
				n++
			}
			if n != len(truth) {
				t.Errorf("%d edges, expected %d", n, len(truth))
			}
		})
	}
}

// describe reads a source and puts all that it says into a text, to compare one reading with another.
func describe(t *testing.T, name string, r io.Reader, opt acquire.Options) string {
	t.Helper()
	var out strings.Builder
	s, err := open.OpenReader(name, r, opt)
	if err != nil {
		return "open: " + err.Error()
	}
	defer s.Close()
	for {
		c, err := s.Next()
		if err != nil {
			if err != io.EOF {
				fmt.Fprintf(&out, "next: %v\n", err)
			}
			break
		}
		var b acquire.Block
		for err = c.Read(&b); err == nil; err = c.Read(&b) {
			for i := range b.N {
				if b.Time != nil {
					fmt.Fprint(&out, b.Time[i], " ")
				}
				for _, v := range b.Value {
					fmt.Fprint(&out, v[i], " ")
				}
				out.WriteByte('\n')
			}
		}
		if err != io.EOF {
			fmt.Fprintf(&out, "read: %v\n", err)
		}
		fmt.Fprintln(&out, c.Record, c.Shape, c.Kind, c.Channels, c.Start, c.Step, c.StepRelative, c.TimeResolution, c.Regressed, c.Rows, c.Skipped, c.Notes)
	}
	fmt.Fprintf(&out, "%+v\n", s.Counts())
	return out.String()
}
