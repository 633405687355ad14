package scan

import (
	"encoding/binary"
	"math"
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

// lowBits is the lowest bit of each lane.
const lowBits = 0x0101010101010101

// after adds the step in decimal, digit by digit.
func (u *run) after(next uint64) uint64 {
	s := next + u.step
	return (s - (s>>7&lowBits)*0xf6) | u.pass // lanes that did not overflow give back what was added to make them
}

// foretell begins a run behind the three rows before, the last of which is text, if their times step evenly.
func (t *template) foretell(text []byte, r *Rows) bool {
	u := &t.run
	*u = run{}
	var m [3]int64
	for i := range m {
		m[i] = int64(math.Round(math.Abs(r.Time[r.N-3+i] * t.timeOver))) // exact: the template holds 15 digits at most
	}
	if u.delta = m[2] - m[1]; u.delta == 0 || m[1]-m[0] != u.delta {
		return false
	}
	u.mantissa = m[2] + u.delta
	if u.mantissa < 0 {
		return false
	}
	size := t.mantissa.size()
	from := uint(0)
	if size > 8 {
		from = size - 8
	}
	u.size, u.at = t.timeSize, t.partAt+from
	var literal, next, step, pass [8]byte
	span := int64(1) // 10 to the digits in the window
	low, d := u.mantissa, u.delta
	var digits []int
	for i := 7; i >= 0; i-- {
		place := from + uint(i)
		switch {
		case place >= size:
			literal[i] = text[u.at+uint(i)]
		case t.mantissa.fraction > 0 && place == t.mantissa.whole:
			literal[i], next[i], pass[i] = text[u.at+uint(i)]^9, 9, 9
		default:
			literal[i] = '0'
			next[i] = byte(low % 10)
			low /= 10
			span *= 10
			digits = append(digits, i)
		}
	}
	if low != m[2]/span {
		return false // a digit left of the window changes with the very next row
	}
	if d < 0 {
		d += span // ten's complement: what overflows on the left is dropped
	}
	if d <= 0 || d >= span {
		return false
	}
	u.left = int((span - 1 - u.mantissa%span) / u.delta)
	if u.delta < 0 {
		u.left = int(u.mantissa % span / -u.delta)
	}
	u.left++
	for _, i := range digits {
		step[i] = byte(d % 10)
		d /= 10
	}
	u.lanes = math.MaxUint64
	if over := u.at + 8; over > u.size {
		u.lanes <<= 8 * (over - u.size)
	}
	u.literal = binary.LittleEndian.Uint64(literal[:])
	u.next = binary.BigEndian.Uint64(next[:])
	u.step = binary.BigEndian.Uint64(step[:]) + carryUp
	u.pass = binary.BigEndian.Uint64(pass[:])
	var want, mask [24]byte
	for i := range t.timeSize {
		if want[i] = text[i]; i < u.at || i >= u.at+8 {
			mask[i] = 0xff
		}
	}
	for i := range u.want {
		u.want[i], u.mask[i] = load8(want[:], 8*i), load8(mask[:], 8*i)
	}
	return true
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

// end closes a run of k rows from row n on: the first and the last time are filled in.
func (u *run) end(r *Rows, n, k int, over float64) {
	if k > 0 {
		f := Run{From: n, To: n + k, mantissa: u.mantissa, delta: u.delta, over: over}
		r.Time[n], r.Time[n+k-1] = f.time(n), f.time(n+k-1)
		r.Runs = append(r.Runs, f)
	}
	u.left = 0
}

// Run is a stretch of rows at an even step. Of their times only the first and the last are in Rows.Time.
type Run struct {
	From, To int // rows

	mantissa, delta int64
	over            float64
}

// time is the time of a row of the run, rounded as if it had been read.
func (f *Run) time(row int) float64 { return float64(f.mantissa+int64(row-f.From)*f.delta) / f.over }

// Step is the time from one row of the run to the next, in s.
func (f *Run) Step() float64 { return math.Abs(float64(f.delta) / f.over) }

// Fill puts the times of all runs into Rows.Time.
func (r *Rows) Fill() {
	for i := range r.Runs {
		f := &r.Runs[i]
		for k := f.From; k < f.To; k++ {
			r.Time[k] = f.time(k)
		}
	}
	r.Runs = r.Runs[:0]
}
