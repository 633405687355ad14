package scan

import (
	"bytes"
	"math"
)

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
