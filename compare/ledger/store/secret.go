package store

import (
	"net/url"
	"regexp"
)

// secret is a password where it stands: in an address after the user's name, up to the last @ of the word or, where one was
// forgotten, up to the path; in settings after a word that says so, to the next blank or the closing quote.
var secret = regexp.MustCompile(`(?i)\w:(?:/{1,3}[^\s:/@]*:(?:(\S+)@|([^\s/?@]*[^\s/?@\d][^\s/?@]*))|[^\s:/@]+:(\S+)@)` + // digits alone are a port
	`|(?:pass|pwd|secret)\w*\s*=\s*(?:'((?:[^'\\]|\\.)*)'?|"([^"]*)"?|([^\s&;'"]+))`)

// Secrets are the passwords in a text, as they stand there and as they are meant.
func Secrets(text string) (out []string) {
	for _, m := range secret.FindAllStringSubmatchIndex(text, -1) {
		for i := 2; i < len(m); i += 2 {
			if m[i] < m[i+1] {
				out = append(out, text[m[i]:m[i+1]])
				if meant, err := url.PathUnescape(out[len(out)-1]); err == nil {
					out = append(out, meant)
				}
			}
		}
	}
	return out
}

// Shown is a text, such as a ledger's name, for a message: without its passwords.
func Shown(text string) string {
	out, from := "", 0
	for _, m := range secret.FindAllStringSubmatchIndex(text, -1) {
		for i := 2; i < len(m); i += 2 {
			if m[i] >= 0 {
				out, from = out+text[from:m[i]]+"xxxxx", m[i+1]
			}
		}
	}
	return out + text[from:]
}
