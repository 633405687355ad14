package scan

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strconv"
	"strings"
	"testing"
)

// pad makes s readable past its end, with garbage that must not be read as data.
func pad(s string) (text []byte, end int) {
	text = append([]byte(s), bytes.Repeat([]byte("7"), Pad)...)
	return text, len(s)
}

// carefully reads every line with the reader that defines what a row means.
func carefully(l *Layout, s string) *Rows {
	text, end := pad(s)
	r := &Rows{}
	r.reset(l, 1)
	for pos := 0; pos < end; {
		pos = l.carefulLine(text, pos, r)
	}
	return r
}

func parse(l *Layout, s string) *Rows {
	text, end := pad(s)
	r := &Rows{}
	l.Parse(text, end, r)
	r.Fill()
	return r
}

// same reports the first difference between two results; numbers must agree to the last bit.
func same(l *Layout, a, b *Rows) string {
	if a.N != b.N {
		return fmt.Sprintf("%d rows and %d", a.N, b.N)
	}
	if len(a.Odd)+len(b.Odd) > 0 && !reflect.DeepEqual(a.Odd, b.Odd) {
		return fmt.Sprintf("odd lines %v and %v", a.Odd, b.Odd)
	}
	for i := range a.N {
		if l.Time >= 0 && math.Float64bits(a.Time[i]) != math.Float64bits(b.Time[i]) {
			return fmt.Sprintf("row %d: time %v and %v", i, a.Time[i], b.Time[i])
		}
		for k := range a.Value {
			if x, y := a.Value[k][i], b.Value[k][i]; math.Float64bits(x) != math.Float64bits(y) {
				return fmt.Sprintf("row %d: level %v and %v", i, x, y)
			}
		}
	}
	return ""
}

// layouts that the tests and the fuzz target go through.
var layouts = []Layout{
	{Delim: ',', Point: '.', Cells: 2, Join: -1, Time: 0, Value: []int{1}, Shift: []int{0}},
	{Delim: ',', Point: '.', Cells: 2, Join: -1, Time: 0, TimeShift: -3, Value: []int{1}, Shift: []int{-3}},
	{Delim: ';', Point: ',', Cells: 3, Join: -1, Time: 1, TimeShift: -6, Value: []int{2}, Shift: []int{0}},
	{Delim: '\t', Point: '.', Cells: 3, Join: -1, Time: 0, Value: []int{2, 1}, Shift: []int{0, -3}},
	{Delim: 0, Point: '.', Cells: 1, Join: -1, Time: -1, Value: []int{0}, Shift: []int{0}},
	{Delim: Blanks, Point: '.', Cells: 2, Join: -1, Time: 0, Value: []int{1}, Shift: []int{0}},
	{Delim: ',', Point: ',', Cells: 2, Join: 0, Time: 0, Value: []int{1}, Shift: []int{0}},
	{Delim: ';', Point: '.', Cells: 2, Join: -1, Time: 0, TimeForm: QuantityTime, Value: []int{1}, Shift: []int{0}},
	{Delim: ',', Point: '.', Cells: 2, Join: -1, Time: 0, TimeForm: EpochTime, Reference: 978343202, Value: []int{1}, Shift: []int{0}},
	{Delim: ',', Point: '.', Cells: 2, Join: -1, Time: 0, TimeForm: CalendarTime, Reference: 978343202, Value: []int{1}, Shift: []int{0}},
	wide(',', 5, 1),
	{Delim: ';', Point: ',', Cells: 6, Join: -1, Time: 1, TimeShift: -3, Value: []int{3}, Shift: []int{-3}},
	{Delim: '\t', Point: '.', Cells: 4, Join: -1, Time: 0, Value: []int{3}, Shift: []int{0}},
	{Delim: ',', Point: '.', Cells: 5, Join: -1, Time: 3, Value: []int{1, 4}, Shift: []int{0, 0}},
}

// writeNumber prints a random number in one of the ways benches print.
func writeNumber(r *rand.Rand, style int) string {
	v := r.NormFloat64() * math.Pow(10, float64(r.IntN(12)-8))
	switch style {
	case 0:
		return fmt.Sprintf("%.7e", v)
	case 1:
		return fmt.Sprintf("%.6e", v)
	case 2:
		return fmt.Sprintf("%.9f", v)
	case 3:
		return fmt.Sprintf("%+.2E", v)
	case 4:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case 5:
		return strconv.Itoa(r.IntN(2))
	case 6:
		return strconv.Itoa(r.IntN(2000) - 1000)
	case 7:
		return fmt.Sprintf("%.17g", v)
	case 8:
		return strconv.FormatInt(r.Int64(), 10)
	case 9:
		return fmt.Sprintf("%.25f", v)
	case 10:
		return []string{"X", "---", "NaN", "", "∞", "-inf", "1.#INF", "H", "Low", "0.", ".5", "-4.2e-001", "1e400", "1e-400", "-0", "1e", "--1", "0x10", "1_0", "1..2", "+", "e5", "9007199254740993", "1e22", "1e23", "18446744073709551621", "1844674407370955.1621"}[r.IntN(27)]
	default:
		return fmt.Sprintf("%.3f", v)
	}
}

func TestFastReadersAgreeWithTheCareful(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	for _, l := range layouts {
		for round := range 400 {
			var b strings.Builder
			a, c, third := r.IntN(12), r.IntN(12), r.IntN(12)
			form := []string{"%s", "%s", "%s", "\"%s\"", "%9s", " %s ", "\" %s\""}[r.IntN(7)]
			for range 1 + r.IntN(40) {
				for k := range l.Cells {
					if k > 0 {
						b.WriteByte(max(l.Delim, ' '))
					}
					style := []int{a, c, third}[k%3]
					if r.IntN(15) == 0 {
						style = r.IntN(12)
					}
					s := writeNumber(r, style)
					if l.Point == ',' {
						s = strings.ReplaceAll(s, ".", ",")
					}
					if r.IntN(40) == 0 {
						s = []string{"a\"b", "\"", "\"1,2\"", "\r", "1\t", "µ"}[r.IntN(6)]
					}
					fmt.Fprintf(&b, form, s)
				}
				b.WriteString([]string{"\n", "\n", "\n", "\r\n", ",\n", " \n"}[r.IntN(6)])
			}
			if diff := same(&l, carefully(&l, b.String()), parse(&l, b.String())); diff != "" {
				t.Fatalf("layout %+v round %d: careful and fast differ, %s, in\n%s", l, round, diff, b.String())
			}
		}
	}
}

// TestEveryByte puts every byte in every place of a row that follows rows of the same form, where the template
// has its guess ready: what it lets pass must be what the careful reader reads.
func TestEveryByte(t *testing.T) {
	for _, c := range []struct{ before, row string }{
		{"-9.9999998e+01,4.899902e+00\n-9.9999996e+01,-4.899902e-02\n", "-9.9999994e+01,4.899902e+00\n"},
		{"-9.9999998e+01,4.899902e+00\r\n", "-9.9999996e+01,-4.899902e-02\r\n"},
		{"12.345678901,1\n", "12.345678902,0\n"},
		{"1234567,1,\n", "1234568,0,\n"},
		{"-0.0002999500,3.2970\n", "-0.0002999000,1.2040\n"},
		{"-0.0048000,12345678\n", "-0.0047840,-1234567\n"},
		// more columns than two
		{ramp("%.7f,1.25,-0.3,71\n", -3e-4, 1e-7, 5), "-0.0002995,-11.5,7.25,-2\n"},
		{ramp("%.3f,-1.25e-03,12.3456789,7\r\n", 0.5, 0.001, 5), "0.505,+1.2e-04,-12.3456788,-3\r\n"},
		{ramp("\"%.3f\",\"1.25\",\"x,y\",7\n", 0.5, 0.001, 5), "\"0.505\",\"1.3\",\"z\",8\n"},
		{ramp("%9.3f, 1.25,  -3,%%\n", 0.5, 0.001, 5), "    0.505,-1.3 ,   4,u\n"},
		{ramp("%.0f,1,0,1,0\n", 95, 1, 6), "101,0,1,0,1\n"},
		// behind three even rows the times are foretold
		{ramp("%.7e,4.899902e+00\n", -50, 2e-6, 6), "-4.9999988e+01,4.899902e+00\n"},
		{ramp("%.9f,1\n", 12.3, 1e-9, 6), "12.300000006,0\n"},
		{ramp("%.0f,1\n", 99990, 1, 6), "99996,0\n"},
		{ramp("%.3f,1\r\n", 0.5, 0.001, 6), "0.506,0\r\n"},
		{ramp("%.10f,3.2970\n", -3e-4, 5e-8, 6), "-0.0002997000,1.2040\n"},
	} {
		for i := range c.row {
			row := []byte(c.row)
			for x := range 256 {
				row[i] = byte(x)
				text := c.before + string(row) + c.row
				l := &layouts[0]
				if n := strings.Count(c.row, ","); n > 1 && !strings.Contains(c.row, ",\n") {
					every := wide(',', n+1, n/2)
					l = &every
				}
				if diff := same(l, carefully(l, text), parse(l, text)); diff != "" {
					t.Fatalf("%q: careful and fast differ, %s", text, diff)
				}
			}
		}
	}
}

// ramp writes n rows whose times begin at start and step evenly.
func ramp(form string, start, step float64, n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, form, start+float64(i)*step)
	}
	return b.String()
}

// TestRuns: even times through signs, decades and carries, with rows lost, doubled and altered.
func TestRuns(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 12))
	for _, form := range []string{"%.7e,4.9\n", "%.9f,1\n", "%.0f,0\n", "%.3f,-1.25e-01\n", "%.10f,3.2970\n", "%.4E,1\r\n", "%.12f,1\n"} {
		for range 150 {
			step := math.Pow(10, float64(-r.IntN(9))) * float64(1+r.IntN(25))
			if form == "%.0f,0\n" {
				step = float64(1 + r.IntN(3))
			}
			start := step * float64(r.IntN(3000)-2000)
			rows := strings.SplitAfter(ramp(form, start, step, 200+r.IntN(2000)), "\n")
			for range r.IntN(4) {
				i := r.IntN(len(rows) - 1)
				switch r.IntN(3) {
				case 0:
					rows[i] = ""
				case 1:
					rows[i] += rows[i]
				case 2:
					if row := []byte(rows[i]); len(row) > 2 {
						row[r.IntN(len(row)-1)] = "0123456789+-.,eX"[r.IntN(16)]
						rows[i] = string(row)
					}
				}
			}
			text := strings.Join(rows, "")
			if diff := same(&layouts[0], carefully(&layouts[0], text), parse(&layouts[0], text)); diff != "" {
				t.Fatalf("%q from %g by %g: careful and fast differ, %s", form, start, step, diff)
			}
		}
	}
}

// TestRowsWithEmptyEnds: how many cells a row may have beyond those that are wanted, and which of them must be empty.
func TestRowsWithEmptyEnds(t *testing.T) {
	for cells := 2; cells < 5; cells++ {
		l := wide(',', cells, 1)
		for _, end := range []string{"", ",", ",,", ",2", ",2,", ",2,3", ",2,3,", ",2,3,4", ",,,3", ", ", ",2,\t", ",\r"} {
			text := ramp("%.3f,4.125"+end+"\n", 0.5, 0.001, 9)
			if diff := same(&l, carefully(&l, text), parse(&l, text)); diff != "" {
				t.Errorf("%d cells, %q: %s", cells, text, diff)
			}
		}
	}
}

// TestMarksThatMove: a level is read alike wherever the mark of the level before was.
func TestMarksThatMove(t *testing.T) {
	levels := []string{"123.25", "12.5", "1.5", "5x", "5", "-.5", "+7.125", "1234567.5", "12345678.5", "0.0000123456", "1e3", "1.5e-3", "5 ", "x", ""}
	l := wide(',', 3, 1)
	for _, before := range levels {
		for _, after := range levels {
			for _, end := range []string{".25", "7", ""} {
				text := ramp("%.3f,"+before+","+end+"\n", 0.5, 0.001, 5) + ramp("%.3f,"+after+","+end+"\n", 0.505, 0.001, 2)
				if diff := same(&l, carefully(&l, text), parse(&l, text)); diff != "" {
					t.Errorf("%q behind %q: %s", after, before, diff)
				}
			}
		}
	}
}

// TestDigitsThatWrap: where the printed digits begin anew, or fall back while those before them stay, the time is what
// is printed, not what counting up would give.
func TestDigitsThatWrap(t *testing.T) {
	for _, c := range []struct{ before, after string }{
		{"99999996,1\n99999997,1\n99999998,1\n99999999,1\n", "00000000,1\n00000001,0\n"},
		{"12.9999995,4.1\n1299999996,1\n1299999997,1\n1299999998,1\n1299999999,1\n", "1200000000,1\n1200000001,0\n"},
		{"12.9999995,4.1\n12.9999996,4.9\n12.9999997,4.8\n12.9999998,4.7\n12.9999999,4.6\n", "12.0000000,4.5\n"},
		{"-12.0000004,4.1\n-12.0000003,4.9\n-12.0000002,4.8\n-12.0000001,4.7\n-12.0000000,4.6\n", "-12.9999999,4.5\n"},
		{"1299999996,1\n1299999997,1\n1299999998,1\n1299999999,1\n", "1200000000,1\n"},
		{"12.9999996,4.9\n12.9999997,4.8\n12.9999998,4.7\n12.9999999,4.6\n", "12.0000000,4.5\n"},
		{"-12.0000003,4.9\n-12.0000002,4.8\n-12.0000001,4.7\n-12.0000000,4.6\n", "-12.9999999,4.5\n"},
		{"9.999996e+00,4.9\n9.999997e+00,4.8\n9.999998e+00,4.7\n9.999999e+00,4.6\n", "0.000000e+00,4.5\n"},
	} {
		text := c.before + c.after + c.before
		if diff := same(&layouts[0], carefully(&layouts[0], text), parse(&layouts[0], text)); diff != "" {
			t.Errorf("%q: careful and fast differ, %s", text, diff)
		}
	}
}

// TestManyDigits: columns with as many digits as a template takes, and more, which a float64 does not hold.
func TestManyDigits(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	for decimals := 6; decimals < 22; decimals++ {
		for _, scale := range []float64{1, 1000, 1e7} {
			var b strings.Builder
			for range 300 {
				fmt.Fprintf(&b, "%.*f,%.3f\n", decimals, (1+8.99*r.Float64())*scale, r.Float64())
			}
			if diff := same(&layouts[0], carefully(&layouts[0], b.String()), parse(&layouts[0], b.String())); diff != "" {
				t.Errorf("%d decimals, scale %g: %s", decimals, scale, diff)
			}
		}
	}
}

// Faults and cells as the definition of a row has them.
func TestCareful(t *testing.T) {
	for _, c := range []struct {
		layout int
		line   string
		fault  Fault
		cell   int
		time   float64
		level  float64
	}{
		{0, "1,2", NoFault, 0, 1, 2},
		{0, " 1 , 2 ", NoFault, 0, 1, 2},
		{0, `"1","2"`, NoFault, 0, 1, 2},
		{0, "1,2,", NoFault, 0, 1, 2},
		{0, "1,2,,,", NoFault, 0, 1, 2},
		{0, "1,2,3", Many, 2, 0, 0},
		{0, "1,2,,3", Many, 3, 0, 0},
		{0, "1", Few, 1, 0, 0},
		{0, "", Few, 1, 0, 0},
		{0, "x,2", BadTime, 0, 0, 0},
		{0, ",2", BadTime, 0, 0, 0},
		{0, "1,two", BadLevel, 1, 0, 0},
		{0, "1,H", NoFault, 0, 1, 1},
		{1, "1,2", NoFault, 0, 1e-3, 2e-3},
		{2, "0;1,5;2,5", NoFault, 0, 1.5e-6, 2.5},
		{5, "  1   2 ", NoFault, 0, 1, 2},
		{6, "0,25,1", NoFault, 0, 0.25, 1},
		{6, "0,25", Few, 1, 0, 0},
		{7, "3.214 500 ms;1", NoFault, 0, 3.2145e-3, 1},
		{8, "978343202.500000125,1", NoFault, 0, 0.500000125, 1},
		{9, "2001-01-01T10:00:02.500000125Z,1", NoFault, 0, 0.500000125, 1},
	} {
		var r Rows
		fault, cell := layouts[c.layout].Row([]byte(c.line), &r)
		if fault != c.fault || cell != c.cell || fault == NoFault && (r.Time[0] != c.time || r.Value[0][0] != c.level) {
			t.Errorf("layout %d, %q: fault %d in cell %d, %v %v; expected %d in %d, %v %v", c.layout, c.line, fault, cell, r.Time, r.Value, c.fault, c.cell, c.time, c.level)
		}
	}
}

func TestFloatIsStrconv(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for range 50_000 {
		s := writeNumber(r, r.IntN(12))
		checkFloat(t, s)
	}
}

// checkFloat compares the careful and the quick reading of a number with strconv.ParseFloat, bit by bit.
func checkFloat(t *testing.T, s string) {
	t.Helper()
	f, ok := Float([]byte(s), '.', 0)
	if !ok {
		return
	}
	if Grouped([]byte(s), '.') { // 4 990 is one number
		s = strings.NewReplacer(" ", "", "'", "", ",", "", "\u2019", "", "\u00a0", "", "\u2009", "", "\u202f", "").Replace(s)
	}
	s = strings.NewReplacer("D", "e", "d", "e", "\u2212", "-").Replace(s)
	want, err := strconv.ParseFloat(s, 64)
	if err != nil && !math.IsInf(want, 0) && want != 0 {
		t.Fatalf("%q is read as %v, strconv says %v", s, f, err)
	}
	if math.Float64bits(f) != math.Float64bits(want) {
		t.Fatalf("%q = %v, strconv says %v", s, f, want)
	}
	text, end := pad("0000000000000000" + s)
	for _, tail := range []uint{0, 2, 3, 4, 5} {
		if q, ok := (&step{tail: tail}).number(text, end-len(s), end, lanes8('.')); ok && math.Float64bits(q) != math.Float64bits(want) {
			t.Fatalf("quick: %q = %v, strconv says %v", s, q, want)
		}
	}
	for _, shift := range []int{-12, -3, 3} {
		f, _ := Float([]byte(s), '.', shift)
		i := strings.IndexAny(s, "eE")
		digits, exp := s, 0
		if i >= 0 {
			digits = s[:i]
			if exp, err = strconv.Atoi(s[i+1:]); err != nil {
				return // an exponent past all bounds, checked above without a shift
			}
		}
		want, _ := strconv.ParseFloat(digits+"e"+strconv.Itoa(exp+shift), 64)
		if math.Float64bits(f) != math.Float64bits(want) {
			t.Fatalf("%q times 10^%d = %v, strconv says %v", s, shift, f, want)
		}
	}
}

func TestNotANumber(t *testing.T) {
	for _, s := range []string{"1d5", "1D", "1d+", "\u2212", "", "-", "+", ".", "e5", "1e", "1e+", "1e5.0", "0x1p4", "1_000", "inf", "nan", "1 2", "--1", "1-", "1.2.3", " 1", "1,5"} {
		if f, ok := Float([]byte(s), '.', 0); ok {
			t.Errorf("%q is read as %v", s, f)
		}
	}
}

// Expected seconds are worked out by hand from the cell's own digits.
func TestSeconds(t *testing.T) {
	for s, want := range map[string]float64{"0 ns": 0, "3.214 500 ms": 3.2145e-3, "1.000 000 125 s": 1.000000125, "-12us": -12e-6, "7 µs": 7e-6, "2,5 ms": 2.5e-3} {
		if f, ok := Seconds([]byte(s)); !ok || f != want {
			t.Errorf("%q = %v, %v; expected %v", s, f, ok, want)
		}
	}
	for _, s := range []string{"ns", "3 V", "3", "a ms", "3..1 s"} {
		if f, ok := Seconds([]byte(s)); ok {
			t.Errorf("%q is read as %v s", s, f)
		}
	}
}

// 978343202 is 2001-01-01T10:00:02Z: 31 years of 365 days, 8 leap days (1972 to 2000), 36002 s.
func TestCalendar(t *testing.T) {
	const ref = (31*365+8)*86400 + 36002
	for s, want := range map[string]float64{
		"2001-01-01T10:00:02.500000125+00:00": 0.500000125,
		"2001-01-01T10:00:02.500740250+00:00": 0.50074025,
		"2001-01-01 11:00:02+01:00":           0,
		"2001-01-01T04:30:02.25-0530":         0.25,
		"2000-12-31T10:00:02Z":                -86400,
		"2001-01-01T10:00:03,000000001Z":      1.000000001,
	} {
		i, ok := ParseCalendar([]byte(s))
		if got := i.Since(ref); !ok || got != want {
			t.Errorf("%q lies %v s after, %v; expected %v", s, got, ok, want)
		}
	}
	for _, s := range []string{"2001-13-01T10:00:02", "2001-01-01", "2001-01-01T10:00:02.", "2001-01-01T10:00:02+1", "2001-01-01T10:00:02.5X"} {
		if _, ok := ParseCalendar([]byte(s)); ok {
			t.Errorf("%q is read as a time", s)
		}
	}
}

func TestGrouped(t *testing.T) {
	for s, want := range map[string]bool{"1 234": true, "12'345.6": true, "1,234,567": true, "-1,234.5": true, "1.234.567": true, "+999 999": true, "1\u2009234": true, "0.001 25": true, "\u22121\u2019234,5": true,
		"": false, "1": false, "1234": false, "1.5": false, "12 34": false, "1,2345": false, "1234,567": false, "1,234.5.6": false, "1,,234": false, ",123": false, "a 123": false, "1 23x": false} {
		if got := Grouped([]byte(s), '.') || Grouped([]byte(s), ','); got != want {
			t.Errorf("%q: %v", s, got)
		}
	}
	for s, want := range map[string]float64{"1 234": 1234, "12'345.6": 12345.6, "-1,234.5": -1234.5, "1,000": 1000, "0.001 25": 0.00125, "\u22121\u2019234.5": -1234.5} {
		if got, ok := Float([]byte(s), '.', 0); got != want || !ok {
			t.Errorf("%q is read as %g, %v", s, got, ok)
		}
	}
}
