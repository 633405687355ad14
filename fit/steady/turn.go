package steady

import (
	"fmt"
	"slices"

	"gonum.org/v1/gonum/stat"

	"offbeat/acquire/quantity"
)

// Turn are the two lengths that a time has by turns; zero where it has not.
type Turn struct{ Short, Long float64 }

const (
	turnFew  = 6   // of either length, at least
	turnMost = 0.1 // of the intervals, that may follow one of their own length: a gap lies between, or a glitch
)

// inTurn finds the two lengths that intervals have by turns.
func inTurn(lists [][]float64) Turn {
	all := slices.Sorted(slices.Values(slices.Concat(lists...)))
	n := 0 // of the short ones: the widest gap parts them
	for i := 1; i < len(all); i++ {
		if n == 0 || all[i]-all[i-1] > all[n]-all[n-1] {
			n = i
		}
	}
	if min(n, len(all)-n) < turnFew {
		return Turn{}
	}
	short, long, alike := stat.Mean(all[:n], nil), stat.Mean(all[n:], nil), 0
	for _, list := range lists {
		for i := 1; i < len(list); i++ {
			if between := (short + long) / 2; (list[i] > between) == (list[i-1] > between) {
				alike++
			}
		}
	}
	if float64(alike) > turnMost*float64(len(all)) {
		return Turn{}
	}
	return Turn{short, long}
}

// turns says which times come by turns, and by how much.
func turns(of [2]Turn, name func(float64) string) string {
	text, low, high := "", of[lows], of[highs]
	for _, t := range []struct {
		Turn
		of string
	}{{high, "high times"}, {low, "low times"}} {
		if t.Long > 0 {
			text += fmt.Sprintf("; the %s are %s and %s by turns, %s apart", t.of, name(t.Short), name(t.Long), quantity.Relative(t.Long/t.Short-1))
		}
	}
	switch {
	case high.Long > 0 && low.Long == 0:
		text += "; the low times are not"
	case low.Long > 0 && high.Long == 0:
		text += "; the high times are not"
	}
	return text
}
