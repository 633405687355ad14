package glossary

import (
	"strings"

	"offbeat/compare/cause"
)

// causes are what the back-solve compares, each in its own words.
var causes = causeTerms()

func causeTerms() []Term {
	var out []Term
	for _, c := range cause.All() {
		out = append(out, Term{Name: strings.ReplaceAll(c.Key, "_", " "), Also: c.Also, Text: c.Meaning, Source: c.Source, See: c.See})
	}
	return out
}
