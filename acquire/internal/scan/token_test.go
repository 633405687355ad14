package scan

import (
	"math/rand/v2"
	"regexp"
	"slices"
	"testing"
)

// pulseToken says what a token is: it defines what Tokens must find.
var pulseToken = regexp.MustCompile(`[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?(?:\s*(?:[mnuµμ]?s\b))?|[A-Za-z_]+|[{};]`)

func TestTokens(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	parts := []string{"1", "20", ".", "-", "+", "e", "E", "s", "ms", "us", "µs", "μ", "H", "MARK", " ", "\t", "{", "}", ";", ",", "_", "x", "0", "é"}
	for range 200_000 {
		s := ""
		for range 1 + r.IntN(9) {
			s += parts[r.IntN(len(parts))]
		}
		got := slices.Collect(Tokens(s))
		if want := pulseToken.FindAllString(s, -1); !slices.Equal(got, want) {
			t.Fatalf("%q: %q, expected %q", s, got, want)
		}
	}
}
