package designfile

import (
	"math"
	"strings"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"
)

// Nearest returns the shortest candidate that begins with the word, else the one that takes the fewest single-character edits to get from word, letter case
// left out of the count; "" where none is near (more than a third of the word's length, at least two).
func Nearest(word string, candidates []string) string {
	best, least := "", math.MaxInt
	for _, c := range candidates {
		if strings.HasPrefix(strings.ToLower(c), strings.ToLower(word)) && word != "" && len(c) < least && c != word {
			best, least = c, len(c)
		}
	}
	if best != "" {
		return best
	}
	least = max(2, utf8.RuneCountInString(word)/3) + 1
	for _, c := range candidates {
		if d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(c)); d < least && d < utf8.RuneCountInString(c) {
			best, least = c, d
		}
	}
	return best
}
