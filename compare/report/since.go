package report

import (
	"fmt"
	"math"

	"offbeat/compare"
)

// since is by what each part has moved since the baseline, where there is one.
func (p *printer) since(f *compare.Finding) {
	var rows [][]cell
	for _, q := range f.Parts {
		if q.Change == nil {
			continue
		}
		move, interval := moves(q.Change)
		verdict := cell{text: "may be as it was"}
		if moved(q.Change) {
			verdict = cell{"moved", yellow}
		}
		rows = append(rows, []cell{{text: q.Name}, {text: move}, {text: interval}, verdict})
	}
	if len(rows) == 0 {
		return
	}
	p.heading("EACH PART SINCE THE BASELINE")
	p.table([]column{{}, {head: "likely"}, {head: "95 % interval"}, {}}, rows)
}

// sinceTable is the same on a page.
func sinceTable(f *compare.Finding) table {
	t := table{Caption: "By what each part has moved since the baseline.", Heads: []head{{"part", false}, {"likely", true}, {"95 % interval", true}, {"", false}}, Stack: true}
	for _, q := range f.Parts {
		if q.Change == nil {
			continue
		}
		move, interval := moves(q.Change)
		verdict := entry{Text: "may be as it was"}
		if moved(q.Change) {
			verdict = entry{Text: "moved", Mark: true}
		}
		t.Rows = append(t.Rows, []entry{{Text: q.Name}, {Text: move, Number: true}, {Text: interval, Number: true}, verdict})
	}
	return t
}

// moved says whether a part has moved for sure: its 95 % interval leaves out what it was.
func moved(s *compare.Shift) bool { return s.Interval95[0] > 1 || s.Interval95[1] < 1 }

// moves writes a change and its interval: in percent, or as a factor where it is far from one, with the digits that the
// interval's width leaves a meaning.
func moves(s *compare.Shift) (likely, interval string) {
	low, high := s.Interval95[0], s.Interval95[1]
	scale, from, unit := 100.0, 1.0, " %"
	if low < 0.5 || high > 2 {
		scale, from, unit = 1, 0, " times"
	}
	decimals := 1
	if half := scale * (high - low) / 2; half > 0 {
		decimals = min(max(0, 1-int(math.Floor(math.Log10(half)))), 6)
	}
	text := func(x float64) string {
		if from == 0 {
			return fmt.Sprintf("%.*f", decimals, scale*x)
		}
		return signed(decimals, scale*(x-from))
	}
	return text(s.Factor) + unit, text(low) + " … " + text(high) + unit
}
