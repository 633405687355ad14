package acquire

import (
	"math"
	"strings"

	"offbeat/acquire/internal/scan"
)

var nan = math.NaN()

// meta is what the lines above a table state, each with the line that says so (counted from 0).
type meta struct {
	interval     float64 // s, 0: not stated
	intervalLine int
	length       int64
	start        float64
	hasStart     bool
	timeUnit     string
	levelUnit    string
	channel      string
}

// readMeta takes name and value pairs from the lines above the table.
func (h *head) readMeta() {
	for i := range h.first {
		if i == h.names || i == h.units {
			continue
		}
		l := &h.lines[i]
		if l.filled() < 2 {
			continue
		}
		h.meta.pair(i, string(l.cells[0]), string(l.cells[1]), h)
	}
}

// pair reads one name and its value.
func (m *meta) pair(line int, name, value string, h *head) {
	key := strings.ToLower(strings.Trim(name, " :#=\""))
	if i := strings.LastIndexByte(value, ':'); i >= 0 {
		value = value[i+1:]
	}
	number, shift, ok := valueUnit(value)
	switch {
	case has(key, "interval", "increment", "xresolution", "sampling period", "sample period", "time step", "timestep"):
		if ok && number > 0 && m.interval == 0 {
			m.interval, m.intervalLine = scaled(number, shift), line
			h.say("line %d states a sample interval of %g s", line+1, m.interval)
		}
	case has(key, "sample rate", "sampling rate", "samplerate", "sampling frequency", "sample frequency"):
		if ok && number > 0 && m.interval == 0 {
			m.interval, m.intervalLine = 1/scaled(number, shift), line
			h.say("line %d states a sample rate, an interval of %g s", line+1, m.interval)
		}
	case has(key, "record length", "memory length", "number of points", "sample count"):
		if ok {
			m.length = int64(number)
		}
	case has(key, "xoffset", "x offset", "start time", "horizontal start"):
		if ok {
			m.start, m.hasStart = scaled(number, shift), true
		}
	case has(key, "horizontal unit", "time unit", "x unit"):
		m.timeUnit = unitOf(value)
	case has(key, "vertical unit", "y unit"):
		m.levelUnit = unitOf(value)
	case key == "source" || key == "channel":
		m.channel = strings.TrimSpace(value)
	}
}

func has(key string, words ...string) bool {
	for _, w := range words {
		if strings.Contains(key, w) {
			return true
		}
	}
	return false
}

func scaled(v float64, shift int) float64 {
	if shift < 0 {
		return v / math.Pow10(-shift)
	}
	return v * math.Pow10(shift)
}

// valueUnit reads a number with an optional unit of time or frequency; shift is the unit's power of ten.
func valueUnit(s string) (v float64, shift int, ok bool) {
	s = strings.TrimSpace(s)
	if v, ok = scan.Float([]byte(s), '.', 0); ok {
		return v, 0, true
	}
	i := len(s)
	for i > 0 && (s[i-1] >= 0x80 || s[i-1]|0x20 >= 'a' && s[i-1]|0x20 <= 'z' || s[i-1] == '(' || s[i-1] == ')' || s[i-1] == '/') {
		i--
	}
	unit := strings.Trim(s[i:], "()")
	if v, ok = scan.Float([]byte(strings.TrimSpace(s[:i])), '.', 0); !ok {
		return 0, 0, false
	}
	if shift, ok = timeUnits[unit]; ok {
		return v, shift, true
	}
	shift, ok = rateUnits[strings.ToLower(unit)]
	return v, shift, ok
}

// rateUnits gives the power of ten that turns a sample rate into hertz, by the unit in lower case.
var rateUnits = map[string]int{"hz": 0, "khz": 3, "mhz": 6, "ghz": 9, "sa/s": 0, "ksa/s": 3, "msa/s": 6, "gsa/s": 9, "s/s": 0, "ks/s": 3, "ms/s": 6, "gs/s": 9}
