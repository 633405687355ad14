package cli

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// Where a password stands: in an address after the user's name, up to the last @ of the word or, where one was
// forgotten, up to the path; in settings after a word that says so, to the next blank or the closing quote.
var (
	inAddress = regexp.MustCompile(`\w:/{1,3}[^\s:/@]*:(?:(\S+)@|([^\s/?@]*[^\s/?@\d][^\s/?@]*))`) // digits alone are a port
	inSetting = regexp.MustCompile(`(?i)(?:pass|pwd|secret)\w*\s*=\s*(?:'((?:[^'\\]|\\.)*)'?|"([^"]*)"?|([^\s&;'"]+))`)
)

// hidden replaces the passwords of a command line wherever they stand in a text, and whatever a library has made of
// them: their words too, since one with a mark in it may have been cut there.
func hidden(args []string) *strings.Replacer {
	var words []string
	for _, a := range args {
		for _, m := range slices.Concat(inAddress.FindAllStringSubmatch(a, -1), inSetting.FindAllStringSubmatch(a, -1)) {
			for _, w := range m[1:] {
				words = append(words, w)
				words = append(words, strings.FieldsFunc(w, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })...)
			}
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
