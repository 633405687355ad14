package designfile

import (
	"strings"
	"unicode/utf8"
)

// Nearest returns the candidate that takes the fewest single-character edits to get from word, letter case
// left out of the count; "" where none is near (more than a third of the word's length, at least two).
func Nearest(word string, candidates []string) string {
	best, least := "", max(2, utf8.RuneCountInString(word)/3)+1
	for _, c := range candidates {
		if d := edits(strings.ToLower(word), strings.ToLower(c)); d < least && d < utf8.RuneCountInString(c) {
			best, least = c, d
		}
	}
	return best
}

// edits is the Levenshtein distance of two words.
func edits(a, b string) int {
	x, y := []rune(a), []rune(b)
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := range x {
		diagonal := row[0]
		row[0] = i + 1
		for j := range y {
			cost := 1
			if x[i] == y[j] {
				cost = 0
			}
			diagonal, row[j+1] = row[j+1], min(row[j+1]+1, row[j]+1, diagonal+cost)
		}
	}
	return row[len(y)]
}
