package scan

import (
	"math"

	"offbeat/acquire/internal/timeunit"
)

// careful reads one line (without its line end) as row r.N, or says why it is none.
func (l *Layout) careful(line []byte, r *Rows) (fault Fault, cell int) {
	r.cells = Split(r.cells, line, l.Delim)
	if l.Join >= 0 {
		r.cells = Join(r.cells, l.Join)
	}
	c := r.cells
	if need := l.need(); len(c) < need {
		return Few, len(c)
	}
	for k := l.Cells; k < len(c); k++ {
		if len(c[k]) > 0 {
			return Many, k
		}
	}
	r.grow()
	if l.Time >= 0 {
		t, ok := l.Instant(c[l.Time])
		if !ok {
			return BadTime, l.Time
		}
		r.Time[r.N] = t
	}
	for i, k := range l.Value {
		v, ok := l.level(c[k], i, r)
		if !ok {
			return BadLevel, k
		}
		r.Value[i][r.N] = v
	}
	r.N++
	return NoFault, 0
}

// level reads a cell as level number i.
func (l *Layout) level(c []byte, i int, r *Rows) (v float64, ok bool) {
	if l.Bit != nil && l.Bit[i] >= 0 {
		return bit(c, l.Bit[i])
	}
	v, ok = Float(c, l.Point, l.Shift[i])
	switch {
	case !ok:
		_, v, ok = Mark(c)
		r.Marks = r.Marks || math.IsInf(v, 0)
	case math.Abs(v) >= overrange:
		v = Overrange(v, l.Shift[i])
		r.Marks = true
	}
	return v, ok
}

// Row reads one line (without its line end) as the only row of r, or says which cell makes it none.
func (l *Layout) Row(line []byte, r *Rows) (fault Fault, cell int) {
	r.reset(l, 1)
	return l.careful(line, r)
}

// Join puts a decimal comma back between cells k and k+1 of a split line; where it can't, it returns c as it is.
func Join(c [][]byte, k int) [][]byte {
	if k+1 >= len(c) {
		return c
	}
	n := len(c[k]) + 1 + len(c[k+1])
	if n > cap(c[k]) {
		return c
	}
	c[k] = c[k][:n]
	return append(c[:k+1], c[k+2:]...)
}

// longestTime, in s, is past any time that a bench may record.
const longestTime = 1e15

// Instant reads a cell of time into seconds; ok is false for a time that no bench records, too.
func (l *Layout) Instant(b []byte) (t float64, ok bool) {
	switch l.TimeForm {
	case QuantityTime:
		t, ok = seconds(b, l.Grouped)
	case CalendarTime:
		var c Instant
		c, ok = ParseCalendar(b)
		t = c.Since(l.Reference)
	case EpochTime:
		t, ok = l.epoch(b)
	default:
		t, ok = FloatIn(b, l.Point, l.Unit())
	}
	return t, ok && math.Abs(t) <= longestTime
}

// epoch reads a large number of seconds and subtracts the reference while both are whole numbers.
func (l *Layout) epoch(b []byte) (float64, bool) {
	d, ok := ParseDecimal(b, l.Point)
	e := d.Exp + l.TimeShift
	if !ok || d.Neg || !d.Exact || e < -18 || e > 0 || d.Mantissa > 1<<63-1 {
		f, ok := Float(b, l.Point, l.TimeShift)
		return f - float64(l.Reference), ok
	}
	unit := uint64(pow10[-e])
	return since(int64(d.Mantissa/unit)-l.Reference, d.Mantissa%unit, -e), true
}

// Unit is that of a plain time.
func (l *Layout) Unit() timeunit.Unit {
	return timeunit.Unit{Power: l.TimeShift, Times: max(l.Longer, 1)}
}

// Digit is what the last digit that a cell of time shows stands for, and its unit, in s; ok is false if it is no time.
func (l *Layout) Digit(b []byte) (s, of float64, ok bool) {
	power, times, of := 0, int64(1), 1.0
	switch l.TimeForm {
	case QuantityTime:
		var room [48]byte
		digits, point, unit, is := quantity(b, room[:], l.Grouped)
		d, number := ParseDecimal(digits, point)
		power, times, of, ok = d.Unit+unit.Power, unit.Times, unit.Seconds(), is && number
	case CalendarTime:
		var t Instant
		t, ok = ParseCalendar(b)
		power = -t.Places
	default:
		d, ok := ParseDecimal(b, l.Point)
		return l.LastDigit(d), of, ok
	}
	return Pow10(power) * float64(times), of, ok
}

// LastDigit is the unit, in s, of the last digit of a plain time.
func (l *Layout) LastDigit(d Decimal) float64 {
	return Pow10(d.Unit+l.TimeShift) * float64(max(l.Longer, 1))
}
