package expect

import (
	"fmt"
	"math"
	"testing"
)

// watch is a test that notes complaints instead of failing.
type watch struct {
	testing.TB
	said string
}

func (w *watch) Helper()                           {}
func (w *watch) Errorf(format string, args ...any) { w.said = fmt.Sprintf(format, args...) }

// A comparison that can't complain checks nothing: no number, a number too far, and one near enough.
func TestComparisonsComplain(t *testing.T) {
	for _, c := range []struct {
		got, want, by float64
		near, within  bool
	}{
		{100.9, 100, 0.01, true, false},
		{101.1, 100, 0.01, false, false},
		{0.005, 0, 0.01, false, true},
		{-100.9, -100, 0.01, true, false},
		{math.NaN(), 100, 0.01, false, false},
		{100, math.NaN(), 0.01, false, false},
		{math.Inf(1), 100, 0.01, false, false},
	} {
		var near, within watch
		Near(&near, "x", c.got, c.want, c.by)
		Within(&within, "x", c.got, c.want, c.by)
		if (near.said == "") != c.near || (within.said == "") != c.within {
			t.Errorf("%v against %v by %v: near says %q, within says %q", c.got, c.want, c.by, near.said, within.said)
		}
	}
}

// A table has its remarks taken off and its head first; what it holds here is read off the file itself.
func TestTable(t *testing.T) {
	all := Table(t, "iec60063_series.csv")
	if all[0][0] != "series" || len(Rows(t, "iec60063_series.csv")) != len(all)-1 {
		t.Errorf("the head is %q", all[0])
	}
	if v := Number(t, "4.7e3"); v != 4700 {
		t.Error(v)
	}
}
