package quantity

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// Each threshold is tested at the crux: the smallest value that rounds up to the next prefix, and the float
// just below it. The expected texts are the decimal rounding of the value.
func TestFormatAtTheCrux(t *testing.T) {
	for _, c := range []struct {
		crux        float64
		unit        Unit
		below, from string
	}{
		{999.95e-12, Farad, "999.9 pF", "1 nF"},
		{999.95e-9, Farad, "999.9 nF", "1 µF"},
		{999.95e-6, Farad, "999.9 µF", "1 mF"},
		{999.95e-3, Farad, "999.9 mF", "1 F"},
		{0.99995, Ohm, "999.9 mΩ", "1 Ω"},
		{999.95, Ohm, "999.9 Ω", "1 kΩ"},
		{999.95e3, Ohm, "999.9 kΩ", "1 MΩ"},
		{999.95e6, Ohm, "999.9 MΩ", "1 GΩ"},
		{9.9995e3, Ohm, "9.999 kΩ", "10 kΩ"},
		{99.995e3, Ohm, "99.99 kΩ", "100 kΩ"},
	} {
		// The literal is rounded to binary; the tie then falls by its exact value, so step one float to each side.
		if got := Format(math.Nextafter(c.crux, 0), c.unit); got != c.below {
			t.Errorf("just below %v: %s, want %s", c.crux, got, c.below)
		}
		if got := Format(math.Nextafter(c.crux, math.Inf(1)), c.unit); got != c.from {
			t.Errorf("just above %v: %s, want %s", c.crux, got, c.from)
		}
	}
}

func TestFormat(t *testing.T) {
	for _, c := range []struct {
		v    float64
		unit Unit
		want string
	}{
		{47e3, Ohm, "47 kΩ"},
		{100e-9, Farad, "100 nF"},
		{137.927, Hertz, "137.9 Hz"},
		{7200, Second, "7200 s"},
		{0, Second, "0 s"},
		{-0.5, Volt, "−500 mV"},
		{0.4567, Number, "45.67 %"},
		{-2e-4, PerKelvin, "−200 ppm/K"},
		{1e-20, Farad, "1e-20 F"},
		{4.7e25, Ohm, "4.7e25 Ω"},
		{math.NaN(), Ohm, "NaN Ω"},
		{math.Inf(-1), Volt, "-∞ V"},
	} {
		if got := Format(c.v, c.unit); got != c.want {
			t.Errorf("Format(%v) = %q, want %q", c.v, got, c.want)
		}
	}
}

// JCGM 100 7.2.6 (from memory): two significant digits of the uncertainty at most, the value rounded to match.
func TestUncertain(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		unit Unit
		want string
		both string
	}{
		{46930, 140, Ohm, "46.93 kΩ", "(46.93 ± 0.14) kΩ"},
		{46930, 99.4, Ohm, "46.930 kΩ", "(46.930 ± 0.099) kΩ"},
		{46930, 99.6, Ohm, "46.93 kΩ", "(46.93 ± 0.10) kΩ"}, // the uncertainty's own rounding carries
		{999.96e-9, 1e-9, Farad, "1.0000 µF", "(1.0000 ± 0.0010) µF"},
		{7.2341e-3, 1.2e-6, Second, "7.2341 ms", "(7.2341 ± 0.0012) ms"},
		{138, 250, Hertz, "140 Hz", "(140 ± 250) Hz"},
		{5, 300, Volt, "0 V", "(0 ± 300) V"},
		{0.454321, 0.00021, Number, "45.432 %", "(45.432 ± 0.021) %"},
		{0, 3e-4, Second, "0.00000 s", "(0 ± 300) µs"}, // the prefix is the larger one's
		{-2e-6, 3e-3, Volt, "0.0000 V", "(0.0 ± 3.0) mV"},
		{138.4567, 0, Hertz, "138.5 Hz", "138.5 Hz"},
		{138.4567, math.NaN(), Hertz, "138.5 Hz", "138.5 Hz"},
	} {
		if got := Uncertain(c.v, c.u, c.unit); got != c.want {
			t.Errorf("Uncertain(%v, %v) = %q, want %q", c.v, c.u, got, c.want)
		}
		if got := PlusMinus(c.v, c.u, c.unit); got != c.both {
			t.Errorf("PlusMinus(%v, %v) = %q, want %q", c.v, c.u, got, c.both)
		}
	}
}

func TestBare(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		want string
	}{{0.213127, 0.00042, "0.21313 ± 0.00042"}, {12346, 0, "12350"}, {0.0012, math.Inf(1), "0.001200"}} {
		if got := Bare(c.v, c.u); got != c.want {
			t.Errorf("Bare(%v, %v) = %q, want %q", c.v, c.u, got, c.want)
		}
	}
}

func TestScaleIsOneForARow(t *testing.T) {
	s := ScaleOf(Ohm, 0, 950, 47e3, 1.2)
	for v, want := range map[float64]string{950: "0.95 kΩ", 47e3: "47.00 kΩ", 1.2: "0.00 kΩ"} {
		if got := s.Format(v); got != want {
			t.Errorf("%v: %q, want %q", v, got, want)
		}
	}
	if s := ScaleOf(Ohm, 0, math.Inf(1), math.NaN()); s.Format(1) != "1.000 Ω" {
		t.Errorf("without a finite value: %q", s.Format(1))
	}
}

// Zero, negative, huge, tiny and unknown values take a row's digits like any other; the wanted texts are the decimal
// rounding by hand.
func TestScaleOfOddValues(t *testing.T) {
	for _, c := range []struct {
		unit Unit
		u    float64
		row  []float64
		v    float64
		want string
	}{
		{Second, 1e-3, []float64{50e-3}, 0, "0.0 ms"}, // the second digit of 1 ms is the tenth
		{Second, 10e-3, []float64{50e-3}, 0, "0 ms"},
		{Second, 100e-3, []float64{500e-3}, 0, "0 ms"},
		{Number, 1, []float64{2}, 0, "0 %"},
		{Number, 10, []float64{20}, 0, "0 %"},
		{Number, 10, []float64{20}, -0.4, "0 %"}, // rounds to zero, which has no sign
		{Number, 1e-3, []float64{0.2}, math.Copysign(0, -1), "0.00 %"},
		{Ohm, 10e3, []float64{-47e3}, -47e3, "−47 kΩ"},
		{Ohm, 10e3, []float64{47e3}, 0, "0 kΩ"},
		{Ohm, 0, []float64{0, 0}, 0, "0.000 Ω"},
		{Ohm, 1e20, []float64{1e21}, 1e21, "1000000000000 GΩ"},
		{Ohm, 1, []float64{math.NaN(), 100}, math.NaN(), "NaN Ω"},
		{Ohm, 1, []float64{math.Inf(1), 100}, math.Inf(1), "+∞ Ω"},
		{Ohm, math.NaN(), []float64{100}, 100, "100.0 Ω"},
		{Ohm, math.Inf(1), []float64{100}, 100, "100.0 Ω"},
		{Ohm, 1e-20, []float64{100}, 100, "100.00000000000000 Ω"}, // no more digits than a float64 holds
	} {
		if got := ScaleOf(c.unit, c.u, c.row...).Format(c.v); got != c.want {
			t.Errorf("%v on the scale of u = %v and %v: %q, want %q", c.v, c.u, c.row, got, c.want)
		}
	}
}

// String is the form that a value is stored and shown in: it must read back to the same float64.
func TestStringReadsBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		q := Quantity{Value: math.Exp(r.NormFloat64() * 25), Unit: Unit(r.IntN(len(units)))}
		switch r.IntN(4) {
		case 0:
			q.Tolerance = Tolerance{Minus: r.Float64() * 0.9, Plus: r.Float64(), Relative: true}
		case 1:
			x := r.Float64()
			q.Tolerance = Tolerance{Minus: x, Plus: x, Relative: true, Coverage: 2}
		case 2:
			x := q.Value * r.Float64()
			q.Tolerance = Tolerance{Minus: x, Plus: x}
		}
		got, err := Parse(q.String(), q.Unit)
		if err != nil || got.Value != q.Value || got.Tolerance != q.Tolerance {
			t.Fatalf("%+v printed as %q read back as %+v, %v", q, q.String(), got, err)
		}
	}
}

func TestExact(t *testing.T) {
	for _, v := range []float64{0.1, 1e-9, 123456789.123, math.Pi, 5e-324} {
		if got, err := strconv.ParseFloat(Exact(v), 64); err != nil || got != v {
			t.Errorf("%v printed as %s", v, Exact(v))
		}
	}
}

func TestCaretCountsCharacters(t *testing.T) {
	if got := Caret("47 µX", len("47 µ")); got != "47 µX\n    ^" {
		t.Errorf("%q", got)
	}
	if got := Caret("ab", 99); got != "ab\n  ^" {
		t.Errorf("%q", got)
	}
}

func TestProbabilityIsNeverRoundedToCertainty(t *testing.T) {
	for p, want := range map[float64]string{0: "< 0.1 %", 0.0004: "< 0.1 %", 0.001: "0.1 %", 0.0994: "9.9 %", 0.0996: "10 %", 0.5: "50 %", 0.9949: "99 %", 0.995: "99.5 %", 0.9995: "> 99.9 %", 0.996: "99.6 %", 0.9996: "> 99.9 %", 1: "> 99.9 %"} {
		if got := Probability(p); got != want {
			t.Errorf("%v: %s, want %s", p, got, want)
		}
	}
	if got := Probability(math.NaN()); got != "unknown" {
		t.Error(got)
	}
}

// Relative changes of any size have two significant digits or whole per cent, never an exponent or a keyboard's minus.
func TestChange(t *testing.T) {
	for x, want := range map[float64]string{0: "equal", 0.0123: "+1.2 %", -0.0123: "−1.2 %", 0.0951: "+9.5 %", 0.996: "+100 %", -0.94: "−94 %", 1: "× 2", 4.7: "× 5.7", 46: "× 47", -4.5e-5: "−45 ppm"} {
		if got := Change(x); got != want {
			t.Errorf("%v: %q, want %q", x, got, want)
		}
	}
	for k := range 4000 {
		x := math.Exp(float64(k-3000) / 100)
		for _, x := range []float64{x, -x} {
			if got := Change(x); got != "equal" && strings.ContainsAny(got, "e-") || strings.Contains(got, "0.0 %") {
				t.Fatalf("%v is %q", x, got)
			}
		}
	}
}

func TestRelative(t *testing.T) {
	for x, want := range map[float64]string{0: "0", 1e-9: "< 0.01 ppm", 7.48e-4: "748 ppm", 9.04e-5: "90 ppm", 8.9e-6: "8.9 ppm", 0.0126: "1.3 %", 0.123: "12 %"} {
		if got := Relative(x); got != want {
			t.Errorf("relative(%v) = %s, want %s", x, got, want)
		}
	}
}

// Rounded values are the float64 that the decimal reads as, of whatever size.
func TestRounded(t *testing.T) {
	for _, c := range []struct {
		v      float64
		digits int
		want   float64
	}{{0.01 + 0.02, 12, 0.03}, {0.6 + 0.3 + 0.1, 12, 1}, {123456, 2, 120000}, {-0.0012345, 3, -0.00123}, {9.996e-9, 3, 1e-8}, {0, 3, 0}, {math.Inf(1), 3, math.Inf(1)}, {math.MaxFloat64, 1, math.MaxFloat64}} {
		if got := Rounded(c.v, c.digits); got != c.want {
			t.Errorf("%v to %d digits: %v, want %v", c.v, c.digits, got, c.want)
		}
	}
}
