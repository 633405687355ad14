package lot

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// byTurns is how many standard deviations more or fewer runs than chance makes two mixed batches must have (common practice).
const byTurns = 4

// beside says what goes with the batches besides the boards, which could make the difference in their place: the stations that captured
// them, or turns along the order.
func (r *Report) beside(rows []*Row) string {
	group := make([]int, len(rows))
	of := make([][]string, len(r.Batches)) // stations
	for g, b := range r.Batches {
		for _, row := range b.rows {
			group[slices.Index(rows, row)] = g
			for _, f := range row.Files {
				of[g] = With(of[g], f.Station)
			}
		}
	}
	if apart(of) {
		return fmt.Sprintf("Each batch has its own stations (%s): whether boards or stations differ, some of each batch captured at the others' would tell.", listed(of))
	}
	if len(r.Batches) != 2 || r.Batches[1].From != "" {
		return ""
	}
	a, n, runs := float64(len(r.Batches[0].rows)), float64(len(rows)), 1.0
	for i := range group[1:] {
		if group[i] != group[i+1] {
			runs++
		}
	}
	mean := 2 * a * (n - a) / n // and one: Wald and Wolfowitz 1940
	switch z := (runs - 1 - mean) / math.Sqrt(mean*(mean-1)/(n-1)); {
	case z > byTurns:
		return "They come by turns along the order, as two testers, feeders or places on a panel do."
	case z < -byTurns:
		return "They come in runs along the order."
	}
	return ""
}

// apart says whether every batch has stations, and none of another's.
func apart(of [][]string) bool {
	var all []string
	for _, names := range of {
		if len(names) == 0 || slices.ContainsFunc(names, func(name string) bool { return slices.Contains(all, name) }) {
			return false
		}
		all = append(all, names...)
	}
	return true
}

func listed(of [][]string) string {
	var out []string
	for _, names := range of {
		out = append(out, strings.Join(names, " and "))
	}
	return strings.Join(out, "; ")
}
