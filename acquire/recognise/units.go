package recognise

import (
	"bytes"
	"math"
	"regexp"
	"strings"

	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// levelUnits gives the base unit of a level and the power of ten that leads to it; \xb5 is µ in an old code page.
var levelUnits = map[string]struct {
	base  string
	shift int
}{
	"V": {"V", 0}, "v": {"V", 0}, "Volt": {"V", 0}, "volt": {"V", 0}, "Volts": {"V", 0}, "volts": {"V", 0}, "VOLT": {"V", 0}, "VOLTS": {"V", 0},
	"mV": {"V", -3}, "mv": {"V", -3}, "millivolt": {"V", -3}, "millivolts": {"V", -3},
	"uV": {"V", -6}, "µV": {"V", -6}, "μV": {"V", -6}, "\xb5V": {"V", -6}, "kV": {"V", 3},
	"A": {"A", 0}, "Amp": {"A", 0}, "Ampere": {"A", 0}, "mA": {"A", -3}, "uA": {"A", -6}, "µA": {"A", -6}, "μA": {"A", -6}, "\xb5A": {"A", -6},
}

// otherUnits are units a header may show that are neither a time nor a level.
var otherUnits = map[string]bool{"Hz": true, "kHz": true, "dB": true, "dBV": true, "°C": true, "degC": true, "%": true, "Unknown": true, "unknown": true, "V/s": true}

// countUnits are words for a converter's counts.
var countUnits = words("count", "counts", "code", "codes", "lsb", "lsbs", "digit", "digits", "steps")

// unitOf takes the brackets off a cell that may be a unit.
func unitOf(cell string) string {
	cell = strings.TrimSpace(cell)
	if n := len(cell); n >= 2 && (cell[0] == '(' && cell[n-1] == ')' || cell[0] == '[' && cell[n-1] == ']') {
		cell = strings.TrimSpace(cell[1 : n-1])
	}
	return cell
}

func isTimeUnit(u string) bool {
	_, ok := timeunit.Named(u)
	return ok
}

// isFraction: a unit below the second; "S" may be a line that sets.
func isFraction(u string) bool {
	unit, ok := timeunit.Named(u)
	return ok && unit.Power < 0
}

func isUnit(cell string) bool {
	u := unitOf(cell)
	_, level := levelUnits[u]
	return isTimeUnit(u) || level || otherUnits[u] || countUnits[strings.ToLower(u)]
}

// plainUnits are those that a blank may part from a name: a single letter could belong to it.
var plainUnits = words("mV", "uV", "µV", "μV", "kV", "Volt", "Volts", "volt", "volts")

// splitUnit parts a header cell into name and unit: "Channel 1 (V)", "C1 in V", "CH1[V]", "time_s".
// unit is empty when the cell shows none.
func splitUnit(cell string) (name, unit string) {
	cell = strings.TrimSpace(cell)
	if n := len(cell); n > 2 && (cell[n-1] == ')' || cell[n-1] == ']') {
		open := "(["[strings.IndexByte(")]", cell[n-1])]
		if i := strings.LastIndexByte(cell, open); i >= 0 {
			if u := strings.TrimSpace(cell[i+1 : n-1]); unitFor(cell[:i], u) {
				return strings.TrimSpace(cell[:i]), u
			}
		}
	}
	if u, ok := strings.CutPrefix(cell, "in "); ok && isUnit(u) {
		return "", strings.TrimSpace(u)
	}
	if i := strings.LastIndexByte(cell, ' '); i > 0 {
		if u := cell[i+1:]; plainUnits[u] || isTimeUnit(u) && namesTimes(cell[:i]) {
			return strings.TrimSpace(cell[:i]), u
		}
	}
	for _, sep := range []string{" in ", "_", " / ", "/"} {
		i := strings.LastIndex(cell, sep)
		if i <= 0 {
			continue
		}
		if u := cell[i+len(sep):]; unitFor(cell[:i], u) {
			return strings.TrimSpace(cell[:i]), u
		}
	}
	return cell, ""
}

// namesTimes reports whether a column's name is one of a time, of a difference or of a state that lasts.
func namesTimes(name string) bool {
	_, state := StateWord(plainName(name))
	return state || isTimeName(name) || deltaNames[plainName(name)]
}

// unitFor reports whether a word is the unit of what a name stands for: "min" and "h" are one of a time alone, since "min"
// is the lowest of levels, too.
func unitFor(name, word string) bool {
	if u, ok := timeunit.Named(word); ok && u.Times > 1 {
		return strings.TrimSpace(name) == "" || isTimeName(name) || deltaNames[plainName(name)]
	}
	return isUnit(word)
}

// strangeUnit is what stands in brackets at the end of a header cell, short enough for a unit, and is none we know.
func strangeUnit(cell string) string {
	for _, b := range []string{"()", "[]"} {
		if i := strings.LastIndexByte(cell, b[0]); i > 0 && strings.HasSuffix(cell, b[1:]) {
			if u := strings.TrimSpace(cell[i+1 : len(cell)-1]); 0 < len(u) && len(u) <= 4 && !isUnit(u) {
				return u
			}
		}
	}
	return ""
}

// What a column's name says about it.
var (
	timeNames     = words("t", "time", "times", "timestamp", "time stamp", "x-axis", "x axis", "x", "elapsed", "elapsed time", "abstime", "reltime", "sec", "second", "seconds", "s", "ms", "us", "ns", "start", "start time", "end", "end time", "stop", "zeit", "temps", "tiempo", "tempo", "tijd")
	indexNames    = words("n", "no", "nr", "i", "idx", "index", "sample", "samples", "count", "point", "points", "row", "number", "sample number", "sample index", "data point")
	deltaNames    = words("delta", "delta t", "dt", "delta time", "difference", "diff", "time difference", "interval", "duration", "length", "width", "pulse width")
	tickNames     = words("tick", "ticks", "timer ticks", "clock ticks", "cycles", "clock cycles", "timer counts")
	durationWords = words("t", "time", "times", "duration", "width", "pulse", "length")
	endNames      = words("end", "end time", "stop", "stop time")
	channelNames  = words("channel", "chan", "ch", "channel number")
	startNames    = words("start", "t0", "x0", "tstart", "origin", "first")
	stepNames     = words("dt", "dx", "step", "ts", "tick", "period")
	rateNames     = words("rate", "sample rate", "sampling rate", "fs", "frequency")
)

func words(w ...string) map[string]bool {
	m := map[string]bool{}
	for _, x := range w {
		m[x] = true
	}
	return m
}

var separators = strings.NewReplacer("_", " ", ".", " ")

// plainName lower-cases a name and makes its separators blanks.
func plainName(name string) string {
	return strings.Trim(strings.ToLower(separators.Replace(name)), " #:\"")
}

func isTimeName(name string) bool {
	n := plainName(name)
	return timeNames[n] || strings.HasPrefix(n, "time ") || strings.HasPrefix(n, "time[") || strings.HasPrefix(n, "time(")
}

func isIndexName(name string) bool {
	return indexNames[plainName(name)] || strings.TrimSpace(name) == "#"
}

// powerOfThousand: 1e3, 1e-6 and so on, to one percent.
func powerOfThousand(ratio float64) bool {
	k := math.Log10(ratio) / 3
	return math.Abs(k) > 0.5 && math.Abs(k-math.Round(k)) < 0.0015
}

var nan = math.NaN()

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

// listHead is what stands before a list: a name, its length in brackets, an equals sign or a colon.
var listHead = regexp.MustCompile(`[A-Za-z_]\w*\s*\[\s*(\d*)\s*\]\s*[=:]\s*\{?`)

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
