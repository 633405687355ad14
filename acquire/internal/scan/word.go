package scan

import (
	"math"
)

// word tests eight bytes: a byte that is xor'ed with its literal and added to its slack must not reach 0x80.
type word struct{ literal, slack, top uint64 }

// miss is not zero if the bytes of w are not as they must be.
func (p *word) miss(w uint64) uint64 {
	w ^= p.literal
	return (w | (w + p.slack)) & p.top
}

// The slack of a byte by what may stand there.
const (
	literalSlack = 0x7f // nothing else
	digitSlack   = 0x76 // '0' to '9', against '0'
	signSlack    = 0x79 // '+' to '1', against '+', of which the scale table takes '+' and '-' alone
)

// set says what byte i of a row of words must be.
func set(words []word, i uint, literal, slack byte) {
	shift := i % 8 * 8
	p := &words[i/8]
	p.literal |= uint64(literal) << shift
	p.slack |= uint64(slack) << shift
	p.top |= 0x80 << shift
}

// An exponent's code is made of its last digit, the one before being 0, and of its sign's last three bits.
const (
	expCodes  = 128
	plusCode  = '+' & 7
	minusCode = '-' & 7
)

// noExponent is the code of e+00.
const noExponent = plusCode

// expCode is for an exponent from its sign on.
func expCode(w uint64) uint64 { return w>>13&0x78 | w&7 }

// newScale tells what an exponent's code does to digits of the given power; NaN refuses a code that is no
// exponent or needs care.
func newScale(power int) *[expCodes]scale {
	t := new([expCodes]scale)
	for i := range t {
		e := i >> 3
		ok := e <= 9
		switch i & 7 {
		case minusCode:
			e = -e
		case plusCode:
		default:
			ok = false
		}
		e += power + exactPower
		if ok && 0 <= e && e < len(scales) {
			t[i] = scales[e]
		} else {
			t[i] = scale{math.NaN(), 1}
		}
	}
	return t
}
