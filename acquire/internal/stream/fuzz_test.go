package stream

import (
	"bytes"
	"math"
	"testing"
	"testing/iotest"
)

// FuzzReader: whatever comes in, the same bytes give the same rows however the reads fall, every line is
// counted once, time never goes back, and states are 0, 1 or not known.
func FuzzReader(f *testing.F) {
	for _, c := range streams {
		f.Add([]byte(c.text), c.opt.Unit, c.opt.Invert)
	}
	f.Add([]byte("# offbeat stream 1\n# offbeat unit us\n1,1\n# offbeat mark warm\n9,0\n"), "", false)
	f.Fuzz(func(t *testing.T, text []byte, unit string, invert bool) {
		o := Options{Unit: unit, Invert: invert}
		if _, err := ParseUnit(unit); unit != "" && err != nil {
			t.Skip("no unit")
		}
		whole := hear(bytes.NewReader(text), o)
		if half := hear(iotest.HalfReader(bytes.NewReader(text)), o); !same(whole, half) {
			t.Errorf("read at once\n%+v\nread in halves\n%+v", whole, half)
		}
		if whole.counts.Lines == 0 && whole.err != nil {
			return
		}
		if whole.err == nil {
			checkCounts(t, whole)
		}
		for i, r := range whole.rows {
			for k, v := range r.Value {
				if math.IsInf(r.Time[k], 0) || math.IsNaN(r.Time[k]) {
					t.Fatalf("time %g", r.Time[k])
				}
				if f := whole.records[i].Form; f != TimeReading && v != 0 && v != 1 && !math.IsNaN(v) {
					t.Fatalf("state %g", v)
				}
			}
		}
	})
}

// FuzzLine: parsing a line never depends on what stands around it, and a unit in the cell is a unit of time.
func FuzzLine(f *testing.F) {
	for _, s := range []string{"1234,1", "H 87", "[10:00:01.5] 3,0", "@3 00 -> 01 D0", "-8.5e-3 s;low", "1,8700", "10:00:01,250 -> 7,1", "t_on 8700 t_off 4300 us", `{"t_us":7,"level":1}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		before := bytes.Clone(b)
		r, ok := parseLine(b)
		if !bytes.Equal(b, before) {
			t.Fatal("the line was changed")
		}
		if ok != (r.can != 0) {
			t.Fatalf("ok %v with forms %b", ok, r.can)
		}
		for _, part := range named(b) {
			if _, ok := parseLine(part); !ok && len(part) < MaxLine {
				t.Errorf("%q names %q, which is no reading", before, part)
			}
		}
		if again, _ := parseLine(append([]byte(" \t"), before...)); ok && again != r {
			t.Errorf("%q gives %+v, with blanks before it %+v", before, r, again)
		}
	})
}
