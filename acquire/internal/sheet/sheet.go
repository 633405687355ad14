// Package sheet opens the small structured tables: manifests and stock lists, as a spreadsheet writes them.
package sheet

import (
	"bytes"
	"encoding/csv"
	"io"
	"strings"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// Decode reads at most one byte more than largest, undoes UTF-16 and byte-order marks, and line ends with a CR.
func Decode(r io.Reader, largest int64) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(transform.NewReader(r, unicode.BOMOverride(unicode.UTF8.NewDecoder())), largest+1))
	if bytes.IndexByte(text, '\r') >= 0 {
		text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
		text = bytes.ReplaceAll(text, []byte("\r"), []byte("\n"))
	}
	return text, err
}

// Reader reads the text's rows. The delimiter is what its header has most of: comma, semicolon or tab; lines that
// begin with # are comments.
func Reader(text []byte) *csv.Reader {
	r := csv.NewReader(bytes.NewReader(text))
	r.Comma = delimiter(text)
	r.Comment = '#'
	r.TrimLeadingSpace = r.Comma != '\t'
	return r
}

// Names are the names of a header, whatever their case and the blanks round them.
func Names(header []string) []string {
	out := make([]string, len(header))
	for i, n := range header {
		out[i] = strings.ToLower(strings.TrimSpace(n))
	}
	return out
}

func delimiter(text []byte) rune {
	best, most := ',', 0
	for line := range bytes.Lines(text) {
		if len(bytes.TrimSpace(line)) == 0 || line[0] == '#' {
			continue
		}
		for _, d := range ",;\t" {
			if n := bytes.Count(line, []byte(string(d))); n > most {
				best, most = d, n
			}
		}
		break
	}
	return best
}
