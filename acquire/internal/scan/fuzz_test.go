package scan

import (
	"strings"
	"testing"
)

// FuzzFloat: whatever is read as a number is the number that strconv.ParseFloat reads, to the last bit.
func FuzzFloat(f *testing.F) {
	for _, s := range []string{"0", "-1.0000000e+01", "4.899902e+00", "9007199254740993", "1e22", "1e23", "0.", ".5", "-4.2e-001", "1e400", "17976931348623157e292", "4.9e-324", "123456789012345678901234567890"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) { checkFloat(t, s) })
}

// FuzzParse: the fast readers make of any text what the careful one makes of it.
func FuzzParse(f *testing.F) {
	f.Add("0.1,1.5\n0.2,1.5\n0.3,-1.5\n", byte(0))
	f.Add("-9.9999998e+01,4.899902e+00\n-9.9999996e+01,-4.899902e-02\n-9.9999994e+01,4.899902e*00\n", byte(0))
	f.Add("1;2,5;3\r\n1;3,5e-3;4;\r\n", byte(2))
	f.Add("61\n-44\nX\n", byte(4))
	f.Add(ramp("%.7e,4.9\n", -50, 2e-6, 8), byte(0))
	f.Add(ramp("%.0f,1\n", 990, 3, 12), byte(0))
	f.Fuzz(func(t *testing.T, s string, which byte) {
		if len(s) == 0 || strings.IndexByte(s, 0) >= 0 {
			t.Skip()
		}
		if s[len(s)-1] != '\n' {
			s += "\n"
		}
		l := layouts[int(which)%len(layouts)]
		if diff := same(&l, carefully(&l, s), parse(&l, s)); diff != "" {
			t.Fatalf("careful and fast differ, %s", diff)
		}
	})
}
