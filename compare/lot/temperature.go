package lot

import (
	"math"
	"slices"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/course"
	"offbeat/fit"
)

// leastWarming is how many kelvin a board's captures must lie apart to tell how it follows the temperature. From some
// degrees of freedom on their own scatter is looked at beside their stated uncertainties, the larger counts; from many on
// it tells how high and low time are correlated too (common practice).
const (
	leastWarming = 1.0
	some         = 3
	many         = 10
)

// sums are those of a straight line through each board's own mean, one slope for all boards: of the logarithms of
// period, high and low time over the temperature.
type sums struct {
	captures, boards int
	tt               float64
	ty, stated       [3]float64    // stated: Σ (t - mean)² u²
	yy               [3][3]float64 // centred products
	apart            float64       // K, the widest board
}

// follows fits how the boards that were captured at several temperatures follow it, each compared with itself; nil where
// none was.
func (c *Collector) follows(rows []*Row) *compare.Drift {
	var s sums
	single := true
	for _, row := range rows {
		single = s.add(row) && single
	}
	if s.boards == 0 {
		return nil
	}
	dof := float64(s.captures - s.boards - 1)
	slope := func(i int) float64 { return s.ty[i] / s.tt }
	covariance := func(i, k int) float64 {
		// Residual variance over dof, and Student's distribution is wider by dof / (dof - 2) (JCGM 101, 6.4.9).
		scatter := (s.yy[i][k] - s.ty[i]*s.ty[k]/s.tt) / s.tt / (dof - 2)
		stated := s.stated[i] / (s.tt * s.tt)
		switch {
		case i != k && dof < many:
			return 0
		case i != k:
			return scatter
		case dof < some:
			return stated
		}
		return max(scatter, stated)
	}
	u := func(i int) float64 { return math.Sqrt(covariance(i, i)) }
	of := func(i int) compare.Measured {
		return compare.Measured{Value: slope(i), Uncertainty: u(i), Count: s.captures}
	}
	d := &compare.Drift{Against: "temperature", Unit: "1/K", Value: slope(0), Uncertainty: u(0), Range: s.apart, High: of(1), Low: of(2)}
	if single {
		d.Value, d.Uncertainty, d.Low = d.High.Value, d.High.Uncertainty, compare.Measured{}
	} else if q := u(1) * u(2); q > 0 {
		d.Correlation = max(min(covariance(1, 2)/q, 0.999), -0.999)
	}
	d.Seen = math.Abs(d.Value) > compare.Seen*d.Uncertainty
	d.Causes = course.DriftCauses(c.design, d)
	return d
}

// add takes a board in; true where it shows single pulses.
func (s *sums) add(row *Row) (single bool) {
	var t []float64
	var y, u [][3]float64
	single = true
	least, most := math.Inf(1), math.Inf(-1)
	for i := range row.Each {
		e := &row.Each[i]
		if e.Temperature == nil {
			continue
		}
		var ys, us [3]float64
		for k, q := range [3]int{2, 0, 1} { // period, high, low
			if v := e.Values[q]; v > 0 {
				ys[k], us[k] = math.Log(v), e.Uncertainties[q]/v
				single = single && k == 1
			}
		}
		t, y, u = append(t, *e.Temperature), append(y, ys), append(u, us)
		least, most = math.Min(least, *e.Temperature), math.Max(most, *e.Temperature)
	}
	if len(t) < 2 || most-least < leastWarming {
		return single
	}
	n := float64(len(t))
	var mean float64
	var middle [3]float64
	for i := range t {
		mean += t[i] / n
		for k := range middle {
			middle[k] += y[i][k] / n
		}
	}
	for i := range t {
		d := t[i] - mean
		s.tt += d * d
		for k := range middle {
			e := y[i][k] - middle[k]
			s.ty[k] += d * e
			s.stated[k] += d * d * u[i][k] * u[i][k]
			for l := range middle {
				s.yy[k][l] += e * (y[i][l] - middle[l])
			}
		}
	}
	s.captures, s.boards, s.apart = s.captures+len(t), s.boards+1, math.Max(s.apart, most-least)
	return single
}

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
