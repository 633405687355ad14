package report

import (
	"fmt"
	"math"
	"strings"

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
		moved := cell{text: "may be as it was"}
		if q.Change.Interval95[0] > 1 || q.Change.Interval95[1] < 1 {
			moved = cell{"moved", yellow}
		}
		rows = append(rows, []cell{{text: q.Name}, {text: move}, {text: interval}, moved})
	}
	if len(rows) == 0 {
		return
	}
	p.heading("EACH PART SINCE THE BASELINE")
	p.table([]column{{}, {head: "likely"}, {head: "95 % interval"}, {}}, rows)
}

// moves writes a change and its interval: in percent, or as a factor where it is far from one, with the digits that the
// interval's width leaves a meaning.
func moves(s *compare.Shift) (likely, interval string) {
	low, high := s.Interval95[0], s.Interval95[1]
	scale, from, format, unit := 100.0, 1.0, "%+.*f", " %"
	if low < 0.5 || high > 2 {
		scale, from, format, unit = 1, 0, "%.*f", " times"
	}
	decimals := 1
	if half := scale * (high - low) / 2; half > 0 {
		decimals = min(max(0, 1-int(math.Floor(math.Log10(half)))), 6)
	}
	text := func(x float64) string {
		return strings.Replace(fmt.Sprintf(format, decimals, scale*(x-from)), "-", "\u2212", 1)
	}
	return text(s.Factor) + unit, text(low) + " … " + text(high) + unit
}
