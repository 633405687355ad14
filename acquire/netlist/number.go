package netlist

import (
	"strconv"
	"strings"
)

// suffixes are the factors of a number's letters, the longer first; MIL is a thousandth of an inch in metres.
var suffixes = []struct {
	letters string
	factor  string // as an exponent, or a number of its own
}{
	{"meg", "e6"}, {"mil", ""}, {"t", "e12"}, {"g", "e9"}, {"k", "e3"}, {"m", "e-3"}, {"u", "e-6"}, {"n", "e-9"}, {"p", "e-12"}, {"f", "e-15"}, {"a", "e-18"},
}

// Number reads a number of a netlist: "10k", "1MEG", "0.1uF", "1e-07"; letters behind the suffix are its unit and count for
// nothing. ok is false for what is no number, an expression in braces for one.
func Number(s string) (value float64, ok bool) {
	s = strings.ToLower(strings.NewReplacer("µ", "u", "μ", "u").Replace(strings.TrimSpace(s)))
	n := 0
	digits := false
	for n < len(s) {
		c := s[n]
		exponent := c == 'e' && digits && exponentFollows(s[n+1:])
		sign := (c == '+' || c == '-') && (n == 0 || s[n-1] == 'e')
		if !(c >= '0' && c <= '9' || c == '.' || exponent || sign) {
			break
		}
		digits = digits || c >= '0' && c <= '9'
		n++
	}
	if !digits {
		return 0, false
	}
	number, letters := s[:n], s[n:]
	for _, r := range letters {
		if r >= '0' && r <= '9' || r == '.' || r == '{' {
			return 0, false // "4k7" is no number of a netlist: some readers take 4k, some 4.7k
		}
	}
	for _, x := range suffixes {
		if !strings.HasPrefix(letters, x.letters) {
			continue
		}
		if x.letters == "mil" {
			v, err := strconv.ParseFloat(number, 64)
			return v * 25.4e-6, err == nil
		}
		if !strings.Contains(number, "e") {
			number += x.factor // one rounding: 0.1u is the float nearest to 1e-7
			break
		}
		v, err := strconv.ParseFloat(number, 64)
		f, _ := strconv.ParseFloat("1"+x.factor, 64)
		return v * f, err == nil
	}
	v, err := strconv.ParseFloat(number, 64)
	return v, err == nil
}

// exponentFollows says whether digits, perhaps with a sign, come next.
func exponentFollows(s string) bool {
	s = strings.TrimLeft(s[:min(1, len(s))], "+-") + s[min(1, len(s)):]
	return s != "" && s[0] >= '0' && s[0] <= '9'
}
