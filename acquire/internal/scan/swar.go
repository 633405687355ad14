package scan

import (
	"encoding/binary"
	"math/bits"
)

// Eight bytes at a time ("SIMD within a register"): a uint64 is eight lanes, the first byte of the text lowest.
const (
	zeros   = 0x3030303030303030 // '0' in each lane
	tops    = 0x8080808080808080 // top bit of each lane
	over9   = 0x7676767676767676 // added to a lane: the top bit shows if it was above 9
	loadPad = 128                // bytes that must be readable past a text's end
)

func load8(b []byte, i int) uint64 { return binary.LittleEndian.Uint64(b[i:]) }

// notDigits has a lane's top bit set unless the lane holds 0 to 9.
func notDigits(w uint64) uint64 { return (w | (w + over9)) & tops }

// eightDigits turns eight lanes of 0 to 9, the most significant first, into their number: neighbours are joined
// in pairs, and the four pairs weighed by two multiplications.
func eightDigits(w uint64) uint64 {
	w = w*10 + w>>8
	return ((w&0x000000ff000000ff)*(100+1000000<<32) + (w>>16&0x000000ff000000ff)*(1+10000<<32)) >> 32
}

// lowBits is the lowest bit of each lane.
const lowBits = 0x0101010101010101

// lanes8 holds a byte in each lane.
func lanes8(c byte) uint64 { return uint64(c) * lowBits }

// equals has a lane's top bit set where the lane holds the byte that pattern holds in each lane.
func equals(w, pattern uint64) uint64 {
	w ^= pattern
	return ^(w&^tops + ^uint64(tops) | w) & tops
}

// is gives 1 if c is the byte d, else 0, without a branch.
func is(c, d byte) uint { return (uint(c^d) - 1) >> (bits.UintSize - 1) }

// window is the text that a row is read from: longer than any row that a template takes, so that one test of its
// bounds serves the whole row.
type window = [loadPad]byte

// place masks the place of eight bytes within a window: a template's row, sign and all, ends before it matters.
const place = 63

// eight loads eight bytes from place i of a window.
func eight(b *window, i uint) uint64 { return binary.LittleEndian.Uint64(b[i&place:]) }
