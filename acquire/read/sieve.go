package read

import (
	"math"
	"slices"

	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
)

// maxFalse is how many rows running may lie about their time and be known by the row behind them.
const maxFalse = 4

// sieve lets no row through that is the one before it again, and none whose time its neighbours deny: a few rows that lie
// behind the time of the row after them, where that one follows on the row before them. It holds the last rows of a batch
// back, so that what it does does not hang on where the stream was cut into batches.
type sieve struct {
	batchSource
	look surveyor
	held *batch // up to maxFalse+1 rows; nil: none
	last lastRow
	err  error
}

// lastRow is the row that was let through last.
type lastRow struct {
	any   bool
	time  float64 // s
	value []float64
}

func (s *sieve) next() (*batch, error) {
	if s.err != nil {
		return nil, s.err
	}
	b, err := s.batchSource.next()
	if err != nil {
		s.err = err
		if s.held == nil {
			return nil, err
		}
		b, s.held = s.held, nil
		return b, nil
	}
	if s.held != nil {
		s.prepend(b)
	}
	if b.n > 0 && (!b.survey.strict || s.last.any && !(b.time[0] > s.last.time)) {
		s.sift(b)
	}
	if b.n > 0 && !b.cut {
		s.hold(b)
	}
	if b.n > 0 {
		s.last.set(b, b.n-1)
	}
	return b, nil
}

// set notes row i of a batch.
func (l *lastRow) set(b *batch, i int) {
	l.any, l.time, l.value = true, b.time[i], l.value[:0]
	for _, v := range b.value {
		l.value = append(l.value, v[i])
	}
}

// is reports whether row i of a batch is the same row again.
func (l *lastRow) is(b *batch, i int) bool {
	if !l.any || b.time[i] != l.time {
		return false
	}
	for k, v := range b.value {
		if a, c := v[i], l.value[k]; a != c && !(math.IsNaN(a) && math.IsNaN(c)) {
			return false
		}
	}
	return true
}

// hold takes the last rows off a batch, those behind its last odd line.
func (s *sieve) hold(b *batch) {
	from, barred := max(b.n-maxFalse-1, 0), false
	for _, o := range b.odd {
		if !sifted(o) && o.Row >= from {
			from, barred = o.Row, true
		}
	}
	if from == b.n {
		return
	}
	b.fill()
	keep := len(b.odd) // lines of their own that stand before row from
	for keep > 0 && b.odd[keep-1].Row > from {
		keep--
	}
	h := &batch{marked: b.marked, n: b.n - from, line: b.line + int64(from+linesOf(b.odd[:keep])), odd: slices.Clone(b.odd[keep:]), time: slices.Clone(b.time[from:b.n])}
	for i, v := range b.value {
		h.value = append(h.value, slices.Clone(v[from:b.n]))
		b.value[i] = v[:from]
	}
	b.odd = b.odd[:keep]
	for i := range h.odd {
		h.odd[i].Row -= from
	}
	h.survey = s.look.survey(h)
	b.time, b.n = b.time[:from], from
	if barred { // what was surveyed went on into another record
		b.survey = s.look.survey(b)
	}
	s.held = h
}

// prepend puts the rows that were held back before those of a batch.
func (s *sieve) prepend(b *batch) {
	h := s.held
	s.held = nil
	b.fill()
	v := h.survey
	if b.n > 0 {
		gap := []float64{h.time[h.n-1], b.time[0]}
		v = b.survey
		v.even = false
		v.rising = v.rising && h.survey.rising && gap[0] <= gap[1]
		v.strict = v.strict && h.survey.strict && gap[0] < gap[1]
		if s.look.tick > 0 {
			v.common = grid.CommonStep(gap, grid.GCD(v.common, h.survey.common), s.look.tick)
		}
	}
	b.survey = v
	b.time = slices.Insert(b.time[:b.n], 0, h.time...)
	for i := range b.value {
		b.value[i] = slices.Insert(b.value[i][:b.n], 0, h.value[i]...)
	}
	for i := range b.odd {
		b.odd[i].Row += h.n
	}
	b.odd = append(h.odd, b.odd...)
	b.n += h.n
	b.marked = b.marked || h.marked
	b.line = h.line
}

// sift takes rows out of a batch; each becomes an odd line, so that it is counted and its line number is kept.
func (s *sieve) sift(b *batch) {
	b.fill()
	last := s.last
	last.value = slices.Clone(last.value)
	odd := b.odd
	b.odd = nil
	kept, free := 0, 0 // rows kept; of those, from where on no odd line lies between
	for i := range b.n {
		for len(odd) > 0 && odd[0].Row == i {
			odd[0].Row = kept
			b.odd = append(b.odd, odd[0])
			if !sifted(odd[0]) {
				free = kept
			}
			odd = odd[1:]
		}
		if last.is(b, i) {
			if n := len(b.odd); n > 0 && b.odd[n-1].Fault == scan.Again && b.odd[n-1].Row == kept {
				b.odd[n-1].More++
			} else {
				b.odd = append(b.odd, scan.Odd{Row: kept, Fault: scan.Again})
			}
			continue
		}
		if last.any && b.time[i] < last.time {
			n := kept
			for n > free && kept-n < maxFalse && b.time[n-1] >= b.time[i] {
				n--
			}
			if n > free && n < kept && b.time[n-1] < b.time[i] {
				for range kept - n {
					b.odd = append(b.odd, scan.Odd{Fault: scan.FalseTime})
				}
				b.settle(n)
				kept = n
			}
		}
		b.move(i, kept)
		last.set(b, kept)
		kept++
	}
	for _, o := range odd {
		o.Row = kept
		b.odd = append(b.odd, o)
	}
	b.n = kept
	b.time = b.time[:kept]
	b.survey = s.look.survey(b)
}
