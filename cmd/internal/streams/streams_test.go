package streams

import (
	"bytes"
	"strings"
	"testing"
	"time"
)

// clock gives a time that a test moves.
func clock(s *Streams) *time.Time {
	now := time.Date(2001, 1, 1, 0, 0, 0, 0, time.UTC)
	s.Now = func() time.Time { return now }
	return &now
}

func TestProgress(t *testing.T) {
	s, out, err := buffered("")
	s.ErrTerminal = true
	now := clock(s)
	p := s.Progress("wave.csv", false)
	tell := func(after time.Duration, read, total int64) {
		*now = now.Add(after)
		p.Tell(read, total)
	}
	tell(500*time.Millisecond, 10e6, 100e6) // too early
	tell(600*time.Millisecond, 20e6, 100e6)
	tell(50*time.Millisecond, 30e6, 100e6) // too soon after the last
	tell(300*time.Millisecond, 40e6, -1)
	p.Done()
	if want := "\rwave.csv: 20 % of 100 MB\rwave.csv: 40 MB read    \r                        \r"; err.String() != want || out.Len() != 0 {
		t.Errorf("got %q, want %q", err, want)
	}
}

func TestNoProgressOffATerminal(t *testing.T) {
	s, _, err := buffered("")
	now := clock(s)
	p := s.Progress("wave.csv", false)
	*now = now.Add(time.Hour)
	p.Tell(1, 2)
	p.Done()
	s.ErrTerminal = true
	if q := s.Progress("wave.csv", true); q != nil || err.Len() != 0 {
		t.Errorf("%v %q", q, err)
	}
}

func TestSystemHonoursColumns(t *testing.T) {
	for text, want := range map[string]int{"60": 60, "": fallbackWidth, "wide": fallbackWidth, "-3": fallbackWidth} {
		t.Setenv("COLUMNS", text)
		if s := System(); !s.OutTerminal && s.Width != want {
			t.Errorf("COLUMNS=%q: %d columns, want %d", text, s.Width, want)
		}
	}
}

func TestSystemHonoursNoColor(t *testing.T) {
	t.Setenv("NO_COLOR", "1")
	if s := System(); s.Color || s.Width <= 0 {
		t.Errorf("%+v", s)
	}
}

// buffered is streams over buffers; input is what In holds.
func buffered(input string) (s *Streams, out, err *bytes.Buffer) {
	out, err = &bytes.Buffer{}, &bytes.Buffer{}
	return Over(strings.NewReader(input), out, err), out, err
}
