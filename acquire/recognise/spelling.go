package recognise

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"
)

// The spellings of states that are rewritten before the recogniser sees them: an edge as its sign, and several lines as one number in
// hexadecimal, behind the first cell of a line.
var (
	signCell = regexp.MustCompile(`(^|[\s,;|"])([-+])([\s,;|"]|$)`)
	loneSign = regexp.MustCompile(`\+[\s,;|"]`)
	hexCell  = regexp.MustCompile(`([\s,;|"])0[xX]([0-9A-Fa-f]{1,8})([\s,;|"]|$)`)
)

// Signs gives how the lines of a text are to be written so that its edges are states, and how they were spelt; nil if most lines have no
// sign alone, or all have the same.
func Signs(headOf []byte, whole bool) (write func(dst, line []byte) []byte, how string) {
	if !loneSign.Match(headOf) { // as in most files
		return nil, ""
	}
	lines := splitLines(headOf, whole)
	var signs [2]int
	for _, l := range lines {
		if at := signCell.FindAllSubmatchIndex(l, 2); len(at) == 1 && bytes.ContainsAny(l, "0123456789") {
			signs[map[byte]int{'-': 0, '+': 1}[l[at[0][4]]]]++
		}
	}
	if min(signs[0], signs[1])*3 < len(lines) || signs[0] < 2 {
		return nil, ""
	}
	return func(dst, line []byte) []byte { return spell(dst, line, signCell, signState) }, "plus and minus are edges, rising and falling"
}

// Hexadecimal is the same for lines whose states are the digits of a number.
func Hexadecimal(headOf []byte, whole bool) (write func(dst, line []byte) []byte, how string) {
	if !bytes.ContainsAny(headOf, "xX") {
		return nil, ""
	}
	lines := splitLines(headOf, whole)
	hex, width := 0, 8
	for _, l := range lines {
		all := hexCell.FindAllSubmatch(l, -1)
		for _, at := range all {
			for width < 4*len(at[2]) {
				width *= 2
			}
		}
		if len(all) > 0 {
			hex++
		}
	}
	if hex < 3 || hex*2 < len(lines) {
		return nil, ""
	}
	bits := func(dst, digits []byte) []byte {
		v, _ := strconv.ParseUint(string(digits), 16, 32)
		return fmt.Appendf(dst, "0b%0*b", width, v)
	}
	return func(dst, line []byte) []byte { return spell(dst, line, hexCell, bits) }, fmt.Sprintf("hexadecimal numbers are the states of %d lines", width)
}

func signState(dst, sign []byte) []byte {
	if sign[0] == '+' {
		return append(dst, '1')
	}
	return append(dst, '0')
}

// spell writes a line with each cell of a pattern, between the marks about it, spelt anew; a pattern's first group ends before the cell.
func spell(dst, line []byte, cell *regexp.Regexp, as func(dst, word []byte) []byte) []byte {
	for {
		at := cell.FindSubmatchIndex(line)
		if at == nil {
			return append(dst, line...)
		}
		dst = as(append(dst, line[:at[3]]...), line[at[4]:at[5]])
		line = line[at[5]:]
	}
}
