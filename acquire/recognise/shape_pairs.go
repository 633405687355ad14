package recognise

import (
	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
)

// pairsShape: two rows for each time, the lowest and the highest level since the time before. Which of the two
// came first is not said, so a pair is read as one sample half-way between them: where a pair spans a
// transition, the crossing then falls inside its interval.
var pairsShape = shape{name: "lowest and highest level in pairs of rows", fits: fitPairs}

func fitPairs(h *head, opt acquire.Options) (*proposal, error) {
	k := h.timeColumn()
	if k < 0 || !h.paired(k) || opt.Interval > 0 {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil {
		return nil, err
	}
	if p.logic() || !p.ordered() {
		return nil, nil
	}
	t := make([]float64, 0, len(p.times)/2)
	for i := 0; i < len(p.times); i += 2 {
		t = append(t, p.times[i])
	}
	g, _ := grid.Find(t, p.Res, p.Step)
	q := p.analog()
	q.Lines, q.Grid = Pairs{}, g
	q.note("each time has two rows, its lowest and highest level: they are read as one sample half-way between, so an edge is known to about half of %.6g s", g.Step)
	return q, nil
}

// paired: every time occurs twice running.
func (h *head) paired(k int) bool {
	t := h.numbers(k)
	if len(t) < 3 {
		return false
	}
	for i := 1; i < len(t); i++ {
		if (t[i] == t[i-1]) != (i%2 == 1) {
			return false
		}
	}
	return true
}

// ordered: in every pair the first level is the lower, and not always the same as the second; chance would not
// keep to that in eight pairs, unless the header names a peak.
func (p *draft) ordered() bool {
	pairs, differ := 0, false
	for _, v := range p.levels {
		for i := 1; i < len(v); i += 2 {
			if v[i] < v[i-1] {
				return false
			}
			differ = differ || v[i] > v[i-1]
			pairs++
		}
	}
	named := false
	for k := range p.head.columns {
		named = named || p.head.twin(k) >= 0
	}
	return differ && (named || pairs >= 8)
}
