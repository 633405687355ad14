package scan

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// window is the text that a row is read from: longer than any row that a template takes, so that one test of its
// bounds serves the whole row.
type window = [loadPad]byte

// place masks the place of eight bytes within a window: a template's row, sign and all, ends before it matters.
const place = 63

// eight loads eight bytes from place i of a window.
func eight(b *window, i uint) uint64 { return binary.LittleEndian.Uint64(b[i&place:]) }

// rows reads at most limit rows at text[pos:end] while they fit the template, and returns the place of the first that
// does not. In a run the times must be what the run foretells. text is readable loadPad bytes past end.
func (t *template) rows(text []byte, pos, end int, r *Rows, limit int) int {
	n := r.N
	times, levels := r.Time[n:], r.Value[0][n:]
	limit = min(limit, len(times), len(levels))
	times, levels = times[:limit], levels[:limit]
	k, last := 0, pos
	vectors := hasVector && t.timeSize <= vectorTime && limit > 0
	switch running := t.run.left > 0; {
	case running && t.stated:
		k, pos, last = t.foretoldStates(text, pos, end, levels)
	case running && vectors && t.run.lanes == math.MaxUint64:
		k, pos, last = t.vectorLevels(text, pos, end, levels)
	case running:
		k, pos, last = t.foretoldLevels(text, pos, end, levels)
	case t.stated && vectors:
		k, pos, last = t.vectorStates(text, pos, end, times, levels)
	case t.stated:
		k, pos, last = t.freeStates(text, pos, end, times, levels)
	default:
		k, pos, last = t.freeLevels(text, pos, end, times, levels)
	}
	if t.run.left > 0 {
		t.run.end(r, n, k, t.timeOver)
	}
	r.N = n + k
	t.last = last
	return pos
}

// foretoldLevels reads rows of a run with levels of any kind: how many, the place behind them and that of the last.
// It is levelAt written out: bulk samples spend their time here.
func (t *template) foretoldLevels(text []byte, pos, end int, levels []float64) (k, after, last int) {
	u := &t.run
	next := u.next
	last = pos
	for k < len(levels) && pos < end {
		b := (*window)(text[pos:])
		miss := (bits.ReverseBytes64(eight(b, u.at)^u.literal) ^ next) & u.lanes
		miss |= (eight(b, 0) ^ u.want[0]) & u.mask[0]
		if u.size > 8 {
			miss |= (eight(b, 8) ^ u.want[1]) & u.mask[1]
		}
		if u.size > 16 {
			miss |= (eight(b, 16) ^ u.want[2]) & u.mask[2]
		}
		next = u.after(next)

		sign := is(b[t.timeSize&place], '-')
		at := t.timeSize + sign
		w := eight(b, at)
		miss |= t.level[0].miss(w) | t.level[1].miss(eight(b, at+8))
		s := &t.scale[noExponent]
		if t.raised {
			s = &t.scale[expCode(eight(b, at+t.exponent))]
		}
		level := float64(int64(eightDigits(t.digits.lanes(w)))) * s.times / s.over
		levels[k] = math.Float64frombits(math.Float64bits(level) | uint64(sign)<<63)
		if miss != 0 || level != level {
			break
		}
		k++
		last = pos
		pos += int(at + t.levelSize)
	}
	return k, pos, last
}

// freeLevels is foretoldLevels for times that nothing foretells.
func (t *template) freeLevels(text []byte, pos, end int, times, levels []float64) (k, after, last int) {
	last = pos
	for k < len(levels) && k < len(times) && pos < end {
		b := (*window)(text[pos:])
		time, miss := t.timeAt(b)
		times[k] = time
		at := t.timeSize + is(b[t.timeSize&place], '-')
		level, bad := t.levelAt(b, at)
		levels[k] = math.Float64frombits(math.Float64bits(level) | uint64(at-t.timeSize)<<63)
		if miss|bad != 0 || level != level {
			break
		}
		k++
		last = pos
		pos += int(at + t.levelSize)
	}
	return k, pos, last
}

// foretoldStates is foretoldLevels for levels of one digit: all rows are of one length.
func (t *template) foretoldStates(text []byte, pos, end int, levels []float64) (k, after, last int) {
	u := &t.run
	next := u.next
	size := int(t.timeSize + t.levelSize)
	for k < len(levels) && pos < end {
		b := (*window)(text[pos:])
		miss := (bits.ReverseBytes64(eight(b, u.at)^u.literal) ^ next) & u.lanes
		miss |= (eight(b, 0) ^ u.want[0]) & u.mask[0]
		if u.size > 8 {
			miss |= (eight(b, 8) ^ u.want[1]) & u.mask[1]
		}
		if u.size > 16 {
			miss |= (eight(b, 16) ^ u.want[2]) & u.mask[2]
		}
		next = u.after(next)
		w := eight(b, t.timeSize)
		levels[k] = t.state[w&0xf]
		if miss|t.level[0].miss(w) != 0 {
			break
		}
		k++
		pos += size
	}
	return k, pos, pos - size
}

// freeStates is foretoldStates for times that nothing foretells.
func (t *template) freeStates(text []byte, pos, end int, times, levels []float64) (k, after, last int) {
	size := int(t.timeSize + t.levelSize)
	for k < len(levels) && k < len(times) && pos < end {
		b := (*window)(text[pos:])
		w := eight(b, t.timeSize)
		levels[k] = t.state[w&0xf]
		time, miss := t.timeAt(b)
		times[k] = time
		if miss|t.level[0].miss(w) != 0 {
			break
		}
		k++
		pos += size
	}
	return k, pos, pos - size
}

// timeAt reads the row's time; miss is not zero if it does not fit the template.
func (t *template) timeAt(b *window) (time float64, miss uint64) {
	miss = t.time[0].miss(eight(b, 0)) | t.time[1].miss(eight(b, 8))
	m := eightDigits(t.part.lanes(eight(b, t.partAt)))
	if t.rest > 0 {
		miss |= t.time[2].miss(eight(b, 16))
		m = m*t.restPower + eightDigits((eight(b, t.restAt)^zeros)*t.restDrop)
	}
	return float64(int64(m)) / t.timeOver, miss
}

// levelAt reads the level at a place, its sign left out; miss is not zero if it does not fit the template, and the
// level is NaN if its exponent needs care.
func (t *template) levelAt(b *window, at uint) (level float64, miss uint64) {
	w := eight(b, at)
	miss = t.level[0].miss(w) | t.level[1].miss(eight(b, at+8))
	s := &t.scale[noExponent]
	if t.raised {
		s = &t.scale[expCode(eight(b, at+t.exponent))]
	}
	return float64(int64(eightDigits(t.digits.lanes(w)))) * s.times / s.over, miss
}
