package quantity

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// The expected values are the decimal text itself with its SI prefix (SI brochure table 7), so every
// comparison is exact.
func TestParseValue(t *testing.T) {
	for _, c := range []struct {
		text string
		unit Unit
		want float64
	}{
		{"10k", Ohm, 10e3},
		{" 10 kΩ ", Ohm, 10e3},           // U+03A9
		{"10 k\u2126", Ohm, 10e3},        // the ohm sign
		{"10\u00a0k\u03a9", Ohm, 10e3},   // no-break space
		{"10\u202fkohm", Ohm, 10e3},      // narrow no-break space
		{"10K", Ohm, 10e3},               // the code's capital
		{"10", Ohm, 10},                  //
		{"470R", Ohm, 470},               //
		{"470 ohms", Ohm, 470},           //
		{"1.5 M", Ohm, 1.5e6},            //
		{"4,7k", Ohm, 4.7e3},             // decimal comma
		{"4k7", Ohm, 4.7e3},              //
		{"4k7Ω", Ohm, 4.7e3},             //
		{"4k7 ohm", Ohm, 4.7e3},          //
		{"R47", Ohm, 0.47},               //
		{"2L2", Ohm, 2.2e-3},             //
		{"+47k", Ohm, 47e3},              //
		{"4.7e3", Ohm, 4.7e3},            //
		{"4.7E3 Ω", Ohm, 4.7e3},          //
		{".5k", Ohm, 500},                //
		{"100n", Farad, 100e-9},          //
		{"100nF", Farad, 100e-9},         //
		{"100 nF", Farad, 100e-9},        //
		{"22 µF", Farad, 22e-6},          // U+00B5
		{"22 \u03bcF", Farad, 22e-6},     // Greek mu
		{"22uF", Farad, 22e-6},           //
		{"1u0", Farad, 1e-6},             //
		{"1\u00b50", Farad, 1e-6},        //
		{"n22", Farad, 0.22e-9},          //
		{"\u03bc47", Farad, 0.47e-6},     //
		{"4n7F", Farad, 4.7e-9},          //
		{"1e-7", Farad, 100e-9},          // SI
		{"1 F", Farad, 1},                //
		{"138 Hz", Hertz, 138},           //
		{"1.2kHz", Hertz, 1.2e3},         //
		{"250 mHz", Hertz, 0.25},         //
		{"5V", Volt, 5},                  //
		{"5", Volt, 5},                   //
		{"30s", Second, 30},              //
		{"7.2 ms", Second, 7.2e-3},       //
		{"5 min", Second, 300},           //
		{"1.5h", Second, 5400},           //
		{"45 %", Number, 0.45},           //
		{"0.45", Number, 0.45},           //
		{"50ppm", Number, 50e-6},         //
		{"-200 ppm/K", PerKelvin, -2e-4}, //
		{"−200 ppm/°C", PerKelvin, -2e-4},
		{"0 ppm/K", PerKelvin, 0},
	} {
		q, err := Parse(c.text, c.unit)
		if err != nil {
			t.Errorf("%q: %v", c.text, err)
		} else if q.Value != c.want || q.Text != c.text || q.Unit != c.unit || q.Tolerance.Given() {
			t.Errorf("%q = %+v, want %v", c.text, q, c.want)
		}
	}
}

// Per cent over a hundred and prefixes are exact decimal shifts of the text.
func TestParseTolerance(t *testing.T) {
	rel := func(minus, plus float64) Tolerance { return Tolerance{Minus: minus, Plus: plus, Relative: true} }
	abs := func(size float64) Tolerance { return Tolerance{Minus: size, Plus: size} }
	for _, c := range []struct {
		text  string
		unit  Unit
		value float64
		want  Tolerance
	}{
		{"10k ± 1 %", Ohm, 10e3, rel(0.01, 0.01)},
		{"10k±1%", Ohm, 10e3, rel(0.01, 0.01)},
		{"10k +- 1 %", Ohm, 10e3, rel(0.01, 0.01)},
		{"10k +/-1%", Ohm, 10e3, rel(0.01, 0.01)},
		{"10k:1%", Ohm, 10e3, rel(0.01, 0.01)},
		{"10k 1 %", Ohm, 10e3, rel(0.01, 0.01)},
		{"10k ± 50 ppm", Ohm, 10e3, rel(50e-6, 50e-6)},
		{"46.93k ± 0.3 %", Ohm, 46.93e3, rel(0.003, 0.003)},
		{"46.93k ± 0.2k", Ohm, 46.93e3, abs(200)},
		{"46.93k ± 0k2", Ohm, 46.93e3, abs(200)},
		{"46.93 kΩ ± 200 Ω", Ohm, 46.93e3, abs(200)},
		{"46930 ± 200", Ohm, 46930, abs(200)},
		{"46.93k ± 0.2k (k=2)", Ohm, 46.93e3, Tolerance{200, 200, false, 2}},
		{"46.93k ± 0.3 % ( k = 2.0 )", Ohm, 46.93e3, Tolerance{0.003, 0.003, true, 2}},
		{"138 Hz ± 3 %", Hertz, 138, rel(0.03, 0.03)},
		{"5 V ± 2 %", Volt, 5, rel(0.02, 0.02)},
		{"5V ± 100 mV", Volt, 5, abs(0.1)},
		{"45 % ± 2 %", Number, 0.45, rel(0.02, 0.02)}, // relative, as for every other quantity
		{"0.45 ± 0.02", Number, 0.45, abs(0.02)},
		{"100u +80/-20 %", Farad, 100e-6, rel(0.2, 0.8)},
		{"100u:-20%/+80%", Farad, 100e-6, rel(0.2, 0.8)},
		{"100u −20 / +80 %", Farad, 100e-6, rel(0.2, 0.8)},
		{"4.7p ± 0.5 pF", Farad, 4.7e-12, abs(0.5e-12)},
		{"10k:K", Ohm, 10e3, rel(0.1, 0.1)},
		{"104K", Farad, 100e-9, rel(0.1, 0.1)},
		{"104 K", Farad, 100e-9, rel(0.1, 0.1)},
		{"100nK", Farad, 100e-9, rel(0.1, 0.1)},
		{"100n K", Farad, 100e-9, rel(0.1, 0.1)},
		{"100 nF K", Farad, 100e-9, rel(0.1, 0.1)},
		{"4K7J", Ohm, 4700, rel(0.05, 0.05)},
		{"4k7 J", Ohm, 4700, rel(0.05, 0.05)},
		{"47KK", Ohm, 47e3, rel(0.1, 0.1)},
		{"4R7M", Ohm, 4.7, rel(0.2, 0.2)},
		{"10 M", Ohm, 10e6, Tolerance{}}, // a letter after plain digits is the prefix
		{"10R M", Ohm, 10, rel(0.2, 0.2)},
		{"4k7F", Ohm, 4700, rel(0.01, 0.01)}, // no resistor is in farad
	} {
		q, err := Parse(c.text, c.unit)
		if err != nil {
			t.Errorf("%q: %v", c.text, err)
		} else if q.Value != c.value || q.Tolerance != c.want {
			t.Errorf("%q = %v %+v, want %v %+v", c.text, q.Value, q.Tolerance, c.value, c.want)
		}
	}
}

func TestParseSigned(t *testing.T) {
	for text, want := range map[string]float64{"-0.5 V": -0.5, "0": 0, "1.5": 1.5, "−20 mV": -0.02} {
		if got, err := ParseSigned(text, Volt); err != nil || got != want {
			t.Errorf("%q = %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"1 V ± 1 %", "one", "1 Ω"} {
		if got, err := ParseSigned(text, Volt); err == nil {
			t.Errorf("%q = %v", text, got)
		}
	}
}

func TestParseToleranceApart(t *testing.T) {
	for _, c := range []struct {
		text string
		want Tolerance
	}{
		{"10 %", Tolerance{0.1, 0.1, true, 0}},
		{"± 10%", Tolerance{0.1, 0.1, true, 0}},
		{"K", Tolerance{0.1, 0.1, true, 0}},
		{"+80/-20 %", Tolerance{0.2, 0.8, true, 0}},
		{"5 nF", Tolerance{5e-9, 5e-9, false, 0}},
	} {
		if got, err := ParseTolerance(c.text, 100e-9, Farad); err != nil || got != c.want {
			t.Errorf("%q = %+v, %v, want %+v", c.text, got, err, c.want)
		}
	}
	for text, want := range map[string]string{
		"":       "the tolerance is missing; expected one such as 10 %",
		"ten":    `"ten" is no tolerance; expected a percentage such as 1 %, or one of the letters B C D F G H J K M N Q S T Z`,
		"100 %":  "the tolerance reaches down to 0; expected limits above zero",
		"0 %":    "the tolerance is zero; expected one above zero",
		"10":     "the value has a unit and the tolerance 10 has none; expected both or neither; write such as 10 % or 10 F",
		"10 % x": `"x" is left over; expected nothing more`,
	} {
		if _, err := ParseTolerance(text, 100e-9, Farad); err == nil || err.Error() != want {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// The caret's column and the whole message are shown, as a user sees them.
func TestParseErrors(t *testing.T) {
	for _, c := range []struct {
		unit  Unit
		caret string // text and caret line
		want  string
	}{
		{Ohm, "\n^", "the value is missing; expected resistance such as 10k, 4k7 or 470 Ω"},
		{Ohm, "10 kF\n   ^", `"kF" is a unit of capacitance; expected ohm (Ω), such as 10k, 4k7 or 470 Ω`},
		{Ohm, "10kF\n  ^", `"kF" is a unit of capacitance; expected ohm (Ω), such as 10k, 4k7 or 470 Ω`},
		{Ohm, "10 kΩΩ\n   ^", `"kΩΩ" is no unit of resistance; expected ohm (Ω), such as 10k, 4k7 or 470 Ω`},
		{Farad, "100 nH\n    ^", `"nH" is no unit of capacitance; expected farad (F), such as 100n, 4n7 or 22 µF`},
		{Farad, "100 kΩ\n    ^", `"kΩ" is a unit of resistance; expected farad (F), such as 100n, 4n7 or 22 µF`},
		{Volt, "5 Hz\n  ^", `"Hz" is a unit of frequency; expected volt (V), such as 5 V`},
		{Hertz, "138 khz\n    ^", `"khz" is no unit of frequency; expected hertz (Hz), such as 138 Hz or 1.2 kHz`},
		{Ohm, "-10k\n^", `"-10k" is negative; expected a positive value`},
		{Ohm, "−10k\n^", `"−10k" is negative; expected a positive value`},
		{Ohm, "0\n^", `"0" is zero; expected a positive value`},
		{Farad, "0 nF\n^", `"0 nF" is zero; expected a positive value`},
		{Ohm, "NaN\n^", `"NaN" is no number; expected resistance such as 10k, 4k7 or 470 Ω`},
		{Ohm, "inf\n^", `"inf" is no number; expected resistance such as 10k, 4k7 or 470 Ω`},
		{Ohm, "∞\n^", `"∞" is no number; expected resistance such as 10k, 4k7 or 470 Ω`},
		{Ohm, "0x1p4\n ^", `"x" among the digits; expected decimal digits`},
		{Ohm, "1_000\n ^", `"_" among the digits; expected decimal digits`},
		{Ohm, "1e400\n^", `"1e400" is too large a number; expected resistance such as 10k, 4k7 or 470 Ω`},
		{Ohm, "1e-99999\n^", `"1e-99999" is too small a number; expected resistance such as 10k, 4k7 or 470 Ω`},
		{Ohm, "1,000\n ^", `"1,000" has a comma that can part the thousands or the decimals; expected a decimal point; write 1000 or 1.000`},
		{Ohm, "1 000\n  ^", `"000" after the value; expected a tolerance such as ± 1 %; write a value without blanks among its digits`},
		{Ohm, "4.7k7\n   ^", `"k7" after a decimal point; expected the letter in place of the point; write such as 4k7 or 4.7k`},
		{Ohm, "4k7k\n   ^", `"k" after a code that has its prefix; expected a tolerance or nothing`},
		{Ohm, "10k j\n    ^", `"j" is no tolerance; expected a percentage such as 1 %, or one of the letters B C D F G H J K L M N P W`},
		{Ohm, "10k Z\n    ^", `"Z" is no tolerance; expected a percentage such as 1 %, or one of the letters B C D F G H J K L M N P W`},
		{Ohm, "10k ±\n     ^", "the tolerance is missing; expected one such as 1 %"},
		{Ohm, "10k ± 0 %\n      ^", "the tolerance is zero; expected one above zero"},
		{Ohm, "10k ± -1 %\n      ^", "the tolerance is negative; expected one such as 1 %"},
		{Ohm, "10k ± 100 %\n^", "the tolerance reaches down to 0; expected limits above zero"},
		{Ohm, "46.93k ± 0.2\n         ^", "the value has a unit and the tolerance 0.2 has none; expected both or neither; write such as 0.2 % or 0.2 Ω"},
		{Ohm, "46.93 ± 0.2k\n        ^", "the tolerance has a unit and the value has none; expected both or neither; write the value's unit too"},
		{Ohm, "10k ± 1 nF\n        ^", `"nF" is no unit of a tolerance here; expected %, ppm or ohm`},
		{Ohm, "10k ± 1 % (k=0)\n          ^", `"(k=0)" is no coverage factor; expected one such as (k=2)`},
		{Ohm, "10k ± 1 % (k=2\n          ^", `"(k=2" is no coverage factor; expected one such as (k=2)`},
		{Ohm, "10k ± 1 % today\n          ^", `"today" is left over; expected nothing more`},
		{Farad, "100u +80/+20 %\n     ^", `"+80/+20 %" is no tolerance; expected one plus and one minus side, such as +80/-20 %`},
		{Farad, "100n F\n     ^", "this F can be farad or the tolerance letter for 1 %; expected one of them; write such as 100nF or 100n ± 1 %"},
		{Farad, "4n7 F\n    ^", "this F can be farad or the tolerance letter for 1 %; expected one of them; write such as 100nF or 100n ± 1 %"},
		{Farad, "104F\n   ^", `"104F" can be 104 farad, or the code 104 with the tolerance letter F; expected one of them; write 100 nF ± 1 %`},
		{Farad, "100\n^", `"100" can be the code for 10 pF, or 100 pF; expected a capacitance with its prefix; write 10p or 100p`},
		{Farad, "47\n^", `"47" has neither prefix nor unit; expected capacitance such as 100n, 4n7 or 22 µF`},
		{Farad, "0.1\n^", `"0.1" has neither prefix nor unit; expected capacitance such as 100n, 4n7 or 22 µF`},
		{Farad, "100 k\n    ^", `"k" is no unit of capacitance; expected farad (F), such as 100n, 4n7 or 22 µF; a tolerance letter is a capital: K`},
		{PerKelvin, "200\u00a0ppm\n    ^", `"ppm" is a unit of a ratio; expected a temperature coefficient such as -200 ppm/K`},
	} {
		text, _, _ := strings.Cut(c.caret, "\n")
		_, err := Parse(text, c.unit)
		var e *Error
		if !errors.As(err, &e) || !errors.Is(err, ErrQuantity) {
			t.Errorf("%q: error %v, want %q", text, err, c.want)
			continue
		}
		if err.Error() != c.want {
			t.Errorf("%q:\ngot  %s\nwant %s", text, err, c.want)
		}
		if e.Caret() != c.caret {
			t.Errorf("%q: caret\n%s\nwant\n%s", text, e.Caret(), c.caret)
		}
	}
}

// The kind of text alone decides; whatever is read is a usable number.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"4k7 J", "100n K", "10k ± 1 %", "46.93k ± 0.2k (k=2)", "-200 ppm/K", "100u +80/-20 %", "R47", "µ47", "104K", "1e-7:5%", "0.45 ± 0.02", "9p1 B"} {
		for u := range units {
			f.Add(s, u)
		}
	}
	f.Fuzz(func(t *testing.T, text string, unit int) {
		if unit < 0 || unit >= len(units) {
			return
		}
		u := Unit(unit)
		q, err := Parse(text, u)
		if err != nil {
			var e *Error
			if !errors.As(err, &e) || e.Text != text || e.Offset < 0 || e.Offset > len(text) {
				t.Fatalf("%q: error %#v has no place", text, err)
			}
			return
		}
		if math.IsNaN(q.Value) || math.IsInf(q.Value, 0) || !units[u].signed && q.Value <= 0 {
			t.Fatalf("%q = %v", text, q.Value)
		}
		low, high := q.Limits()
		if q.Tolerance.Given() && !(low <= q.Value && q.Value <= high) && !units[u].signed {
			t.Fatalf("%q: limits %v … %v about %v", text, low, high, q.Value)
		}
		again, err := Parse(q.String(), u)
		if err != nil {
			t.Fatalf("%q prints as %q, which does not read: %v", text, q.String(), err)
		}
		if again.Value != q.Value || again.Tolerance != q.Tolerance {
			t.Fatalf("%q prints as %q: %+v, was %+v", text, q.String(), again, q)
		}
	})
}

func TestParseTemperature(t *testing.T) {
	for text, want := range map[string][2]float64{"60 °C ± 5 °C": {60, 5}, "-10 °C": {-10, 0}, "45 °C:2°C": {45, 2}, "21.5": {21.5, 0}} {
		q, err := Parse(text, Celsius)
		if err != nil || q.Value != want[0] || q.Tolerance.Plus != want[1] {
			t.Errorf("%q: %+v, %v", text, q, err)
		}
	}
}
