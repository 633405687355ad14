package report

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/picture"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

const (
	sweepSteps = 96 // places of a cause's curve
	gridSteps  = 7  // places a part on the grid that the tolerance region is the hull of
)

// plane works out where a board's times lie, what parts in tolerance reach, and where each cause leads: the
// circuit's own law, one parameter moved along its prior, everything else at its nominal or typical value.
func plane(f *compare.Finding, e *reconcile.Evidence) picture.Plane {
	c, base := e.Board.Circuit, instance{e.Problem.Base, e.Problem.Extra}
	d := e.Problem.Data[0]
	times := func(i instance) ([2]float64, bool) {
		if d.Adjust != nil {
			d.Adjust(&i.values, i.extra)
		}
		return logTimes(c, &i.values)
	}
	origin, _ := times(base)
	at := func(i instance) ([2]float64, bool) {
		x, ok := times(i)
		return [2]float64{x[0] - origin[0], x[1] - origin[1]}, ok
	}
	p := picture.Plane{
		OnePulse: c.OnePulse,
		Measured: [2]float64{d.LnHigh - origin[0], d.LnLow - origin[1]},
		Spread:   spread(e, base, at),
	}
	if c.OnePulse {
		p.Measured[1] = 0
	}
	p.Region = hull(region(e, base, at))
	p.Curves = curves(f, e, base, at)
	if len(f.Causes) > 0 {
		p.Likely = causeName(f.Causes[0]) + ", " + Percent(f.Causes[0].Probability)
	}
	return p
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
func region(e *reconcile.Evidence, base instance, at law) [][2]float64 {
	parts := e.Board.Parts
	var out [][2]float64
	index := make([]int, len(parts))
	for {
		v := base
		for i, p := range parts {
			v.values[i] = p.Low() + (p.High()-p.Low())*float64(index[i])/(gridSteps-1)
		}
		if x, ok := at(v); ok {
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
func spread(e *reconcile.Evidence, base instance, at law) [2][2]float64 {
	d := e.Problem.Data[0]
	s := [2][2]float64{{d.High, d.Covariance}, {d.Covariance, d.Low}}
	if d.OnePulse {
		s = [2][2]float64{{d.High, 0}, {0, 0}}
	}
	for _, q := range e.Problem.Nuisance {
		a, okA := at(base.with(q.Slot, value(q, 0.8413)))
		b, okB := at(base.with(q.Slot, value(q, 0.1587)))
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

// curves are the causes that one parameter or one swap describes, the likeliest first. Two parts at once cover
// the plane, and the unexplained lies anywhere: neither has a curve.
func curves(f *compare.Finding, e *reconcile.Evidence, base instance, at law) []picture.Curve {
	byKey := map[string][]*cause.Case{}
	for i := range e.Cases {
		k := &e.Cases[i]
		key := cause.Key(k.Cause, k.Parts)
		byKey[key] = append(byKey[key], k)
	}
	var out []picture.Curve
	others := picture.Curve{Name: "other values", Dots: true, Plain: true}
	for _, c := range f.Causes {
		cases := byKey[cause.Key(c.Cause, c.Parts)]
		var k picture.Curve
		for _, one := range cases {
			k.Points = append(k.Points, sweep(e, one, len(cases) > 1, base, at)...)
		}
		if len(k.Points) == 0 {
			continue
		}
		k.Name, k.Probability = curveName(c), c.Probability
		k.Dots = len(cases) > 1 || len(k.Points) == 1
		if c.Cause == "other value" { // they lie on their parts' own lines: one entry for all
			others.Points = append(others.Points, k.Points...)
			others.Probability += k.Probability
			continue
		}
		out = append(out, k)
	}
	if len(others.Points) > 0 {
		out = append(out, others)
		slices.SortStableFunc(out, func(a, b picture.Curve) int { return -cmp.Compare(a.Probability, b.Probability) })
	}
	return out
}

// sweep moves what a case is about along its prior; a case among several alternatives is one place.
func sweep(e *reconcile.Evidence, k *cause.Case, alternative bool, base instance, at law) [][2]float64 {
	v := base
	for _, q := range k.Fixed {
		v = v.with(q.Slot, q.Value)
	}
	one := func(v instance) [][2]float64 {
		if x, ok := at(v); ok {
			return [][2]float64{x}
		}
		return nil
	}
	var slot circuit.Slot
	var moved posterior.Variable
	switch {
	case k.Unexplained:
		return nil
	case len(k.Override) == 1:
		slot, moved = k.Override[0].Slot, k.Override[0]
	case len(k.Parts) == 1:
		s, ok := e.Board.Circuit.Slot(k.Parts[0])
		if !ok || len(k.Prior) <= int(s) {
			return nil
		}
		slot, moved = s, posterior.Variable{Slot: s, Log: true, Density: k.Prior[s]}
	case k.Cause == "exchanged":
		for i, d := range k.Prior {
			v.values[i] = math.Exp(d.Quantile(0.5))
		}
		return one(v)
	default:
		return nil
	}
	if alternative {
		return one(v.with(slot, value(moved, 0.5)))
	}
	var out [][2]float64
	for i := range sweepSteps + 1 {
		x, ok := at(v.with(slot, value(moved, 0.01+0.98*float64(i)/sweepSteps)))
		if !ok {
			x = [2]float64{math.NaN(), math.NaN()}
		}
		out = append(out, x)
	}
	return out
}

// curveName is short enough for a key.
func curveName(c compare.Cause) string {
	parts := strings.Join(c.Parts, ", ")
	switch c.Cause {
	case "shifted":
		return parts + " shifted"
	case "exchanged":
		return strings.Join(c.Parts, "/") + " swapped"
	case "leakage":
		return parts + " leaking"
	case "thresholds":
		return "thresholds"
	case "discharge":
		return "weak switch"
	}
	return c.Cause
}
