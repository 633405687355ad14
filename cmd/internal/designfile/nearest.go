package designfile

import (
	"strings"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"
)

// Nearest returns the candidate that takes the fewest single-character edits to get from word, letter case
// left out of the count; "" where none is near (more than a third of the word's length, at least two).
func Nearest(word string, candidates []string) string {
	best, least := "", max(2, utf8.RuneCountInString(word)/3)+1
	for _, c := range candidates {
		if d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(c)); d < least && d < utf8.RuneCountInString(c) {
			best, least = c, d
		}
	}
	return best
}
