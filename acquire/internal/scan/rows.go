package scan

import (
	"encoding/binary"
	"math"
	"math/bits"
)

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

// vectorLevels is foretoldLevels on a machine with vectors.
func (t *template) vectorLevels(text []byte, pos, end int, levels []float64) (k, after, last int) {
	u, v := &t.run, &t.vector
	for i := range v.want {
		shift := i % 8 * 8
		v.want[i], v.mask[i] = byte(u.want[i/8]>>shift), byte(u.mask[i/8]>>shift)
	}
	v.literal, v.step, v.pass, v.next, v.at = u.literal, u.step, u.pass, u.next, uint64(u.at)
	v.bind(text, pos, end, levels)
	vectorLevels(v)
	return v.result(len(levels))
}

// vectorStates is freeStates on a machine with vectors.
func (t *template) vectorStates(text []byte, pos, end int, times, levels []float64) (k, after, last int) {
	v := &t.vector
	v.times, v.states = &times[0], &t.state
	v.bind(text, pos, end, levels)
	vectorStates(v)
	v.times, v.states = nil, nil
	return v.result(len(levels))
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

// end closes a run of k rows from row n on: the first and the last time are filled in.
func (u *run) end(r *Rows, n, k int, over float64) {
	if k > 0 {
		f := Run{From: n, To: n + k, mantissa: u.mantissa, delta: u.delta, over: over}
		r.Time[n], r.Time[n+k-1] = f.time(n), f.time(n+k-1)
		r.Runs = append(r.Runs, f)
	}
	u.left = 0
}
