package cli

import (
	"slices"
	"strings"
	"unicode"

	"offbeat/compare/ledger/store"
)

// hidden replaces the passwords of a command line wherever they stand in a text, and whatever a library has made of
// them: their words too, since one with a mark in it may have been cut there.
func hidden(args []string) *strings.Replacer {
	var words []string
	for _, a := range args {
		for _, w := range store.Secrets(a) {
			words = append(words, w)
			words = append(words, strings.FieldsFunc(w, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })...)
		}
	}
	slices.SortFunc(words, func(a, b string) int { return len(b) - len(a) })
	var pairs []string
	for _, w := range words {
		if len(w) > 2 { // two letters tell nothing, and are in every sentence
			pairs = append(pairs, w, "xxxxx")
		}
	}
	return strings.NewReplacer(pairs...)
}
