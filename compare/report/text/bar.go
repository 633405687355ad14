package text

import (
	"math"
	"strings"

	"offbeat/compare"
)

// reach is how many tolerances a part's bar shows to either side of the nominal.
const reach = 2.5

// toleranceBar draws a part across its tolerance, in signs that need no colour:
//
//	[-------|-------]  ===o==
//
// "[" and "]" are the limits, "|" the nominal, "=" the 95 % coverage interval, "o" the estimate; "<" and ">" stand at the
// ends for what lies beyond.
func toleranceBar(q *compare.Part, width int) string {
	middle := width / 2
	unit := float64(middle) / reach
	at := func(v float64) int {
		side := q.Limits[1] - q.Nominal
		if v < q.Nominal {
			side = q.Nominal - q.Limits[0]
		}
		x := math.Round((v - q.Nominal) / side * unit)
		return middle + int(max(-float64(width), min(x, float64(width)))) // far outside is outside
	}
	bar := []byte(strings.Repeat(" ", width))
	low, high := at(q.Limits[0]), at(q.Limits[1])
	for i := low; i <= high; i++ {
		bar[i] = '-'
	}
	for i := max(at(q.Interval95[0]), 0); i <= min(at(q.Interval95[1]), width-1); i++ {
		bar[i] = '='
	}
	bar[low], bar[middle], bar[high] = '[', '|', ']'
	if at(q.Interval95[0]) < 0 {
		bar[0] = '<'
	}
	if at(q.Interval95[1]) >= width {
		bar[width-1] = '>'
	}
	switch v := at(q.Value); {
	case v < 0:
		bar[0] = '<'
	case v >= width:
		bar[width-1] = '>'
	default:
		bar[v] = 'o'
	}
	return string(bar)
}

// shareBar draws a share of one as a run of "#"; what is not zero shows at least a dot.
func shareBar(p float64, width int) string {
	n := int(math.Round(p * float64(width)))
	switch {
	case n > 0:
		return strings.Repeat("#", n)
	case p > 0:
		return "."
	}
	return ""
}
