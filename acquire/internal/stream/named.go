package stream

import (
	"bytes"
	"regexp"
	"strconv"
)

// Lines that name what they hold, each in words of the trade: how long each state lasted, or one of them
// and the period, or a time and a level.
var (
	namedDuration = labelled(`(?:t|time|pulse|width|duration)?[ _]?(high|hi|on|mark|low|lo|off|space|h|l)(?:[ _]?(?:time|width|pulse|duration))?`, `us|ms|ns|s`)
	namedPeriod   = labelled(`(?:t[ _]?)?(?:period|cycle|per)(?:[ _]?time)?`, `us|ms|ns|s`)
	namedTime     = labelled(`t|ts|time|timestamp|at|edge`, `us|ms|ns|s`)
	namedLevel    = regexp.MustCompile(`(?i)(?:^|[^a-z0-9])(?:level|state|pin|value|out|output|edge|dir)["']?[ \t]*[:=]?[ \t]*["']?(0|1|high|low|hi|lo|h|l|rising|falling|rise|fall)(?:$|[^a-z0-9.])`)
	namedEdge     = regexp.MustCompile(`(?i)^(rise|rising|fall|falling|high|low)(?:[ _]edge)?[,:]?[ \t]`)
	// spoilt: it holds what no board prints, behind which a number may be cut.
	spoilt = regexp.MustCompile(`[^\t -~µμ]`)
)

// labelled is the pattern of one of the names and its number, with one of the units behind either: the name's, the digits, the number's.
func labelled(names, units string) *regexp.Regexp {
	return regexp.MustCompile(`(?i)(?:^|[^a-z0-9])(?:` + names + `)(?:[ _]?\(?(` + units + `)\)?)?["']?[ \t]*[:=]?[ \t]*["']?(\d+(?:\.\d+)?)[ \t]*(` + units + `)?(?:$|[^a-z0-9.])`)
}

// named makes the plain lines, "H 8700us" or "1234us,1", of one that names its values; nil if it does not. A unit that stands behind
// the last of two durations alone is that of both.
func named(line []byte) [][]byte {
	if bytes.IndexAny(line, "0123456789") < 0 || spoilt.Match(line) {
		return nil
	}
	var parts, units, words [][]byte
	for rest := line; len(rest) > 0; {
		at := namedDuration.FindSubmatchIndex(rest)
		if at == nil {
			break
		}
		parts = append(parts, append(append(bytes.Clone(rest[at[2]:at[3]]), ' '), rest[at[6]:at[7]]...))
		units, words = append(units, unitAt(rest, at, 4, 8)), append(words, rest[at[2]:at[3]])
		rest = rest[at[7]:]
	}
	if len(parts) == 2 {
		a, _ := state(words[0])
		b, _ := state(words[1])
		if a == b {
			return nil // "high 8700 us, highest 8720 us"
		}
		if units[0] == nil {
			units[0] = units[1]
		}
		return [][]byte{append(parts[0], units[0]...), append(parts[1], units[1]...)}
	}
	if at := namedPeriod.FindSubmatchIndex(line); at != nil && len(parts) == 1 {
		return withRest(parts[0], units[0], line[at[4]:at[5]], unitAt(line, at, 2, 6))
	}
	t, v := namedTime.FindSubmatchIndex(line), namedLevel.FindSubmatch(line)
	if v == nil {
		v = namedEdge.FindSubmatch(line)
	}
	if t == nil || v == nil {
		return nil
	}
	return [][]byte{append(append(append(bytes.Clone(line[t[4]:t[5]]), unitAt(line, t, 2, 6)...), ','), v[1]...)}
}

// leavesRest reports whether a line that named takes says a high time and the period: the low time is what is left.
func leavesRest(line []byte) bool {
	all := namedDuration.FindAllSubmatch(line, 2)
	if len(all) != 1 || !namedPeriod.Match(line) {
		return false
	}
	high, _ := state(all[0][1])
	return high == 1
}

// withRest makes the plain lines of a half-cycle, "high 3951", and a period in the same unit: what is left is the other one.
func withRest(half, unit, period, unitOf []byte) [][]byte {
	word, digits, _ := bytes.Cut(half, []byte(" "))
	a, _, ok := parseNumber(digits)
	b, _, okToo := parseNumber(period)
	if unit == nil {
		unit = unitOf
	}
	other := []byte("L ")
	if s, _ := state(word); s == 0 {
		other = []byte("H ")
	}
	if !ok || !okToo || a.places != b.places || b.digits <= a.digits || unitOf != nil && !bytes.Equal(unit, unitOf) {
		return nil
	}
	rest := strconv.AppendFloat(other, b.minus(a), 'f', a.places, 64)
	return [][]byte{append(half, unit...), append(rest, unit...)}
}

// unitAt is what was found at the first of the places that was; nil: at none.
func unitAt(line []byte, at []int, places ...int) []byte {
	for _, k := range places {
		if at[k] >= 0 {
			return bytes.ToLower(line[at[k]:at[k+1]])
		}
	}
	return nil
}
