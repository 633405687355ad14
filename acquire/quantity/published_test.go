package quantity

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
)

// codes is the part of testdata/published/iec60062_codes.toml that a test may rest on: the rows that were
// seen in print, and those that recompute from the rule stated in the file.
type codes struct {
	Percent    map[string]float64 `toml:"tolerance_symmetric_percent"`
	Asymmetric map[string][]int   `toml:"tolerance_asymmetric_percent"`
	Picofarad  map[string]float64 `toml:"tolerance_pF_below_10pF"`
	Resistance map[string]float64 `toml:"resistance_examples"`
	Capacitor  map[string]float64 `toml:"capacitance_examples"`
	ThreeDigit map[string]float64 `toml:"three_digit_capacitor_pF"`
}

func readCodes(t *testing.T) codes {
	t.Helper()
	b, err := os.ReadFile("../../testdata/published/iec60062_codes.toml")
	if err != nil {
		t.Fatal(err)
	}
	var c codes
	if err := toml.Unmarshal(b, &c); err != nil {
		t.Fatal(err)
	}
	if len(c.Resistance) != 8 || len(c.Capacitor) < 8 || len(c.ThreeDigit) < 9 || len(c.Percent) < 8 {
		t.Fatalf("the published file is not whole: %+v", c)
	}
	return c
}

// relative difference of two numbers that are each rounded once.
func differ(a, b float64) bool { return math.Abs(a-b) > 1e-15*math.Abs(b) }

// IEC 60062: the eight resistance examples, and capacitance codes that recompute from the SI prefix.
func TestPublishedValueCodes(t *testing.T) {
	c := readCodes(t)
	check := func(text string, unit Unit, want float64) {
		t.Helper()
		if q, err := Parse(text, unit); err != nil || differ(q.Value, want) {
			t.Errorf("%s = %v, %v; want %v", text, q.Value, err, want)
		}
	}
	for text, want := range c.Resistance {
		check(text, Ohm, want)
	}
	for text, want := range c.Capacitor {
		check(text, Farad, want)
	}
	for text, want := range c.ThreeDigit {
		if text[2] != '0' && text[2] < '8' { // 0 is refused as ambiguous, 8 and 9 rest on memory
			check(text, Farad, want)
		}
	}
}

// IEC 60062 tolerance letters B C D F G J K M (an EIA code list and a part-number legend), for values from 10 pF.
func TestPublishedToleranceLetters(t *testing.T) {
	c := readCodes(t)
	for _, l := range strings.Split("B C D F G J K M", " ") {
		for text, unit := range map[string]Unit{"4k7 " + l: Ohm, "4n7:" + l: Farad} {
			q, err := Parse(text, unit)
			if err != nil || differ(q.Tolerance.Plus, c.Percent[l]/100) || q.Tolerance.Minus != q.Tolerance.Plus || !q.Tolerance.Relative {
				t.Errorf("%s: %+v, %v; want %v %%", text, q.Tolerance, err, c.Percent[l])
			}
		}
	}
	for _, l := range []string{"B", "C", "D"} { // below 10 pF: in pF (the same legend)
		q, err := Parse("9p1:"+l, Farad)
		if err != nil || differ(q.Tolerance.Plus, c.Picofarad[l]*1e-12) || q.Tolerance.Relative {
			t.Errorf("9p1:%s: %+v, %v; want %v pF", l, q.Tolerance, err, c.Picofarad[l])
		}
	}
}

// The asymmetric letters rest on memory, so their numbers are not tested; that they are asymmetric and for
// capacitors alone is.
func TestAsymmetricLettersAreForCapacitors(t *testing.T) {
	for l := range readCodes(t).Asymmetric {
		q, err := Parse("100u "+l, Farad)
		if err != nil || !(q.Tolerance.Plus > q.Tolerance.Minus && q.Tolerance.Minus > 0) {
			t.Errorf("100u %s: %+v, %v", l, q.Tolerance, err)
		}
		if _, err := Parse("10k "+l, Ohm); err == nil {
			t.Errorf("10k %s was read", l)
		}
	}
}

// Every value of IEC 60063 E3 … E192 over eight decades, written as a code, reads back as the same decimal.
func TestPublishedSeriesAsCodes(t *testing.T) {
	b, err := os.ReadFile("../../testdata/published/iec60063_series.csv")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, line := range strings.Split(string(b), "\n") {
		cells := strings.Split(strings.TrimSpace(line), ",")
		if len(cells) != 3 || !strings.HasPrefix(cells[0], "E") {
			continue
		}
		whole, fraction, _ := strings.Cut(cells[2], ".")
		for unit, letters := range map[Unit]map[string]int{
			Ohm:   {"R": 0, "k": 3, "K": 3, "M": 6},
			Farad: {"p": -12, "n": -9, "u": -6, "µ": -6},
		} {
			for l, power := range letters {
				want, err := strconv.ParseFloat(cells[2]+"e"+strconv.Itoa(power), 64)
				if err != nil {
					t.Fatal(err)
				}
				q, err := Parse(whole+l+fraction, unit)
				if err != nil || q.Value != want {
					t.Errorf("%s: %v, %v; want %v", whole+l+fraction, q.Value, err, want)
				}
				n++
			}
		}
	}
	if n < 8*(3+6+12+24+48+96+192) {
		t.Fatalf("only %d codes were tried", n)
	}
}
