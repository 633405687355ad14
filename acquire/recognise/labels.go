package recognise

import (
	"bytes"
	"regexp"
	"slices"
	"strings"

	"offbeat/acquire/internal/scan"
)

// Labels is the pattern of lines that name each value they hold, such as "t_on 8700 us, t_off 4300 us" or an object of names and
// numbers on each line: the words that stand in every line, and where the values do.
type Labels struct {
	Names, Units []string // of the values
	TimeUnit     string   // said beside them, as in "unit ms" or in a list of names with "t_ms" in it; empty: not
	pattern      []labelToken
}

// labelToken is a number, or a word, which is a value where it is a state that differs from line to line.
type labelToken struct {
	text  string
	value bool
}

// labelTokens finds numbers, times of day and words; a number does not begin within a word, nor with the dash between two.
var labelTokens = regexp.MustCompile(`\d\d?:\d\d:\d\d(?:[.,]\d+)?|[\pL_%\x{b5}][\pL\d_%]*|(?:\B[-+])?(?:\d+(?:[.,]\d+)?|\.\d+)(?:[eE][-+]?\d+)?`)

const (
	labelLines = 200 // lines that are looked at
	labelMost  = 24  // tokens of a line
)

func tokensOf(line []byte) []labelToken {
	var all []labelToken
	for _, at := range labelTokens.FindAllIndex(line, labelMost+1) {
		t := string(line[at[0]:at[1]])
		all = append(all, labelToken{t, strings.IndexByte("0123456789.+-", t[0]) >= 0})
	}
	return all
}

// FindLabels finds the pattern that a third or more of the first lines have; nil if there is none.
func FindLabels(headOf []byte, whole bool) *Labels {
	kinds := map[string][][]labelToken{}
	most, lines := "", 0
	all := splitLines(headOf, whole)
	for _, l := range all[:min(labelLines, len(all))] {
		if len(bytes.TrimSpace(l)) == 0 {
			continue
		}
		lines++
		tokens := tokensOf(l)
		if len(tokens) > labelMost {
			continue
		}
		kind := ""
		for _, t := range tokens {
			if t.value {
				kind += "v"
			} else {
				kind += "w"
			}
		}
		if kinds[kind] = append(kinds[kind], tokens); len(kinds[kind]) > len(kinds[most]) {
			most = kind
		}
	}
	if same := kinds[most]; len(same) >= 3 && len(same)*3 >= lines && strings.Contains(most, "v") && strings.Contains(most, "w") {
		return newLabels(same)
	}
	return nil
}

// newLabels draws up the pattern of lines that have as many tokens of the same kinds; nil if a word differs that is no state, or if
// there is one value alone.
func newLabels(lines [][]labelToken) *Labels {
	l := &Labels{pattern: slices.Clone(lines[0])}
	for _, line := range lines {
		for i, t := range line {
			if _, state := StateWord(t.text); !t.value && t.text != l.pattern[i].text {
				if _, before := StateWord(l.pattern[i].text); !state || !before && !l.pattern[i].value {
					return nil
				}
				l.pattern[i].value = true
			}
		}
	}
	name, unit := "", false
	for i, t := range l.pattern {
		switch {
		case t.value:
			l.Names, l.Units = append(l.Names, name), append(l.Units, "")
			name, unit = "", true
		case unit && isUnit(t.text) && !(i+1 < len(l.pattern) && l.pattern[i+1].value && len(t.text) == 1 && t.text != "s"):
			l.Units[len(l.Units)-1], unit = t.text, false
		default:
			name, unit = strings.TrimSpace(name+" "+t.text), false
		}
	}
	for i, n := range l.Names {
		if k, u := splitUnit(n); u != "" && l.Units[i] == "" {
			l.Names[i], l.Units[i] = k, u
		}
	}
	if len(l.Names) < 2 {
		return nil
	}
	for i, t := range l.pattern {
		name, u := splitUnit(t.text)
		if isTimeUnit(u) && isTimeName(name) {
			l.TimeUnit = u
		} else if i > 0 && isTimeUnit(t.text) && unitWords[plainName(l.pattern[i-1].text)] {
			l.TimeUnit = t.text
		}
	}
	return l
}

// Row puts the values of a line of the pattern into a row, with semicolons between them; another line is left as it is.
func (l *Labels) Row(dst, line []byte) []byte {
	from, k := len(dst), 0
	at := labelTokens.FindAllIndex(line, len(l.pattern)+1)
	for _, a := range at {
		if k == len(l.pattern) {
			return append(dst[:from], line...)
		}
		text, p := line[a[0]:a[1]], l.pattern[k]
		if !p.value && string(text) != p.text || p.value && !isValue(text) {
			return append(dst[:from], line...)
		}
		if k++; p.value {
			if len(dst) > from {
				dst = append(dst, ';')
			}
			dst = append(dst, text...)
		}
	}
	if k < len(l.pattern) {
		return append(dst[:from], line...)
	}
	return dst
}

func isValue(text []byte) bool {
	c := scan.Classify(text)
	return c == scan.Number || c == scan.Comma || c == scan.State || c == scan.Calendar
}
