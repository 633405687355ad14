package recognise

import (
	"bytes"
	"regexp"
	"strconv"
)

// levelCell is a cell that holds a level and its unit: "0.1092 V", "120mV", or a mark in its place. U+FFFD is what µ of an old code page is matched as.
var levelCell = regexp.MustCompile(`(^|[\s,;|"])([-+]?\d+(?:[.,]\d+)?|(?i:nan|---|[-+]?ol|[-+]?inf)|[-+]?∞)(?:[eE]([-+]?\d{1,3}))?( ?(?:[mukµμ\x{fffd}]?[Vv]|[mu]A))([\s,;|"]|$)`)

// levelLines is how many of the last lines of a head are looked at for levels with their unit.
const levelLines = 50

// LevelUnits gives the base unit of the levels that have one in their cells, in most lines; empty if they have none.
func LevelUnits(headOf []byte, whole bool) (base string) {
	lines := splitLines(headOf, whole)
	lines = lines[max(0, len(lines)-levelLines):]
	units := map[string]int{}
	for _, l := range lines {
		if !bytes.ContainsAny(l, "VvA") { // in most files no line has any
			continue
		}
		if at := levelCell.FindSubmatch(l); at != nil {
			units[levelUnits[string(bytes.TrimSpace(at[4]))].base]++
		}
	}
	for unit, n := range units {
		if n >= 3 && 2*n > len(lines) {
			base = unit
		}
	}
	return base
}

// BareLevels writes a line with each level as a plain number in its base unit.
func BareLevels(dst, line []byte) []byte {
	for {
		at := levelCell.FindSubmatchIndex(line)
		if at == nil {
			return append(dst, line...)
		}
		unit := levelUnits[string(bytes.TrimSpace(line[at[8]:at[9]]))]
		power := 0
		if at[6] >= 0 {
			power, _ = strconv.Atoi(string(line[at[6]:at[7]]))
		}
		if dst = append(dst, line[:at[5]]...); power+unit.shift != 0 && dst[len(dst)-1]-'0' <= 9 {
			dst = strconv.AppendInt(append(dst, 'e'), int64(power+unit.shift), 10)
		}
		line = line[at[9]:]
	}
}
