package measure_test

import (
	"bytes"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/open"
	"offbeat/fit"
	"offbeat/fit/measure"
)

// fuzzBytes is as much of an input as is looked at: a thousand rows show what a million would, a thousand times as often.
const fuzzBytes = 4 << 10

// FuzzMeasure measures whatever bytes an instrument or an attacker wrote, whole and cut anywhere: every record ends in finite
// numbers that agree with each other, or in an error with a place.
func FuzzMeasure(f *testing.F) {
	files, err := filepath.Glob("../../testdata/captures/*.[ct]*")
	if err != nil || len(files) < 22 {
		f.Fatalf("%d captures, %v", len(files), err)
	}
	for i, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text[:min(len(text), fuzzBytes)], uint16(len(text)*i/len(files)), i%3 == 0)
	}
	// A table of few digits: noise, modulation, faults and gaps are a few bytes away from it.
	var train []byte
	for i := range 400 {
		train = append(train, '0'+byte(i/7%2), '\n')
	}
	f.Add(train, uint16(300), false)
	f.Fuzz(func(t *testing.T, text []byte, cut uint16, pulses bool) {
		text = text[:min(len(text), fuzzBytes)]
		whole := measureAll(t, text, pulses)
		if again := measureAll(t, text, pulses); !reflect.DeepEqual(whole, again) {
			t.Fatalf("measured again: %+v\nat first: %+v", again, whole)
		}
		measureAll(t, text[:min(int(cut), len(text))], pulses)
	})
}

// measureAll measures every record of the text and checks what holds of every measurement.
func measureAll(t *testing.T, text []byte, pulses bool) (all []*fit.Measurement) {
	t.Helper()
	opt := acquire.Options{}
	s, err := open.OpenReader("fuzz", bytes.NewReader(text), opt)
	if errors.Is(err, acquire.ErrChoice) {
		opt.Channels = []string{"1"}
		s, err = open.OpenReader("fuzz", bytes.NewReader(text), opt)
	}
	if err != nil {
		placed(t, err)
		return nil
	}
	defer s.Close()
	for {
		c, err := s.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			placed(t, err)
			return all
		}
		m, err := measure.Run(c, measure.Options{SinglePulse: pulses})
		if err != nil {
			placed(t, err)
			continue
		}
		sound(t, m, c, pulses)
		all = append(all, m)
	}
	if n := s.Counts(); n.Sum() != n.Lines {
		t.Fatalf("line counts do not add up: %+v", n)
	}
	return all
}

// placed wants an error that says where.
func placed(t *testing.T, err error) {
	t.Helper()
	var e *acquire.Error
	if !errors.As(err, &e) || e.File == "" || errors.Is(err, measure.ErrNumber) {
		t.Fatalf("error without a place, or for a number that is none: %v", err)
	}
}

// sound wants finite numbers and counts that agree.
func sound(t *testing.T, m *fit.Measurement, c *acquire.Capture, pulses bool) {
	t.Helper()
	finite := func(what string, x float64) {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("%s is %g in %+v", what, x, m)
		}
	}
	for what, e := range map[string]fit.Estimate{"high time": m.High, "low time": m.Low, "period": m.Period()} {
		finite(what, e.Value)
		finite("uncertainty of the "+what, e.Uncertainty)
		if e.Uncertainty < 0 {
			t.Fatalf("uncertainty of the %s: %g", what, e.Uncertainty)
		}
	}
	var high, low float64
	for _, row := range m.Budget {
		if !row.Clock {
			high, low = high+row.High*row.High, low+row.Low*row.Low
		}
	}
	near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-6*(math.Abs(a)+math.Abs(b)) }
	if !near(math.Sqrt(high), m.High.Uncertainty) || !near(math.Sqrt(low), m.Low.Uncertainty) {
		t.Fatalf("the budget adds up to %g and %g, stated are %g and %g", math.Sqrt(high), math.Sqrt(low), m.High.Uncertainty, m.Low.Uncertainty)
	}
	edges := int64(m.High.Count + m.Low.Count)
	if m.High.Count < 1 || !pulses && (m.Low.Count < 1 || m.Cycles < 2) || 2*int64(m.Cycles) > edges+1 || edges > c.Rows {
		t.Fatalf("%d high, %d low, %d cycles of %d rows", m.High.Count, m.Low.Count, m.Cycles, c.Rows)
	}
	if n := len(m.Series.Start); n != len(m.Series.High) || n != len(m.Series.Low) || m.Series.Every < 1 || n > m.Cycles+1 {
		t.Fatalf("a series of %d, %d and %d, one in %d of %d cycles", n, len(m.Series.High), len(m.Series.Low), m.Series.Every, m.Cycles)
	}
}
