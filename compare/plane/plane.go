// Package plane computes the numbers behind the plane of times: where a board's two times lie against their prediction, what
// parts in tolerance reach, and where each cause leads, through the circuit's own law. Everything is in natural logarithms
// of the ratio to the nominal prediction, high time first; it draws nothing.
package plane

import (
	"cmp"
	"math"
	"slices"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/lot"
	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// Curve is what one cause does to the times when the one thing it is about runs along its prior.
type Curve struct {
	Name        string
	Points      [][2]float64 // natural logarithms of high and low time over the nominal prediction
	Dots        bool         // single places rather than a line
	Number      int          // its cause's place in the design's list of causes, the same in every picture; 0: many causes
	Probability float64
}

// Plane is where a board's times lie about their prediction.
type Plane struct {
	Region   [][2]float64  // corners of the area that parts in tolerance reach, in order
	Curves   []Curve       // the likeliest first
	Measured [2]float64    //
	Before   *[2]float64   // where the times lay at an earlier visit; nil: none
	Spread   [2][2]float64 // covariance of Measured together with the timer's own spread
	OnePulse bool          // the high time alone counts
	Cloud    [][2]float64  // of a lot: its boards; Measured is then their centre, and Spread has no effect
	Named    []Named       // of a lot: boards to be named
	Likely   string        // the likeliest cause in words, drawn or not
	Along    *[2]float64   // where parts in tolerance and the board move both times together: the direction; nil: they do not
}

// Named is a board of a lot that stands out.
type Named struct {
	Name string
	At   [2]float64
}

const (
	sweepSteps = 96 // places of a cause's curve
	gridSteps  = 7  // places a part on the grid that the tolerance region is the hull of
)

// field is the plane of one design: its law and its causes, about the nominal prediction.
type field struct {
	board *cause.Board
	base  instance
	cases []cause.Case
	at    law
}

// newField lays the plane out; adjust puts a capture's own conditions in, nil none.
func newField(b *cause.Board, base instance, cases []cause.Case, adjust func(v *circuit.Values, extra []float64)) (f *field, origin [2]float64) {
	times := func(i instance) ([2]float64, bool) {
		if adjust != nil {
			adjust(&i.values, i.extra)
		}
		return logTimes(b.Circuit, &i.values)
	}
	origin, _ = times(base)
	return &field{b, base, cases, func(i instance) ([2]float64, bool) {
		x, ok := times(i)
		return [2]float64{x[0] - origin[0], x[1] - origin[1]}, ok
	}}, origin
}

// Of works out where a board's times lie, what parts in tolerance reach, and where each cause leads: the circuit's own
// law, one parameter moved along its prior, everything else at its nominal or typical value.
func Of(f *compare.Finding, e *reconcile.Evidence) Plane {
	d := e.Problem.Data[0]
	// The causes one by one: with a baseline the evidence's own cases are crossed with those of the earlier visit.
	q, origin := newField(e.Board, instance{e.Problem.Base, e.Problem.Extra}, e.Board.Cases(), d.Adjust)
	p := q.plane(f.Causes)
	p.Measured = [2]float64{d.LnHigh - origin[0], d.LnLow - origin[1]}
	p.Spread = q.spread(d, e.Problem.Nuisance)
	if then := e.Problem.Data[len(e.Problem.Data)-1]; then.Settled {
		p.Before = &[2]float64{then.LnHigh - origin[0], then.LnLow - origin[1]}
	}
	if p.OnePulse {
		p.Measured[1] = 0
	}
	p.together(p.Measured)
	return p
}

// thin is how narrow the region is against its length where both times move together, and off how many standard deviations
// beside it a board still lies on its line.
const (
	thin = 1e-3
	off  = 3
)

// together finds the line along which the region lies, where it is one and the places do too.
func (p *Plane) together(places ...[2]float64) {
	if p.OnePulse || len(p.Region) == 0 {
		return
	}
	var along [2]float64
	length := 0.0
	for _, a := range p.Region {
		for _, b := range p.Region {
			if d := math.Hypot(a[0]-b[0], a[1]-b[1]); d > length {
				length, along = d, [2]float64{(a[0] - b[0]) / d, (a[1] - b[1]) / d}
			}
		}
	}
	if along[0] < 0 {
		along = [2]float64{-along[0], -along[1]}
	}
	width := off * math.Sqrt(max(along[1]*along[1]*p.Spread[0][0]-2*along[0]*along[1]*p.Spread[0][1]+along[0]*along[0]*p.Spread[1][1], 0))
	leaves := func(within float64) func([2]float64) bool {
		return func(q [2]float64) bool { return beside(along, q) > within }
	}
	if slices.ContainsFunc(p.Region, leaves(thin*length)) || slices.ContainsFunc(places, leaves(max(thin*length, width))) {
		return
	}
	if length > 0 && along[1] > 0 {
		p.Along = &along
		for i := range p.Curves { // what leaves the line has no place on it
			for j, q := range p.Curves[i].Points {
				if beside(along, q) > max(thin*length, width) {
					p.Curves[i].Points[j] = [2]float64{math.NaN(), math.NaN()}
				}
			}
		}
	}
}

// beside is how far a place lies from the line through nominal.
func beside(along, q [2]float64) float64 { return math.Abs(q[0]*along[1] - q[1]*along[0]) }

// Numbers are the places of causes in a design's list of them, by their names in pictures; those of many causes have none.
func Numbers(cases []cause.Case) map[string]int {
	keys, out := map[string]string{}, map[string]int{}
	for i := range cases {
		k := &cases[i]
		name, key := cause.Curve(k.Cause, k.Parts), cause.Key(k.Cause, k.Parts)
		switch was, ok := keys[name]; {
		case !ok:
			keys[name], out[name] = key, len(keys)+1
		case was != key:
			delete(out, name)
		}
	}
	return out
}

// plane draws up what does not depend on a measurement.
func (f *field) plane(causes []compare.Cause) Plane {
	return Plane{OnePulse: f.board.Circuit.OnePulse, Region: hull(f.region()), Curves: f.curves(causes)}
}

// OfLot is the plane of a lot: a dot a board, the causes those of the lot's centre; false where no board was
// judged.
func OfLot(d *fit.Design, r *lot.Report, rows []lot.Row) (p Plane, ok bool) {
	b, err := cause.NewBoard(d)
	if err != nil {
		return p, false
	}
	base, err := b.Circuit.Typical(d)
	if err != nil {
		return p, false
	}
	f, origin := newField(b, instance{values: base}, b.Cases(), nil)
	p = f.plane(r.Causes)
	n := 0.0
	for i := range rows {
		if !rows[i].Judged() {
			continue
		}
		x := [2]float64{math.Log(rows[i].Values[0]) - origin[0], 0}
		if !p.OnePulse {
			x[1] = math.Log(rows[i].Values[1]) - origin[1]
		}
		if math.IsNaN(x[0]+x[1]) || math.IsInf(x[0]+x[1], 0) {
			continue
		}
		p.Cloud = append(p.Cloud, x)
		if slices.Contains(r.Outliers, rows[i].Board) {
			p.Named = append(p.Named, Named{Name: rows[i].Board, At: x})
			continue
		}
		n++
		p.Measured[0] += (x[0] - p.Measured[0]) / n
		p.Measured[1] += (x[1] - p.Measured[1]) / n
	}
	p.together(p.Cloud...)
	return p, n > 0
}

// logTimes are the natural logarithms of the high and the low time.
func logTimes(c *circuit.Circuit, v *circuit.Values) ([2]float64, bool) {
	h, l, ok := c.Times(v)
	if c.OnePulse {
		l = 1
	}
	return [2]float64{math.Log(h), math.Log(l)}, ok
}

// instance is one board: the circuit's own quantities and those of the capture alone (posterior.Problem.Extra).
type instance struct {
	values circuit.Values
	extra  []float64
}

// with is the instance with one quantity changed.
func (i instance) with(slot circuit.Slot, x float64) instance {
	if k := int(slot) - len(i.values); k >= 0 {
		i.extra = slices.Clone(i.extra)
		i.extra[k] = x
		return i
	}
	i.values[slot] = x
	return i
}

// law gives the logarithms of an instance's times over the nominal prediction.
type law = func(i instance) ([2]float64, bool)

// region is a grid over the parts' tolerances, through the circuit's law.
func (f *field) region() [][2]float64 {
	parts := f.board.Parts
	var out [][2]float64
	index := make([]int, len(parts))
	for {
		v := f.base
		for i, p := range parts {
			v.values[i] = p.Low() + (p.High()-p.Low())*float64(index[i])/(gridSteps-1)
		}
		if x, ok := f.at(v); ok {
			out = append(out, x)
		}
		i := 0
		for ; i < len(index); i++ {
			if index[i]++; index[i] < gridSteps {
				break
			}
			index[i] = 0
		}
		if i == len(index) {
			return out
		}
	}
}

// hull is the convex hull, its corners in order (A. M. Andrew, Another efficient algorithm for convex hulls in
// two dimensions, 1979). The region itself bulges inwards only by second-order terms of the tolerances.
func hull(p [][2]float64) [][2]float64 {
	p = slices.Clone(p)
	slices.SortFunc(p, func(a, b [2]float64) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	left := func(o, a, b [2]float64) bool { return (a[0]-o[0])*(b[1]-o[1])-(a[1]-o[1])*(b[0]-o[0]) > 1e-15 }
	chain := func() [][2]float64 {
		var out [][2]float64
		for _, q := range p {
			for len(out) > 1 && !left(out[len(out)-2], out[len(out)-1], q) {
				out = out[:len(out)-1]
			}
			out = append(out, q)
		}
		return out
	}
	lower := chain()
	slices.Reverse(p)
	upper := chain()
	if len(lower) < 2 {
		return lower
	}
	return append(lower[:len(lower)-1], upper[:len(upper)-1]...)
}

// spread is the covariance of the two logarithms from the measurement and from every second-order term's own
// prior, each moved by a standard deviation either way (JCGM 100 5.1.2, the differential taken over that step).
func (f *field) spread(d posterior.Datum, nuisance []posterior.Variable) [2][2]float64 {
	s := [2][2]float64{{d.High, d.Covariance}, {d.Covariance, d.Low}}
	if d.OnePulse {
		s = [2][2]float64{{d.High, 0}, {0, 0}}
	}
	for _, q := range nuisance {
		a, okA := f.at(f.base.with(q.Slot, value(q, 0.8413)))
		b, okB := f.at(f.base.with(q.Slot, value(q, 0.1587)))
		if !okA || !okB {
			continue
		}
		g := [2]float64{(a[0] - b[0]) / 2, (a[1] - b[1]) / 2}
		for i := range g {
			for k := range g {
				s[i][k] += g[i] * g[k]
			}
		}
	}
	return s
}

// value is a quantile of a variable in its slot's unit.
func value(q posterior.Variable, u float64) float64 {
	x := q.Density.Quantile(u)
	if q.Log {
		return math.Exp(x)
	}
	return x
}

// curves are the causes that one parameter or fitted values describe, the likeliest first. Two parts at once cover
// the plane, and the unexplained lies anywhere: neither has a curve.
func (f *field) curves(causes []compare.Cause) []Curve {
	byKey := map[string][]*cause.Case{}
	for i := range f.cases {
		k := &f.cases[i]
		key := cause.Key(k.Cause, k.Parts)
		byKey[key] = append(byKey[key], k)
	}
	var out []Curve
	at, numbers := map[string]int{}, Numbers(f.cases)
	for _, c := range causes {
		k := Curve{Name: cause.Curve(c.Cause, c.Parts), Probability: c.Probability, Dots: true}
		k.Number = numbers[k.Name]
		for _, one := range byKey[cause.Key(c.Cause, c.Parts)] {
			k.Points = append(k.Points, f.sweep(one)...)
			k.Dots = k.Dots && len(one.Fitted) > 0
		}
		if len(k.Points) == 0 {
			continue
		}
		if i, ok := at[k.Name]; ok { // places on their parts' own lines: one entry for all
			out[i].Points, out[i].Probability = append(out[i].Points, k.Points...), out[i].Probability+k.Probability
			continue
		}
		at[k.Name] = len(out)
		out = append(out, k)
	}
	slices.SortStableFunc(out, func(a, b Curve) int { return -cmp.Compare(a.Probability, b.Probability) })
	return out
}

// sweep moves what a case is about along its prior; a case of fitted values is one place.
func (f *field) sweep(k *cause.Case) [][2]float64 {
	v := f.base
	for _, q := range k.Fixed {
		v = v.with(q.Slot, q.Value)
	}
	var moved posterior.Variable
	switch {
	case k.Unexplained:
		return nil
	case len(k.Fitted) > 0:
		for _, i := range k.Fitted {
			v = v.with(circuit.Slot(i), math.Exp(k.Prior[i].Quantile(0.5)))
		}
		if x, ok := f.at(v); ok {
			return [][2]float64{x}
		}
		return nil
	case k.Tie != nil, k.Circuit != nil:
		return nil
	case len(k.Override) == 1 && len(k.Shifts) == 0:
		moved = k.Override[0]
	case len(k.Override) == 0 && len(k.Shifts) == 1:
		i := k.Shifts[0]
		moved = posterior.Variable{Slot: circuit.Slot(i), Log: true, Density: k.Prior[i]}
	default:
		return nil
	}
	var out [][2]float64
	for i := range sweepSteps + 1 {
		x, ok := f.at(v.with(moved.Slot, value(moved, 0.01+0.98*float64(i)/sweepSteps)))
		if !ok {
			x = [2]float64{math.NaN(), math.NaN()}
		}
		out = append(out, x)
	}
	return out
}
