package open_test

import (
	"bytes"
	"compress/gzip"
	"io"
	"math"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/listen"
	"offbeat/acquire/open"
	"offbeat/acquire/quantity"
)

// heardLog hears text and returns the saved log and what was heard.
func heardLog(t *testing.T, text, unit string) (log []byte, rows string, c *acquire.Capture) {
	t.Helper()
	var b bytes.Buffer
	s, err := listen.Start(t.Context(), listen.Options{Input: strings.NewReader(text), Unit: unit, Save: &b})
	if err != nil {
		t.Fatal(err)
	}
	if c, err = s.Next(); err != nil {
		t.Fatal(err)
	}
	rows = rowsOf(t, c)
	if _, err := s.Next(); err != io.EOF {
		t.Fatal(err)
	}
	return b.Bytes(), rows, c
}

// rowsOf reads a capture to its end and writes its rows.
func rowsOf(t *testing.T, c *acquire.Capture) string {
	t.Helper()
	var out strings.Builder
	var b acquire.Block
	for {
		switch err := c.Read(&b); {
		case err == io.EOF:
			return out.String()
		case err != nil:
			t.Fatal(err)
		}
		for i := range b.N {
			v := "x"
			if !math.IsNaN(b.Value[0][i]) {
				v = quantity.Exact(b.Value[0][i])
			}
			out.WriteString(quantity.Exact(b.Time[i]) + ":" + v + " ")
		}
	}
}

// A saved log opened as a file gives what was heard, whatever the line held: binary noise, a form of its own, a
// unit that the user had to say, lines that were lost, compressed or not.
func TestSavedLogReadsAlike(t *testing.T) {
	for _, c := range []struct{ name, text, unit string }{
		{"edges", "100,1\n300,0\n400,1\n600,0\n700,1\n", ""},
		{"binary noise", strings.Repeat("\x00\xff\xfe\x01", 300) + "\n100,1\n300,0\n400,1\n600,0\n", ""},
		{"unit asked for", "100,1\n300,0\n400,1\n600,0\n", "62.5ns"},
		{"durations", "H 200\nL 100\nH 200\nH 200\nL 100\n", ""},
		{"readings", "0,3\n10,2\n20,510\n30,1020\n40,1021\n50,3\n60,2\n", "ms"},
	} {
		log, rows, heard := heardLog(t, c.text, c.unit)
		for name, file := range map[string][]byte{"plain": log, "gzip": zipped(t, log)} {
			s, err := open.OpenReader("saved.log", bytes.NewReader(file), acquire.Options{})
			if err != nil {
				t.Fatalf("%s, %s: %v", c.name, name, err)
			}
			again, err := s.Next()
			if err != nil {
				t.Fatalf("%s, %s: %v", c.name, name, err)
			}
			if got := rowsOf(t, again); got != rows {
				t.Errorf("%s, %s: rows\n%s\nheard were\n%s", c.name, name, got, rows)
			}
			if again.Kind != heard.Kind || again.Step != heard.Step || again.TimeResolution != heard.TimeResolution || again.Skipped != heard.Skipped || again.Shape != heard.Shape {
				t.Errorf("%s, %s: %+v\nheard was %+v", c.name, name, again, heard)
			}
			if _, err := s.Next(); err != io.EOF {
				t.Errorf("%s, %s: %v after the last record", c.name, name, err)
			}
			if n := s.Counts(); n.Sum() != n.Lines || n.Lines == 0 {
				t.Errorf("%s, %s: counts %+v do not add up", c.name, name, n)
			}
			s.Close()
		}
	}
}

func zipped(t *testing.T, b []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	w := gzip.NewWriter(&out)
	w.Write(b)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
