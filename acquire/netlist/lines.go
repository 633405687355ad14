package netlist

import (
	"bytes"
	"encoding/binary"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// plain is the text of a netlist as UTF-8: UTF-16 by its mark, else Latin-1 where it is not UTF-8.
func plain(b []byte) string {
	for _, o := range []struct {
		mark  string
		order binary.ByteOrder
	}{{"\xff\xfe", binary.LittleEndian}, {"\xfe\xff", binary.BigEndian}} {
		if rest, ok := bytes.CutPrefix(b, []byte(o.mark)); ok {
			units := make([]uint16, len(rest)/2)
			for i := range units {
				units[i] = o.order.Uint16(rest[2*i:])
			}
			return string(utf16.Decode(units))
		}
	}
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	if utf8.Valid(b) {
		return string(b)
	}
	r := make([]rune, len(b))
	for i, c := range b {
		r[i] = rune(c)
	}
	return string(r)
}

// line is a card with the lines that continue it.
type line struct {
	text   string
	number int    // of its first line, from 1
	remark string // the comment line above it, if any
}

// join drops comments and blank lines and joins what "+" continues; the title is kept as it is.
func join(text string) []line {
	var out []line
	remark := ""
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	for i, s := range strings.Split(text, "\n") {
		if i == 0 {
			out = append(out, line{text: s, number: 1})
			continue
		}
		s, _, _ = strings.Cut(s, ";")
		if k := strings.Index(s, "$"); k == 0 || k > 0 && (s[k-1] == ' ' || s[k-1] == '\t') {
			s = s[:k]
		}
		trimmed := strings.TrimSpace(s)
		switch {
		case trimmed == "":
		case trimmed[0] == '*':
			remark = trimmed[1:]
		case trimmed[0] == '+' && len(out) > 1:
			out[len(out)-1].text += " " + trimmed[1:]
		default:
			out = append(out, line{s, i + 1, remark})
			remark = ""
		}
	}
	return out
}

// fields splits a card at blanks, commas and parentheses; "=" keeps its two sides in one field.
func fields(s string) []string {
	s = strings.NewReplacer(",", " ", "(", " ", ")", " ").Replace(s)
	var out []string
	for _, f := range strings.Fields(s) {
		switch last := len(out) - 1; {
		case last >= 0 && (f[0] == '=' || strings.HasSuffix(out[last], "=")):
			out[last] += f
		default:
			out = append(out, f)
		}
	}
	return out
}

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
