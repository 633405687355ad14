package lot

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"

	"gonum.org/v1/gonum/stat/distuv"
)

// How far captures of one board may lie apart (common practice).
const (
	unlikeRisk   = 1e-4   // of calling any lot's board unlike itself where it is not
	unlikeLeast  = 0.005  // of a time: what boards of one kind differ by, and one board should not
	perKelvin    = 500e-6 // how much a board may follow its temperature
	beyondOthers = 100    // times the variance of the other boards' repeats is too much, however few they are
	ownOthers    = 9      // times the median of the others', beyond which one of those is not itself either: two boards exchanged hide each other
	trimmedBy    = 1.3    // how much less such others scatter than all would (normal, one degree of freedom each: 1/0.78)
)

// repeated is a board with several captures.
type repeated struct {
	row     *Row
	freedom float64
	squares [2]float64 // about the board's mean, of ln high and ln low
	allowed [2]float64 // variance that the captures' own uncertainty and conditions allow
}

// others is the sum of squares of a time of all boards but one, without those that are not themselves either, and its degrees of freedom.
func others(all []repeated, but, k int) (squares, freedom float64) {
	var each []float64
	for j, o := range all {
		if j != but {
			each = append(each, o.squares[k]/o.freedom)
		}
	}
	if len(each) == 0 {
		return 0, 0
	}
	slices.Sort(each)
	most := ownOthers * each[(len(each)-1)/2]
	left := 1.0
	for j, o := range all {
		switch {
		case j == but:
		case o.squares[k]/o.freedom <= most:
			squares, freedom = squares+o.squares[k], freedom+o.freedom
		default:
			left = trimmedBy
		}
	}
	return squares * left, freedom
}

// unlike takes out the boards whose captures cannot be of one board: they scatter far more than the other boards' repeats
// and than their stated uncertainty, clocks and temperatures allow. The one that stands out most goes first.
func (c *Collector) unlike() {
	var all []repeated
	for i := range c.rows {
		row := &c.rows[i]
		if !row.Judged() || len(row.Each) < 2 {
			continue
		}
		r := repeated{row: row, freedom: float64(len(row.Each) - 1)}
		for k := range r.squares {
			r.squares[k], r.allowed[k] = row.scatter(k, c.clock)
		}
		all = append(all, r)
	}
	var apart []*Row
	for {
		worst, most := -1, 1.0
		for i, r := range all {
			for k := range r.squares {
				if r.squares[k] < unlikeLeast*unlikeLeast/2*r.freedom {
					continue
				}
				squares, freedom := others(all, i, k)
				risk := unlikeRisk / float64(2*len(all))
				limit := r.allowed[k] * distuv.ChiSquared{K: r.freedom}.Quantile(1-risk) / r.freedom
				if freedom > 0 {
					limit = max(limit, squares/freedom*min(distuv.F{D1: r.freedom, D2: freedom}.Quantile(1-risk), beyondOthers))
				}
				if excess := r.squares[k] / r.freedom / limit; excess > most {
					worst, most = i, excess
				}
			}
		}
		if worst < 0 {
			break
		}
		apart = append(apart, all[worst].row)
		all = slices.Delete(all, worst, worst+1)
	}
	for _, row := range apart {
		c.split(row, apart)
	}
}

// crossed reports whether two boards of two captures each were exchanged for the second: each one's second is like the other's first, to
// a tenth of what parts them.
func (r *Row) crossed(o *Row) bool {
	if r == o || len(r.Each) != 2 || len(o.Each) != 2 {
		return false
	}
	for k := range 2 {
		off := func(a, b *Repeat) float64 { return math.Abs(a.Values[k]/b.Values[k] - 1) }
		if k == 1 && !(r.Each[0].Values[k] > 0) { // a single pulse
			continue
		}
		if within := off(&r.Each[0], &r.Each[1]) / 10; !(off(&r.Each[0], &o.Each[1]) <= within && off(&r.Each[1], &o.Each[0]) <= within) {
			return false
		}
	}
	return true
}

// scatter is the sum of squares of ln high (0) or ln low (1) about the board's mean, and the variance that one capture is
// allowed.
func (r *Row) scatter(k int, clock float64) (squares, allowed float64) {
	mean, n := 0.0, float64(len(r.Each))
	cold, warm := math.Inf(1), math.Inf(-1)
	for i := range r.Each {
		e := &r.Each[i]
		if !(e.Values[k] > 0) {
			return 0, 1
		}
		mean += math.Log(e.Values[k]) / n
		u := e.Uncertainties[k] / e.Values[k]
		allowed = max(allowed, u*u)
		if e.Temperature != nil {
			cold, warm = min(cold, *e.Temperature), max(warm, *e.Temperature)
		}
	}
	for i := range r.Each {
		d := math.Log(r.Each[i].Values[k]) - mean
		squares += d * d
	}
	allowed += clock * clock / 3
	if warm > cold {
		allowed += perKelvin * perKelvin * (warm - cold) * (warm - cold) / 3
	}
	return squares, allowed
}

// split leaves a board whose captures are of several boards without a verdict; apart are all such boards.
func (c *Collector) split(row *Row, apart []*Row) {
	least, most := math.Inf(1), math.Inf(-1)
	var names []string
	for i := range row.Each {
		v := row.Each[i].Values[0]
		least, most = min(least, v), max(most, v)
		names = append(names, row.Each[i].Capture)
	}
	by := most/least - 1
	if l := row.Each[0].Values[1]; l > 0 {
		least, most = l, l
		for i := range row.Each {
			least, most = min(least, row.Each[i].Values[1]), max(most, row.Each[i].Values[1])
		}
		by = max(by, most/least-1)
	}
	row.Error = fmt.Sprintf("the captures of %s differ by %s, more than one board's can: several boards under one name (%s)", row.Board, quantity.Relative(by), strings.Join(names, ", "))
	if i := slices.IndexFunc(apart, row.crossed); i >= 0 {
		row.Error += fmt.Sprintf("; as if %s and %s had been exchanged for the second", row.Board, apart[i].Board)
	}
	c.duplicates = append(c.duplicates, Duplicate{OneName, []string{row.Board}, names, row.Error})
	row.Verdict = ""
}
