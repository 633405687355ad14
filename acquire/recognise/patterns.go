package recognise

import (
	"bytes"
	"regexp"
	"strings"

	"offbeat/acquire/internal/scan"
)

var (
	// ChangeLine: "@37 00 -> 01 D0", "S=37 00 -> 01": sample number, states before and after, one character a line, D0 last.
	ChangeLine = regexp.MustCompile(`^\s*(?:@|[Ss]\s*=\s*)(\d+)\s+([01xXzZ]+)\s*->\s*([01xXzZ]+)\b`)
	// StampedLine: a time of day, an arrow or a colon, and what was said.
	StampedLine = regexp.MustCompile(`^\s*\[?\d{1,2}:\d\d:\d\d(?:[.,]\d+)?\]?\s*(?:->|>|:)?\s*(.*)$`)
	// CounterLine: a counter and a level.
	CounterLine = regexp.MustCompile(`^(\d+)\s*[,;\t ]\s*(-?\d+(?:\.\d+)?)\s*$`)
	// rateWords: a rate in running text, or alone on a line.
	rateWords = regexp.MustCompile(`(?i)(?:(?:rate|sampl\w*|freq\w*|clock)[^\d\n]{0,24}|^[#;/>\s]*)\b([\d.]+)\s*([kMG]?)(?:Hz|Sa/s|S/s|sps|samples\s*(?:/|per)\s*s(?:ec(?:ond)?)?)\b`)
)

// mayStateRate is a quick look for the units of rateWords.
func mayStateRate(text string) bool {
	low := strings.ToLower(text)
	return strings.Contains(low, "hz") || strings.Contains(low, "s/s") || strings.Contains(low, "sa/s") || strings.Contains(low, "sps")
}

// BeginsChange reports whether a line begins as a ChangeLine does, though it may be none.
func BeginsChange(line []byte) bool {
	line = bytes.TrimSpace(line)
	return len(line) > 0 && (line[0] == '@' || len(line) > 1 && line[0]|0x20 == 's' && line[1] == '=')
}

var (
	// listHead is what stands before a list: a name, its length in brackets, an equals sign or a colon.
	listHead = regexp.MustCompile(`[A-Za-z_]\w*\s*\[\s*(\d*)\s*\]\s*[=:]\s*\{?`)
)

// FindList finds the head of a list: where it stands, and its stated length.
func FindList(s string) []int {
	if strings.IndexByte(s, '[') < 0 {
		return nil // the pattern is slow
	}
	return listHead.FindStringSubmatchIndex(s)
}

// StateWord reads a word for a state; the single letters of unknown states are none.
func StateWord(s string) (float64, bool) {
	class, v, ok := scan.Mark([]byte(s))
	return v, ok && class == scan.State
}
