package scan

import "strings"

// Tokens cuts running text into durations, each with its sign and its unit, words and braces; what lies between is left
// out.
type Tokens struct{ text string }

// NewTokens cuts a text.
func NewTokens(text string) Tokens { return Tokens{text} }

// Next gives the next token; "" at the end.
func (t *Tokens) Next() string {
	for i := 0; i < len(t.text); i++ {
		n := 0
		switch c := t.text[i]; {
		case c == '{' || c == '}' || c == ';':
			n = 1
		case letter(c):
			for n = 1; i+n < len(t.text) && letter(t.text[i+n]); n++ {
			}
		default:
			n = durationOf(t.text[i:])
		}
		if n > 0 {
			tok := t.text[i : i+n]
			t.text = t.text[i+n:]
			return tok
		}
	}
	t.text = ""
	return ""
}

func letter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' || c == '_' }

// durationOf is the length of the number at the start of s, with its sign, its exponent and, behind blanks, its unit; 0 if
// there is none.
func durationOf(s string) int {
	i := 0
	if s[0] == '+' || s[0] == '-' {
		i++
	}
	whole := digitsOf(s[i:])
	i += whole
	if i < len(s) && s[i] == '.' {
		fraction := digitsOf(s[i+1:])
		if whole+fraction == 0 {
			return 0
		}
		whole += 1 + fraction
		i += 1 + fraction
	}
	if whole == 0 {
		return 0
	}
	if i < len(s) && s[i]|0x20 == 'e' {
		k := i + 1
		if k < len(s) && (s[k] == '+' || s[k] == '-') {
			k++
		}
		if k < len(s) {
			if n := digitsOf(s[k:]); n > 0 {
				i = k + n
			}
		}
	}
	k := i
	for k < len(s) && strings.IndexByte(" \t\r\f\n", s[k]) >= 0 {
		k++
	}
	for _, unit := range []string{"s", "ms", "us", "ns", "µs", "μs", "min"} {
		if rest, ok := strings.CutPrefix(s[k:], unit); ok && (rest == "" || !letter(rest[0]) && rest[0]-'0' > 9) {
			return k + len(unit)
		}
	}
	return i
}

// digitsOf counts the digits at the start of s.
func digitsOf(s string) int {
	n := 0
	for n < len(s) && s[n]-'0' <= 9 {
		n++
	}
	return n
}
