package designfile

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"
)

// Meant asks, after some words, whether the nearest candidate was meant; "" where none is near.
func Meant(before, word string, candidates []string) string {
	if n := Nearest(word, candidates); n != "" {
		return before + "did you mean " + n + "?"
	}
	return ""
}

// mostMeant is how many candidates are named that all begin with a word.
const mostMeant = 3

// Nearest returns the candidates that begin with the word, the shorter first, as "a or b", else the one that takes the fewest
// single-character edits to get from word, letter case left out of the count; "" where none is near (more than a third of the
// word's length, at least two).
func Nearest(word string, candidates []string) string {
	var begin []string
	for _, c := range candidates {
		if strings.HasPrefix(strings.ToLower(c), strings.ToLower(word)) && word != "" && c != word {
			begin = append(begin, c)
		}
	}
	if len(begin) > 0 {
		slices.SortStableFunc(begin, func(a, b string) int { return cmp.Compare(len(a), len(b)) })
		return strings.Join(begin[:min(mostMeant, len(begin))], " or ")
	}
	best, least := "", max(2, utf8.RuneCountInString(word)/3)+1
	for _, c := range candidates {
		if d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(c)); d < least && d < utf8.RuneCountInString(c) {
			best, least = c, d
		}
	}
	return best
}
