package lot

import (
	"cmp"
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

// variance of a time from capture to capture.
func (r *repeated) variance(k int) float64 { return r.squares[k] / r.freedom }

// variances are those of a lot's boards in one time, the least first, with the sums of the boards before each.
type variances struct{ each, squares, freedom []float64 }

func variancesOf(all []repeated, k int) *variances {
	v := &variances{squares: []float64{0}, freedom: []float64{0}}
	sorted := slices.SortedFunc(slices.Values(all), func(a, b repeated) int { return cmp.Compare(a.variance(k), b.variance(k)) })
	for i, r := range sorted {
		v.each, v.squares, v.freedom = append(v.each, r.variance(k)), append(v.squares, v.squares[i]+r.squares[k]), append(v.freedom, v.freedom[i]+r.freedom)
	}
	return v
}

// but is the sum of squares of all boards but one, without those that are not themselves either, and its degrees of freedom.
func (v *variances) but(r *repeated, k int) (squares, freedom float64) {
	others := len(v.each) - 1
	if others < 1 {
		return 0, 0
	}
	own, middle := r.variance(k), (others-1)/2
	if at, _ := slices.BinarySearch(v.each, own); at <= middle {
		middle++
	}
	most := ownOthers * v.each[middle]
	kept, _ := slices.BinarySearch(v.each, math.Nextafter(most, math.Inf(1)))
	squares, freedom = v.squares[kept], v.freedom[kept]
	if own <= most {
		squares, freedom, kept = max(squares-r.squares[k], 0), freedom-r.freedom, kept-1
	}
	if kept < others {
		squares *= trimmedBy
	}
	return squares, freedom
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
		scatter := [2]*variances{variancesOf(all, 0), variancesOf(all, 1)}
		for i := range all {
			r := &all[i]
			for k := range r.squares {
				if r.squares[k] < unlikeLeast*unlikeLeast/2*r.freedom {
					continue
				}
				squares, freedom := scatter[k].but(r, k)
				risk := unlikeRisk / float64(2*len(all))
				limit := 0.0
				if freedom > 0 {
					limit = squares / freedom * min(distuv.F{D1: r.freedom, D2: freedom}.Quantile(1-risk), beyondOthers)
				}
				if r.variance(k) > most*limit {
					limit = max(limit, r.allowed[k]*distuv.ChiSquared{K: r.freedom}.Quantile(1-risk)/r.freedom)
				}
				if excess := r.variance(k) / limit; excess > most {
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
