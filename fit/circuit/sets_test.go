package circuit

import "testing"

// Of the circuits only the multivibrator has an RC for each half: its times are ln 2 R C each (from its own law's first
// order, common practice); in all others a part moves both times.
func TestWhichPartsSetWhichTime(t *testing.T) {
	for _, c := range All() {
		v := Ideal(5)
		for i, p := range c.Parts {
			if v[i] = 47e3; p.Kind == 1 {
				v[i] = 10e-9
			}
		}
		want := ""
		if c.Name == "multivibrator" {
			want = "R1 and C1 set the high time, R2 and C2 the low time"
		}
		if got := c.Sets(&v); got != want {
			t.Errorf("%s: %q, want %q", c.Name, got, want)
		}
	}
}
