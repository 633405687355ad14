package lot

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

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

// within are captures against their own board's mean, of boards that were captured at several temperatures: one straight line
// is fitted to all of them, for each of the logarithms of period, high and low time.
type within struct {
	boards int
	t      []float64    // K
	y, tu  [3][]float64 // tu: the uncertainty of each by its t
	apart  float64      // K, the widest board
}

// follows fits how the boards that were captured at several temperatures follow it, each compared with itself; nil where
// none was.
func (c *Collector) follows(rows []*Row) *compare.Drift {
	var s within
	single := true
	for _, row := range rows {
		single = s.add(row) && single
	}
	if s.boards == 0 {
		return nil
	}
	dof, tt := float64(len(s.t)-s.boards-1), floats.Dot(s.t, s.t)
	slope := func(i int) float64 { return floats.Dot(s.t, s.y[i]) / tt }
	covariance := func(i, k int) float64 {
		// Residual variance over dof, and Student's distribution is wider by dof / (dof - 2) (JCGM 101, 6.4.9).
		scatter := (floats.Dot(s.y[i], s.y[k]) - slope(i)*slope(k)*tt) / tt / (dof - 2)
		stated := floats.Dot(s.tu[i], s.tu[i]) / (tt * tt)
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
		return compare.Measured{Value: slope(i), Uncertainty: u(i), Count: len(s.t)}
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
func (s *within) add(row *Row) (single bool) {
	var t []float64
	var y, u [3][]float64
	single = true
	for i := range row.Each {
		e := &row.Each[i]
		if e.Temperature == nil {
			continue
		}
		t = append(t, *e.Temperature)
		for k, q := range [3]int{2, 0, 1} { // period, high, low
			log, relative := 0.0, 0.0
			if v := e.Values[q]; v > 0 {
				log, relative = math.Log(v), e.Uncertainties[q]/v
				single = single && k == 1
			}
			y[k], u[k] = append(y[k], log), append(u[k], relative)
		}
	}
	if len(t) < 2 || floats.Max(t)-floats.Min(t) < leastWarming {
		return single
	}
	s.boards, s.apart = s.boards+1, max(s.apart, floats.Max(t)-floats.Min(t))
	floats.AddConst(-stat.Mean(t, nil), t)
	s.t = append(s.t, t...)
	for k := range y {
		floats.AddConst(-stat.Mean(y[k], nil), y[k])
		floats.Mul(u[k], t)
		s.y[k], s.tu[k] = append(s.y[k], y[k]...), append(s.tu[k], u[k]...)
	}
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
