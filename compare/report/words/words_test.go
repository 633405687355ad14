package words

import (
	"testing"

	"offbeat/compare"
)

// A deviation has two significant digits at most, as many as its uncertainty warrants; by hand.
func TestDeviation(t *testing.T) {
	for _, c := range []struct {
		x, u, nominal float64
		want          string
	}{
		{4.8798e-3, 1.5e-6, 3.965e-3, "+23 %"},
		{5.83e-3, 0.22e-3, 4.7e-3, "+24 %"},
		{0.2, 0.046, 0.2128, "\u22126 %"}, // 0.046/0.2128 is 22 %: whole per cents
		{2.14, 0.12, 0.2128, "× 10"},
		{30, 0.12, 2, "× 15"},
		{1.995, 0, 1, "+100 %"},
		{2, 0, 1, "× 2"},
		{0.98, 0, 1, "\u22122.0 %"},
		{0.9992, 0, 1, "\u22120.1 %"},
		{1, 0, 1, "equal"},
		{1 + 1e-6, 0, 1, "equal"},
	} {
		if got := Deviation(c.x, c.u, c.nominal); got != c.want {
			t.Errorf("%v ± %v against %v: %q, want %q", c.x, c.u, c.nominal, got, c.want)
		}
	}
}

func TestChanged(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		want string
	}{
		{0.0123, 0.0004, "+1.230 ± 0.040 %"},
		{-0.25, 0.03, "−25.0 ± 3.0 %"},
		{1.5e-5, 2e-6, "+15.0 ± 2.0 ppm"},
		{1.5e-5, 2e-3, "0.00 ± 0.20 %"}, // nothing has no sign
		{0, 0, "0 ± 0 ppm"},
		{-5e-4, 1.2e-4, "−500 ± 120 ppm"},
	} {
		if got := Changed(c.v, c.u); got != c.want {
			t.Errorf("%g ± %g: %q, want %q", c.v, c.u, got, c.want)
		}
	}
}

// A line may begin with a sign of several bytes.
func TestSentence(t *testing.T) {
	for in, want := range map[string]string{"": "", "high time": "High time", "× 3.8 high": "× 3.8 high", "−5 %": "−5 %"} {
		if got := compare.Sentence(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
