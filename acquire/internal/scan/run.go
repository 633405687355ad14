package scan

import (
	"math/bits"
)

// run is a stretch of rows whose times count up by the same step in their last digits, as those of an even grid do.
// What each must read is foretold as text, and compared byte for byte: that finds a gap as surely as a conversion
// would, for less than half of the work. The times in between are filled in only if somebody asks, see Rows.Fill.
type run struct {
	left int // rows that can still be foretold before a digit left of the window changes; 0: no run

	size    uint      // bytes of the time, with its delimiter
	at      uint      // the window: eight bytes, the last digits of the time among them
	literal uint64    // xor'ed with the window it leaves digits in their lanes, and in the others what next has there
	lanes   uint64    // of the window, those of the time and its delimiter
	next    uint64    // what it must leave in the next row; the first byte is the highest lane, so that carries rise
	step    uint64    // added to next, plus carryUp in each lane
	pass    uint64    // 9 in the lane of the mark, so that a carry passes through it
	want    [3]uint64 // the time's bytes
	mask    [3]uint64 // of those outside of the window

	mantissa int64 // of the next row's time
	delta    int64
}

// carryUp makes a lane overflow when a digit's sum passes 9.
const carryUp = 0xf6f6f6f6f6f6f6f6

// after adds the step in decimal, digit by digit.
func (u *run) after(next uint64) uint64 {
	s := next + u.step
	return (s - (s>>7&lowBits)*0xf6) | u.pass // lanes that did not overflow give back what was added to make them
}

// foretold reports whether the text begins with the time that next foretells.
func (u *run) foretold(b *window, next uint64) bool {
	miss := (bits.ReverseBytes64(eight(b, u.at)^u.literal) ^ next) & u.lanes
	miss |= (eight(b, 0) ^ u.want[0]) & u.mask[0]
	if u.size > 8 {
		miss |= (eight(b, 8) ^ u.want[1]) & u.mask[1]
	}
	if u.size > 16 {
		miss |= (eight(b, 16) ^ u.want[2]) & u.mask[2]
	}
	return miss == 0
}
