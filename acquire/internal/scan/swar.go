package scan

import "encoding/binary"

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
