package scan

import (
	"encoding/binary"
	"math/bits"
	"slices"
)

// index is where the cells of the next rows of a text begin and end: found for all of them at once, without a branch on what
// the cells hold, so that the lengths of numbers, which change from row to row, cost nothing.
type index struct {
	starts []uint32 // of each cell, in the text; behind a row's last the start of the next row
	ends   []uint32 // of each row, the place in starts behind its last cell
	row    int      // the next of ends
	first  uint32   // the place in starts of its first cell
	pos    int      // in the text: where that row begins
}

// firstOf is the place in starts of the first cell of row n from the next on.
func (x *index) firstOf(n int) uint32 {
	if n > 0 {
		return x.ends[x.row+n-1]
	}
	return x.first
}

// cell is where cell k of row n from the next on begins and ends.
func (x *index) cell(n, k int) (from, to int) {
	first := int(x.firstOf(n))
	return int(x.starts[first+k]), int(x.starts[first+k+1]) - 1
}

// cells are those of column k in so many rows from row n on.
func (x *index) cells(text []byte, k, n, rows int) cells {
	return cells{text: &text[0], starts: &x.starts[k], ends: &x.ends[x.row+n], first: uint64(x.firstOf(n)), rows: rows}
}

// pass goes on behind n rows.
func (x *index) pass(n int) {
	if n > 0 {
		x.row += n
		x.first = x.ends[x.row-1]
		x.pos = int(x.starts[x.first])
	}
}

// indexBlock is how many bytes are indexed at once; what comes of them stays in the fastest cache.
const indexBlock = 8 << 10

// fill indexes whole rows of about so many cells at text[pos:end], from about size bytes; false if there is none.
func (x *index) fill(text []byte, pos, end int, delim byte, cells, size int) bool {
	x.row, x.first, x.pos = 0, 0, pos
	if delim == 0 {
		delim = '\n'
	}
	for {
		if n := size + 2*64; len(x.starts) < n {
			x.starts, x.ends = make([]uint32, n), make([]uint32, 0, n)
		}
		n, lines := x.mark(text, pos, min(pos+size, end), end, delim)
		if x.cut(text, n, lines, cells); len(x.ends) < lines {
			x.cut(text, n, lines, 1)
		}
		if lines > 0 || pos+size >= end {
			return lines > 0
		}
		size *= 4 // within a long row
	}
}

// mark finds the cells of the rows that begin in text[pos:stop]: how many marks and line feeds there are, and some behind.
func (x *index) mark(text []byte, pos, stop, end int, delim byte) (n, lines int) {
	at := pos
	x.starts[0] = uint32(pos)
	starts := x.starts[1:]
	if blocks := min((stop-pos+63)/64, (end-pos)/64); hasMarks && blocks > 0 {
		n, lines = vectorMarks(&text[pos], blocks, pos, delim, &starts[0])
		at += 64 * blocks
	}
	for delims := lanes8(delim); at < stop; at += 64 {
		marks, feed := marks64((*[64]byte)(text[at:]), delims)
		if left := end - at; left < 64 {
			marks, feed = marks&(1<<left-1), feed&(1<<left-1)
		}
		lines += bits.OnesCount64(feed)
		for ; marks != 0; marks &= marks - 1 {
			starts[n] = uint32(at + 1 + bits.TrailingZeros64(marks))
			n++
		}
	}
	return n, lines
}

// cut finds the rows among n marks with so many line feeds: each ends where the next so many cells end, or else behind.
func (x *index) cut(text []byte, n, lines, cells int) {
	starts, ends, k := x.starts[:n+1], x.ends[:lines], 0
	for i := cells; i < len(starts) && k < len(ends); i += cells {
		for i < len(starts) && text[starts[i]-1] != '\n' {
			i++
		}
		if i < len(starts) {
			ends[k] = uint32(i)
			k++
		}
	}
	x.ends = ends[:k]
}

// marks64 tells which of 64 bytes are delimiters or line feeds, and which line feeds.
func marks64(b *[64]byte, delims uint64) (marks, lines uint64) {
	for i := 0; i < 64; i += 8 {
		w := binary.LittleEndian.Uint64(b[i:])
		feed := equals(w, feeds)
		marks |= gather(equals(w, delims)|feed) << i
		lines |= gather(feed) << i
	}
	return marks, lines
}

// gather puts the top bits of eight lanes side by side.
func gather(w uint64) uint64 { return w >> 7 * 0x0102040810204080 >> 56 }

const feeds = '\n' * lowBits

// quick reports whether the layout is one that quickRows can read.
func (l *Layout) quick() bool {
	if l.Join >= 0 || l.TimeForm != PlainTime || l.Longer > 1 || l.Bit != nil || l.Delim == Blanks {
		return false
	}
	for i, k := range l.Value {
		if k == l.Time || slices.Contains(l.Value[:i], k) {
			return false
		}
	}
	return true
}
