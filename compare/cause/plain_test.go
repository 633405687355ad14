package cause

import "testing"

// Codes from IEC 60062's own way of writing them, by hand: 4.7 kOhm is 47 and two zeros.
func TestMarking(t *testing.T) {
	for _, c := range []struct {
		v    float64
		unit string
		want string
	}{{4.7e3, "ohm", "472"}, {10, "ohm", "100"}, {1e6, "ohm", "105"}, {4.7, "ohm", "4R7"}, {91e3, "ohm", "913"}, {100e-9, "F", "104"}, {10e-9, "F", "103"}, {4.7e-12, "F", "4p7"}, {220e-12, "F", "221"}, {1e-6, "F", "105"}} {
		if got := marking(c.v, c.unit); got != c.want {
			t.Errorf("%g %s: %s, want %s", c.v, c.unit, got, c.want)
		}
	}
	s := &Said{Parts: []string{"C1"}, Values: []float64{99.2e-9}, Parameters: []*Parameter{{Unit: "F", Nominal: 10e-9}}}
	if got, want := s.fitted(0), "100 nF fitted for 10 nF, marked 104; estimate 99.2 nF"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	s = &Said{Values: []float64{9.1e6}, Parameters: []*Parameter{{Unit: "ohm"}}}
	if got, want := s.leak(0), "about 9.1 MΩ, what a 10 MΩ probe puts there"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
