package acquire

import "strings"

// timeUnits gives the power of ten that turns a unit into seconds.
var timeUnits = map[string]int{
	"s": 0, "sec": 0, "secs": 0, "second": 0, "seconds": 0, "Second": 0, "Seconds": 0, "S": 0, "Sec": 0,
	"ms": -3, "msec": -3, "millisecond": -3, "milliseconds": -3,
	"us": -6, "µs": -6, "μs": -6, "usec": -6, "microsecond": -6, "microseconds": -6,
	"ns": -9, "nsec": -9, "nanosecond": -9, "nanoseconds": -9,
	"ps": -12, "picosecond": -12, "picoseconds": -12,
}

// levelUnits gives the base unit of a level and the power of ten that leads to it.
var levelUnits = map[string]struct {
	base  string
	shift int
}{
	"V": {"V", 0}, "v": {"V", 0}, "Volt": {"V", 0}, "volt": {"V", 0}, "Volts": {"V", 0}, "volts": {"V", 0}, "VOLT": {"V", 0}, "VOLTS": {"V", 0},
	"mV": {"V", -3}, "mv": {"V", -3}, "millivolt": {"V", -3}, "millivolts": {"V", -3},
	"uV": {"V", -6}, "µV": {"V", -6}, "μV": {"V", -6}, "kV": {"V", 3},
	"A": {"A", 0}, "Amp": {"A", 0}, "Ampere": {"A", 0}, "mA": {"A", -3}, "uA": {"A", -6}, "µA": {"A", -6}, "μA": {"A", -6},
}

// otherUnits are units a header may show that are neither a time nor a level.
var otherUnits = map[string]bool{"count": true, "counts": true, "n": true, "Hz": true, "dB": true, "dBV": true, "°C": true, "C": true, "deg": true, "%": true, "Unknown": true, "unknown": true}

// unitOf takes the brackets off a cell that may be a unit.
func unitOf(cell string) string {
	cell = strings.TrimSpace(cell)
	if n := len(cell); n >= 2 && (cell[0] == '(' && cell[n-1] == ')' || cell[0] == '[' && cell[n-1] == ']') {
		cell = strings.TrimSpace(cell[1 : n-1])
	}
	return cell
}

func isUnit(cell string) bool {
	u := unitOf(cell)
	_, t := timeUnits[u]
	_, l := levelUnits[u]
	return t || l || otherUnits[u]
}

// splitUnit parts a header cell into name and unit: "Channel 1 (V)", "C1 in V", "CH1[V]", "time_s".
// unit is empty when the cell shows none.
func splitUnit(cell string) (name, unit string) {
	cell = strings.TrimSpace(cell)
	for _, b := range []string{"()", "[]"} {
		if i := strings.LastIndexByte(cell, b[0]); i >= 0 && strings.HasSuffix(cell, b[1:]) {
			if u := strings.TrimSpace(cell[i+1 : len(cell)-1]); isUnit(u) || i > 0 {
				return strings.TrimSpace(cell[:i]), u
			}
		}
	}
	for _, sep := range []string{" in ", "in ", "_", " / ", "/"} {
		i := strings.LastIndex(cell, sep)
		if i < 0 || sep == "in " && i > 0 {
			continue
		}
		if u := cell[i+len(sep):]; isUnit(u) && !otherUnits[u] {
			return strings.TrimSpace(cell[:i]), u
		}
	}
	return cell, ""
}

// isTimeName reports whether a header cell names a time axis.
func isTimeName(name string) bool {
	switch strings.ToLower(strings.Trim(name, " #:")) {
	case "t", "time", "times", "timestamp", "time stamp", "x-axis", "x axis", "x", "elapsed", "elapsed time", "abstime", "reltime", "sec", "second", "seconds", "s", "ms", "us", "ns":
		return true
	}
	l := strings.ToLower(name)
	return strings.HasPrefix(l, "time ") || strings.HasPrefix(l, "time_") || strings.HasPrefix(l, "time(") || strings.HasPrefix(l, "time[")
}

// isIndexName reports whether a header cell names a row counter.
func isIndexName(name string) bool {
	switch strings.ToLower(strings.Trim(name, " #:.")) {
	case "", "n", "no", "nr", "i", "idx", "index", "sample", "samples", "count", "point", "points", "row", "number", "sample number", "sample index":
		return true
	}
	return false
}
