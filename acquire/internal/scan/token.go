package scan

import (
	"bytes"
	"iter"
	"math"
	"strings"
)

// Tokens cuts running text into durations, each with its sign and its unit, words and braces; what lies between is left
// out.
func Tokens(text string) iter.Seq[string] {
	return func(yield func(string) bool) {
		for i := 0; i < len(text); {
			n := 0
			switch c := text[i]; {
			case c == '{' || c == '}' || c == ';':
				n = 1
			case letter(c):
				for n = 1; i+n < len(text) && letter(text[i+n]); n++ {
				}
			default:
				n = durationOf(text[i:])
			}
			if n > 0 && !yield(text[i:i+n]) {
				return
			}
			i += max(n, 1)
		}
	}
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

// word tests eight bytes: a byte that is xor'ed with its literal and added to its slack must not reach 0x80.
type word struct{ literal, slack, top uint64 }

// miss is not zero if the bytes of w are not as they must be.
func (p *word) miss(w uint64) uint64 {
	w ^= p.literal
	return (w | (w + p.slack)) & p.top
}

// The slack of a byte by what may stand there.
const (
	literalSlack = 0x7f // nothing else
	digitSlack   = 0x76 // '0' to '9', against '0'
	signSlack    = 0x79 // '+' to '1', against '+', of which the scale table takes '+' and '-' alone
)

// set says what byte i of a row of words must be.
func set(words []word, i uint, literal, slack byte) {
	shift := i % 8 * 8
	p := &words[i/8]
	p.literal |= uint64(literal) << shift
	p.slack |= uint64(slack) << shift
	p.top |= 0x80 << shift
}

// An exponent's code is made of its last digit, the one before being 0, and of its sign's last three bits.
const (
	expCodes  = 128
	plusCode  = '+' & 7
	minusCode = '-' & 7
)

// noExponent is the code of e+00.
const noExponent = plusCode

// expCode is for an exponent from its sign on.
func expCode(w uint64) uint64 { return w>>13&0x78 | w&7 }

// newScale tells what an exponent's code does to digits of the given power; NaN refuses a code that is no
// exponent or needs care.
func newScale(power int) *[expCodes]scale {
	t := new([expCodes]scale)
	for i := range t {
		e := i >> 3
		ok := e <= 9
		switch i & 7 {
		case minusCode:
			e = -e
		case plusCode:
		default:
			ok = false
		}
		e += power + exactPower
		if ok && 0 <= e && e < len(scales) {
			t[i] = scales[e]
		} else {
			t[i] = scale{math.NaN(), 1}
		}
	}
	return t
}

// Words cuts text at white space, which is all that parts the words of a value change dump (IEEE 1364-2005, 18.2).
type Words struct{ text []byte }

// NewWords cuts a text.
func NewWords(text []byte) Words { return Words{text} }

// Next gives the next word; nil at the end.
func (w *Words) Next() []byte {
	i := 0
	for i < len(w.text) && w.text[i] <= ' ' {
		i++
	}
	from := i
	for i < len(w.text) && w.text[i] > ' ' {
		i++
	}
	word := w.text[from:i]
	w.text = w.text[i:]
	if len(word) == 0 {
		return nil
	}
	return word
}

// DumpSections are the sections of a value change dump whose words are changes, and those whose words are not.
var (
	DumpChanges  = map[string]bool{"$dumpvars": true, "$dumpall": true, "$dumpoff": true, "$dumpon": true}
	DumpSections = map[string]bool{"$comment": true, "$date": true, "$version": true, "$timescale": true, "$timezero": true, "$scope": true, "$upscope": true, "$var": true, "$enddefinitions": true}
)

// Section collects the words of a section that is no change, over as many lines as it takes.
type Section struct {
	Name  string // "$var"; empty: outside of all
	words [][]byte
}

// sectionWords is how many words of a section are kept: a variable has six at most, blanks in its range apart.
const sectionWords = 16

// Take takes the next word. done says that the section has ended, with its words; mine says that the word was the
// section's.
func (s *Section) Take(word []byte) (words [][]byte, done, mine bool) {
	name := string(word)
	switch {
	case s.Name == "" && word[0] == '$' && name != "$end" && !DumpChanges[name]:
		s.Name, s.words = name, s.words[:0]
		return nil, false, true
	case s.Name == "":
		return nil, false, false
	case name == "$end":
		return s.words, true, true
	case !DumpSections[s.Name] && (DumpSections[name] || DumpChanges[name]): // an unknown one that never ends
		s.Name = ""
		return s.Take(word)
	}
	if len(s.words) < sectionWords {
		s.words = append(s.words, bytes.Clone(word))
	}
	return nil, false, true
}

// Leave is called when what Take has ended has been dealt with.
func (s *Section) Leave() { s.Name = "" }

// DumpState is the level that the letter of a state stands for: 0, 1 or NaN; ok is false where it stands for none. Beside
// the four states of the standard, those of nine-state logic are known.
func DumpState(c byte) (v float64, ok bool) {
	switch c {
	case '0', 'L':
		return 0, true
	case '1', 'H':
		return 1, true
	case 'x', 'X', 'z', 'Z', 'U', 'W', '-':
		return math.NaN(), true
	}
	return 0, false
}
