package open_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/acquire/open"
)

// badInputs are inputs that must fail, each with the place and the words that help.
var badInputs = []struct {
	name         string
	text         string
	options      acquire.Options
	is           error
	line, column int
	says         []string // in the message
}{
	{name: "empty", text: "", is: acquire.ErrEmpty, says: []string{"empty"}},
	{name: "blank", text: " \n\n\t\n", is: acquire.ErrEmpty, says: []string{"empty"}},
	{name: "mark only", text: "\xef\xbb\xbf", is: acquire.ErrEmpty, says: []string{"empty"}},
	{name: "web page", text: "<!DOCTYPE html>\n<html><body>0,1\n1,2\n</body></html>", is: acquire.ErrShape, says: []string{"web page", "download"}},
	{name: "spreadsheet", text: "PK\x03\x04\x14\x00\x06\x00\x08\x00\x00\x00\x21\x00" + strings.Repeat("\x00", 12) + "\x13\x00\x00\x00[Content_Types].xml", is: acquire.ErrShape, says: []string{"spreadsheet", "CSV"}},
	{name: "old spreadsheet", text: "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\x00\x00", is: acquire.ErrShape, says: []string{"spreadsheet", "CSV"}},
	{name: "picture", text: "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", is: acquire.ErrShape, says: []string{"picture", "CSV"}},
	{name: "bitmap", text: "BM\x36\x00\x0c\x00\x00\x00", is: acquire.ErrShape, says: []string{"picture"}},
	{name: "document", text: "%PDF-1.7\n1 0 obj\n", is: acquire.ErrShape, says: []string{"PDF"}},
	{name: "JSON", text: "{\"time\": [0, 1, 2]}", is: acquire.ErrShape, says: []string{"JSON"}},
	{name: "binary", text: "\x01\x02\x03\x00\x00\x00\x81\x92\xff\xfe\xfd", is: acquire.ErrShape, says: []string{"binary", "CSV"}},
	{name: "prose", text: "The lamp of pier three\nblinks too slowly.\n", is: acquire.ErrShape, says: []string{"no rows", "The lamp"}},
	{name: "header only", text: "time,volt\n", is: acquire.ErrShape, says: []string{"no rows"}},
	{name: "gzip of nothing", text: "\x1f\x8b", is: acquire.ErrTruncated, says: []string{"cut short"}},

	{name: "values without interval", text: "61\n-44\n61\n", is: acquire.ErrTime, line: 1, says: []string{"--interval"}},
	{name: "a row of samples", text: strings.Repeat("61,-44,", 12) + "3\n", is: acquire.ErrTime, line: 1, says: []string{"--interval"}},
	{name: "count without interval", text: "n,level\n0,0\n1,0\n2,1\n", is: acquire.ErrTime, line: 2, says: []string{"--interval"}},
	{name: "console without rate", text: "> go\n@37 00 -> 01 D0\n@90 01 -> 00 D0\n", is: acquire.ErrTime, says: []string{"rate", "--interval"}},
	{name: "whole seconds of an epoch", text: "time,D0\n978343202,0\n978343202,1\n978343202,0\n978343203,1\n", is: acquire.ErrTime, says: []string{"coarse", "digits"}},
	{name: "interval against header", text: "Sample Interval,3e-6\ntime (ms),volt\n" + ramp(20, "%.3f,1\n", 0.002), is: acquire.ErrTime, line: 1, column: 17, says: []string{"3e-06", "2e-06", "--interval"}},
	{name: "interval for a list of transitions", text: "time,D0\n0,0\n1e-3,1\n5e-3,0\n6e-3,1\n9e-3,0\n", options: acquire.Options{Interval: 1e-6}, is: acquire.ErrTime, line: 2, says: []string{"1e-06", "uneven", "--interval"}},
	{name: "the latest row first", text: "time (s),volt\n" + ramp(20, "%.3f,1\n", -0.002), is: acquire.ErrTime, line: 3, says: []string{"fall", "sort"}},
	{name: "all times alike", text: "time,volt\n0.1,1.5\n0.1,2.5\n0.1,1.5\n", is: acquire.ErrTime, says: []string{"alike"}},

	{name: "unit of another world", text: "Time (week),volt\n0.1,1.5\n0.2,2.5\n0.3,1.5\n", is: acquire.ErrTime, line: 1, column: 1, says: []string{`"week"`, "--time-unit"}},

	{name: "a unit over no column", text: "time  level\nmsec\n" + ramp(20, "%.3f  1.5\n", 0.002), is: acquire.ErrTime, line: 2, column: 1, says: []string{`"msec"`, "--time-unit msec"}},

	{name: "several channels", text: "Time,A,B\n0,1.5,2\n1,2.5,3\n2,3.5,1\n", is: acquire.ErrChoice, says: []string{"1 (A), 2 (B)", "--channel"}},
	{name: "no such channel", text: "Time,A,B\n0,1.5,2\n1,2.5,3\n2,3.5,1\n", options: acquire.Options{Channels: []string{"C"}}, is: acquire.ErrChoice, says: []string{`"C"`, "1 (A), 2 (B)"}},
	{name: "several lines in a console log", text: "rate 1000 Hz\n@37 00 -> 11 x\n@90 11 -> 01 x\n", is: acquire.ErrChoice, says: []string{"D0", "D1"}},
	{name: "records of several channels", text: "shot,channel,rate,count,data\n1,0,250,3,1,2,3\n2,1,250,3,1,2,3\n", is: acquire.ErrChoice, says: []string{"--channel"}},

	{name: "decimal comma that can't be told", text: "time,volt\n0,1,2,5\n0,2,2,6\n0,3,2,7\n", is: acquire.ErrChoice, says: nil},
	{name: "decimal comma, two ways", text: "a,b\n1,2,3\n2,3,4\n3,4,5\n", is: acquire.ErrShape, line: 2, says: []string{"3 cells under 2", "semicolon"}},
	{name: "many bad rows", text: "time,volt\n0,1.5\n1,1.5\n2,1.5\n3,oops\n4,1.5\n5,ERR\n6,1.5\n7,--\n8,ERR\n9,ERR\n10,1\n", is: acquire.ErrSyntax, line: 5, column: 3, says: []string{`"oops"`, "level", "first of 4"}},
	{name: "digits grouped by the delimiter", text: "time (ms),volt\n" + ramp(1100, "%.1f,1.5\n", 0.9) + strings.Repeat("1,000.0,1.5\n", 20), is: acquire.ErrSyntax, line: 1102, says: []string{`"1,000.0"`, "without digit grouping"}},
	{name: "digits grouped by dots far down", text: "time (us);volt\n" + ramp(1000, "%.0f;1.5\n", 1) + ramp(20, "1.%03.0f;1.5\n", 1), is: acquire.ErrTime, line: 1002, says: []string{"without digit grouping"}},
	{name: "names that change in the cells", text: "t=0.0,v=0.1\nt=0.1,w=4.9\nt=0.2,v=0.1\n", is: acquire.ErrShape, line: 1, says: []string{`"t=0.0"`, "above the rows"}},
	{name: "two durations without a name", text: "8700,4300\n8701,4301\n8699,4300\n", is: acquire.ErrShape, line: 1, says: []string{"nothing says which is the high time", "high_us,low_us"}},
	{name: "a strange unit named beside the rows", text: "Name,Time (week),volt\n,0.1,1.5\n,0.2,2.5\n,0.3,1.5\n", is: acquire.ErrTime, line: 2, column: 2, says: []string{`"week"`, "--time-unit"}},
	{name: "ticks named beside the rows", text: "Name,ticks,volt\n,1,1.5\n,3,2.5\n,4,1.5\n,7,1.5\n", is: acquire.ErrTime, line: 2, column: 2, says: []string{"ticks", "--time-unit"}},
	{name: "hexadecimal levels", text: "# rate 1 MHz\n0xFA 0xFA 0x0B\n0x0B 0xFA 0xFA\n0xFA 0x0B 0x0B\n", is: acquire.ErrShape, line: 2, says: []string{"hexadecimal", "decimal numbers"}},
	{name: "a table on its side", text: "time" + ramp(20, ",%.1f", 0.1) + "\nlamp" + strings.Repeat(",1.5", 20) + "\n", is: acquire.ErrShape, line: 1, says: []string{"20 numbers", "turn the table"}},
	{name: "channels that take turns", text: "channel,time,state\n0,0.1,1\n1,0.2,1\n0,0.3,0\n1,0.4,0\n0,0.5,1\n", is: acquire.ErrShape, line: 1, says: []string{`"channel"`, "by itself"}},
	{name: "samples that take turns", text: "t (s),what,V\n0,A,0.1\n0,B,1.5\n1e-5,A,3.1\n1e-5,B,1.5\n2e-5,A,3.1\n2e-5,B,1.5\n3e-5,A,0.1\n3e-5,B,1.5\n", is: acquire.ErrShape, line: 1, column: 7, says: []string{`"what"`, "A, B"}},
	{name: "edges that take turns", text: "t (us),which,state\n1,P,1\n5,Q,1\n9,P,0\n17,P,1\n21,Q,0\n25,P,0\n33,P,1\n", is: acquire.ErrShape, line: 1, column: 8, says: []string{`"which"`, "P, Q"}},
	{name: "days or seconds", text: "time,state\n46356.5000000,1\n46356.5000045,0\n46356.5000099,1\n46356.5000144,0\n", is: acquire.ErrTime, line: 1, column: 1, says: []string{"46356.5", "--time-unit day"}},
	{name: "ticks of no length", text: "ticks,state\n55235,0\n55821,1\n62598,0\n63184,1\n69961,0\n70547,1\n77324,0\n77910,1\n84687,0\n", is: acquire.ErrTime, says: []string{"ticks", "how long"}},
	{name: "seconds and nanoseconds apart", text: "s,ns,state\n1,0,0\n1,5000,1\n1,9000,0\n1,15000,1\n1,19000,0\n", is: acquire.ErrTime, says: []string{"coarse", "digits"}},
	{name: "cut in mid-row", text: "time,volt\n0.1,1.5\n0.2,1.5\n0.3,1.5\n0.", is: acquire.ErrTruncated, line: 5, says: []string{"cut", "again"}},
	{name: "cut in a number", text: "time,volt\n0.1,1.50\n0.2,1.50\n0.3,1.50\n0.4,1.", is: acquire.ErrTruncated, line: 5, column: 5, says: []string{"cut"}},

	{name: "unknown delimiter", text: "0,1\n", options: acquire.Options{Delimiter: "!"}, is: acquire.ErrShape, says: []string{`"!"`, "tab"}},
	{name: "unknown unit", text: "0,1\n1,2\n", options: acquire.Options{TimeUnit: "week"}, is: acquire.ErrTime, says: []string{`"week"`, "ms", "min"}},
	{name: "unknown shape", text: "0,1\n", options: acquire.Options{Shape: "round"}, is: acquire.ErrShape, says: []string{`"round"`, "transition list"}},
	{name: "shape that does not fit", text: "0,1.5\n1,2.5\n", options: acquire.Options{Shape: "console log"}, is: acquire.ErrShape, says: []string{"console log"}},
	{name: "negative interval", text: "61\n-44\n", options: acquire.Options{Interval: -1}, is: acquire.ErrTime, says: []string{"-1"}},
	{name: "lost difference", text: "delta_t,D0\n,0\n0.1,1\n,0\n0.1,1\n", is: acquire.ErrSyntax, line: 4, says: []string{"lost"}},
}

// ramp writes n rows by a form that takes the row's number times step.
func ramp(n int, form string, step float64) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, form, float64(i)*step)
	}
	return b.String()
}

// firstError reads a source until something fails.
func firstError(text []byte, opt acquire.Options) error {
	s, err := open.OpenReader("capture.csv", bytes.NewReader(text), opt)
	if err != nil {
		return err
	}
	defer s.Close()
	for {
		c, err := s.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if err = drain(c); err != io.EOF {
			return err
		}
	}
}

func TestBadInput(t *testing.T) {
	for _, c := range badInputs {
		t.Run(c.name, func(t *testing.T) {
			err := firstError([]byte(c.text), c.options)
			var e *acquire.Error
			if !errors.As(err, &e) || !errors.Is(err, c.is) {
				t.Fatalf("error %v, expected one that is %q", err, c.is)
			}
			if e.File != "capture.csv" || c.line > 0 && e.Line != c.line || c.column > 0 && e.Column != c.column {
				t.Errorf("%v: place %s:%d:%d, expected line %d, column %d", err, e.File, e.Line, e.Column, c.line, c.column)
			}
			for _, s := range c.says {
				if !strings.Contains(err.Error(), s) {
					t.Errorf("%q does not say %q", err, s)
				}
			}
		})
	}
}

// TestBitsOfPulses: several lines in a cell, beside a duration or behind a difference.
func TestBitsOfPulses(t *testing.T) {
	for _, text := range []string{"start (ms),duration (ms),port\n0,3,01\n3,2,00\n5,3,01\n8,2,00\n", "dt (ms),port\n,01\n3,00\n2,01\n3,00\n2,01\n"} {
		caps, rows, _ := read(t, text, acquire.Options{Channels: []string{"port[0]"}})
		if len(caps) != 1 || caps[0].Rows < 4 || rows[0][1].v[0] == rows[0][2].v[0] {
			t.Errorf("%q: %d captures, %v", text, len(caps), rows)
		}
	}
}

// TestTruncatedGzip: what is there is handed out, and then the error.
func TestTruncatedGzip(t *testing.T) {
	var b bytes.Buffer
	if err := acquiretest.TimeVolt(&b, acquiretest.Astable(4e-3, 3e-3, 20), acquiretest.Form{}); err != nil {
		t.Fatal(err)
	}
	z := zip(t, b.Bytes())
	for _, n := range []int{len(z) - 1, len(z) - 8, len(z) / 2} {
		if err := firstError(z[:n], acquire.Options{}); !errors.Is(err, acquire.ErrTruncated) {
			t.Errorf("gzip cut at %d of %d bytes: %v", n, len(z), err)
		}
	}
	z[len(z)/2] ^= 0x55
	if err := firstError(z, acquire.Options{}); err == nil {
		t.Error("damaged gzip passes")
	}
}

func TestOpenFails(t *testing.T) {
	for name, says := range map[string]string{"no/such/file.csv": "no such file", t.TempDir(): "folder"} {
		_, err := open.Open(name, acquire.Options{})
		var e *acquire.Error
		if !errors.As(err, &e) || e.File != name || !strings.Contains(err.Error(), says) {
			t.Errorf("Open(%s) = %v, expected %q", name, err, says)
		}
	}
	if _, err := open.Open("no/such/file.csv", acquire.Options{}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("%v is not os.ErrNotExist", err)
	}
}

// TestReaderFails: an input that breaks off in mid-stream hands out what came before.
func TestReaderFails(t *testing.T) {
	broken := errors.New("the cable is out")
	for _, rows := range []int{3, 60_000} {
		text := "time (s),volt (V)\n" + ramp(rows, "%.6f,1.5\n", 1e-6)
		s, err := open.OpenReader("x", io.MultiReader(strings.NewReader(text), failing{broken}), acquire.Options{})
		if err != nil {
			t.Fatal(err)
		}
		c, err := s.Next()
		if err != nil {
			t.Fatal(err)
		}
		err = drain(c)
		if !errors.Is(err, broken) || c.Rows != int64(rows) {
			t.Errorf("%d rows, %v", c.Rows, err)
		}
		s.Close()
	}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }
