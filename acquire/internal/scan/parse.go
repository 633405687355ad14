package scan

import (
	"bytes"
	"math"
)

// Parse reads the rows of text[:end] into r, whatever r held before. text is readable Pad bytes past end, and
// text[end-1] is a line feed.
func (l *Layout) Parse(text []byte, end int, r *Rows) {
	first := bytes.IndexByte(text[:end], '\n') + 1
	r.reset(l, min(end/first*9/8, end/max(l.need(), 2))+16) // rows of a text are mostly as long as its first
	t := &r.template
	t.misses, t.hopes = 0, maxHopes
	r.plain = plain(text[:end])
	r.index.pos = -1
	quick := l.quick()
	for pos := 0; pos < end; {
		guess := quick && t.misses < maxMisses && l.Time >= 0
		if guess && t.learned {
			pos = l.guessRows(text, pos, end, r)
		}
		limit := math.MaxInt
		if guess {
			t.misses++
			limit = 1
		}
		from := pos
		if quick {
			pos = l.quickRows(text, pos, end, r, limit)
		}
		if pos == from && pos < end {
			pos = l.carefulLine(text, pos, r)
		}
		if guess && pos < end {
			t.learn(l, text, from)
		}
	}
}

// guessRows reads rows that fit the template: in runs, as long as these do well.
func (l *Layout) guessRows(text []byte, pos, end int, r *Rows) int {
	t := &r.template
	for t.hopes > 0 {
		n := r.N
		if pos = l.likeRows(text, pos, end, r, 3); r.N < n+3 {
			return pos
		}
		t.hopes--
		if t.wide && !t.relearn(l, text) {
			continue
		}
		if t.foretell(text[t.last:], r) {
			n = r.N
			if pos = l.likeRows(text, pos, end, r, t.run.left); r.N > n+worthARun {
				t.hopes++
			}
		}
	}
	return l.likeRows(text, pos, end, r, math.MaxInt)
}

// likeRows reads at most limit rows that fit the template, and returns the place of the first that does not.
func (l *Layout) likeRows(text []byte, pos, end int, r *Rows, limit int) int {
	if r.template.wide {
		return l.quickRows(text, pos, end, r, limit)
	}
	return r.template.rows(text, pos, end, r, limit)
}

// maxHopes is how many runs may come to little in one text before times are read one by one; worthARun is how many
// rows pay for the trouble of one.
const (
	maxHopes  = 8
	worthARun = 30
)

// maxMisses is how often a template is learned anew in one text before it is left alone: a miss costs as much
// as some ten rows.
const maxMisses = 200

// carefulLine reads one line with care, and returns the place behind it. A line ends in LF, CR LF or CR alone.
func (l *Layout) carefulLine(text []byte, pos int, r *Rows) int {
	stop := pos
	for text[stop] != '\n' && text[stop] != '\r' {
		stop++
	}
	after := stop
	for text[after] == '\r' {
		after++
	}
	if text[after] != '\n' {
		after = stop
	}
	if fault, cell := l.careful(text[pos:stop], r); fault != NoFault {
		r.Odd = append(r.Odd, Odd{Row: r.N, Start: pos, End: stop, Fault: fault, Cell: cell})
	}
	return after + 1
}
