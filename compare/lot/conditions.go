package lot

import (
	"math"
	"slices"

	"offbeat/acquire/quantity"
	"offbeat/fit"
)

// Design is the lot's design with the board's own supply and readings. A supply given without limits keeps the
// design's relative one; of several captures' supplies the limits hold all. A board's reading takes the place
// of the design's, a later one that of an earlier.
func (b *Board) Design(d *fit.Design) *fit.Design {
	own := *d
	own.Readings = slices.Clone(d.Readings)
	low, high := math.Inf(1), math.Inf(-1)
	for i := range b.Captures {
		if q := b.Captures[i].Supply; q != nil {
			half := q.Value * d.Supply.Half / d.Supply.Value
			if d.Supply.Value == 0 {
				half = 0
			}
			if q.Tolerance.Given() {
				_, half = q.Tolerance.Absolute(q.Value)
			}
			low, high = min(low, q.Value-half), max(high, q.Value+half)
		}
		for _, r := range b.Captures[i].Readings {
			own.Readings = slices.DeleteFunc(own.Readings, func(o fit.Reading) bool { return o.Name == r.Name })
			own.Readings = append(own.Readings, readingOf(r.Name, r.Quantity))
		}
	}
	if high > low || high == low && !math.IsInf(high, 0) {
		own.Supply = fit.Reading{Name: d.Supply.Name, Value: (low + high) / 2, Half: (high - low) / 2}
	}
	return &own
}

// readingOf takes limits as rectangular, an expanded uncertainty as normal (JCGM 100 4.3.7 and 4.3.3).
func readingOf(name string, q quantity.Quantity) fit.Reading {
	_, half := q.Tolerance.Absolute(q.Value)
	if k := q.Tolerance.Coverage; k > 0 {
		return fit.Reading{Name: name, Value: q.Value, Standard: half / k}
	}
	return fit.Reading{Name: name, Value: q.Value, Half: half}
}
