package comparetest

import (
	"math"
	"slices"
	"testing"

	"offbeat/fit"
	"offbeat/fit/fittest"
)

// The second other route, for the ideal family and a likelihood as narrow as it comes. There the times know nothing but the groups
// x = ln R1*C and y = ln R2*C (and the cause's own quantity q), so the evidence is the integral over x, y and q of the
// likelihood times the groups' prior density, which is the convolution of the parts' densities: the integral over c = ln C of
// pC(c) p1(x-c) p2(y-c). All of it is dense quadrature on grids that don't know where the mass lies, but for the span of the
// likelihood in x and y.

// quantity is the cause's own unknown: midpoints of a dense grid over its prior with their weights.
type quantity struct{ at, weight []float64 }

func gridOf(d density, count int) quantity {
	var g quantity
	low, high := d.breaks[0], d.breaks[len(d.breaks)-1]
	for i := range count {
		x := low + (high-low)*(float64(i)+0.5)/float64(count)
		g.at = append(g.at, x)
		g.weight = append(g.weight, d.at(x)*(high-low)/float64(count))
	}
	return g
}

// convolved is the density of the groups: the integral over c by three-node Gauss between all places where an integrand jumps.
func convolved(c density, parts []density, groups []float64) float64 {
	breaks := slices.Clone(c.breaks)
	low, high := breaks[0], breaks[len(breaks)-1]
	for i, p := range parts {
		for _, b := range p.breaks {
			breaks = append(breaks, groups[i]-b)
		}
		low = max(low, groups[i]-p.breaks[len(p.breaks)-1])
		high = min(high, groups[i]-p.breaks[0])
	}
	slices.Sort(breaks)
	sum := 0.
	for i, a := range breaks[:len(breaks)-1] {
		b := breaks[i+1]
		if a < low || b > high || a == b {
			continue
		}
		const pieces = 2
		for k := range pieces {
			from, width := a+(b-a)*float64(k)/pieces, (b-a)/pieces
			for _, node := range []struct{ at, weight float64 }{{0.1127016653792583, 5. / 18}, {0.5, 8. / 18}, {0.8872983346207417, 5. / 18}} {
				at := from + node.at*width
				f := c.at(at)
				for i, p := range parts {
					f *= p.at(groups[i] - at)
				}
				sum += node.weight * width * f
			}
		}
	}
	return sum
}

// otherValues is the whole mixture of another value fitted, as one density.
func otherValues(p fit.Part) density {
	var windows []density
	d := density{}
	all := candidates(p)
	for _, c := range all {
		w := inTolerance(fitted(p, c.value))
		windows = append(windows, w)
		d.breaks = append(d.breaks, w.breaks...)
	}
	slices.Sort(d.breaks)
	d.at = func(x float64) float64 {
		sum := 0.
		for i, w := range windows {
			sum += all[i].weight * w.at(x)
		}
		return sum
	}
	return d
}

// groupEvidence is the evidence of a cause by quadrature over its groups.
func groupEvidence(p *Problem, c Cause, v *values, points, grid int) float64 {
	var resistors []density
	var capacitor density
	for _, part := range p.Design.Parts {
		d := inTolerance(part)
		named := slices.Contains(c.Parts, part.Name)
		switch {
		case c.Name == Shifted && named:
			d = shifted(part)
		case c.Name == OtherValue && named:
			d = otherValues(part)
		}
		if part.Kind == fit.Resistor {
			resistors = append(resistors, d)
		} else {
			capacitor = d
		}
	}
	if c.Name == Exchanged {
		slices.Reverse(resistors)
	}
	board := fittest.Network{Circuit: p.Design.Circuit, Supply: 5, OutputHigh: 5, C: 1, Upper: 2. / 3, Lower: 1. / 3}
	q := quantity{[]float64{0}, []float64{1}}
	set := func(*state, float64) {}
	switch c.Name {
	case Leakage:
		q, set = gridOf(uniform(math.Log(2.2), math.Log(300)), grid), func(s *state, x float64) { s.n.Leak = math.Exp(x) * charging(&s.n) }
	case Thresholds:
		q, set = gridOf(uniform(0.4, 0.9), grid), func(s *state, x float64) { s.n.Upper, s.n.Lower = x, x/2 }
	case Discharge:
		q, set = gridOf(uniform(math.Log(0.01), 0), grid), func(s *state, x float64) { s.n.Weak = math.Exp(x) * s.n.R2 }
	case Clock:
		q, set = gridOf(normal(0, 0.02), grid), func(s *state, x float64) { s.lnClock = x }
	}
	sum := 0.
	for i, at := range q.at {
		times := func(groups []float64) ([2]float64, bool) {
			s := state{n: board}
			s.n.R1 = math.Exp(groups[0])
			if len(groups) == 2 {
				s.n.R2 = math.Exp(groups[1])
			}
			set(&s, at)
			return lnTimes(&s, v.times)
		}
		sum += q.weight[i] * overGroups(times, v, len(resistors), points, func(groups []float64) float64 {
			return convolved(capacitor, resistors, groups)
		})
	}
	return sum
}

// overGroups integrates likelihood times prior over the groups, on a grid of midpoints that spans 6.5 standard deviations of the
// likelihood about its maximum (10 points lie 1.3 of them apart, good to 2 exp(-2 pi²/1.69) = 2e-5); 0 where no groups give the times.
func overGroups(times func([]float64) ([2]float64, bool), v *values, n, points int, prior func([]float64) float64) float64 {
	centre, ok := zoom(times, v, n)
	if !ok {
		return 0
	}
	half := make([]float64, n)
	for k := range half {
		half[k] = reachOf(times, v, centre, k)
	}
	sum, cell := 0., 1.
	for _, h := range half {
		cell *= 2 * h / float64(points)
	}
	groups := make([]float64, n)
	for i := range int(math.Pow(float64(points), float64(n))) {
		for k := range groups {
			j := i
			if k == 1 {
				j = i / points
			}
			groups[k] = centre[k] + half[k]*(2*(float64(j%points)+0.5)/float64(points)-1)
		}
		ln, ok := times(groups)
		if !ok {
			continue
		}
		if l := v.density(ln[0], ln[1]); l > 1e-9*v.norm {
			sum += cell * l * prior(groups)
		}
	}
	return sum
}

// zoom finds the groups that fit best, by nested grids, each a third as wide as the one before.
func zoom(times func([]float64) ([2]float64, bool), v *values, n int) ([]float64, bool) {
	const steps = 13
	// Every group is a time over a number between 0.05 and 20.
	centre, half := make([]float64, n), make([]float64, n)
	for k := range centre {
		centre[k], half[k] = v.ln[0], 6
		if v.times == 2 {
			centre[k] = (v.ln[0] + v.ln[1]) / 2
		}
	}
	found := false
	for half[0] > 1e-9 {
		best, at := math.Inf(1), slices.Clone(centre)
		for i := range int(math.Pow(steps, float64(n))) {
			groups := []float64{centre[0] + half[0]*(2*float64(i%steps)/(steps-1)-1)}
			if n == 2 {
				groups = append(groups, centre[1]+half[1]*(2*float64(i/steps)/(steps-1)-1))
			}
			ln, ok := times(groups)
			if !ok {
				continue
			}
			found = true
			d, e := v.ln[0]-ln[0], v.ln[1]-ln[1]
			if m := v.precision[0]*d*d + v.precision[1]*e*e + 2*v.precision[2]*d*e; m < best {
				best, at = m, groups
			}
		}
		centre = at
		for k := range half {
			half[k] /= 3
		}
	}
	return centre, found
}

// reachOf is the half-width in group k that holds the likelihood: that of 6.5 standard deviations on its profile over the other group,
// found by the inverse of the likelihood's curvature, which is measured by differences.
func reachOf(times func([]float64) ([2]float64, bool), v *values, centre []float64, k int) float64 {
	n := len(centre)
	const h = 1e-6
	slope := make([][2]float64, n)
	at, _ := times(centre)
	for i := range slope {
		moved := slices.Clone(centre)
		moved[i] += h
		ln, _ := times(moved)
		slope[i] = [2]float64{(ln[0] - at[0]) / h, (ln[1] - at[1]) / h}
	}
	curvature := func(i, j int) float64 {
		a, b := slope[i], slope[j]
		return v.precision[0]*a[0]*b[0] + v.precision[1]*a[1]*b[1] + v.precision[2]*(a[0]*b[1]+a[1]*b[0])
	}
	c := curvature(k, k)
	if n == 2 {
		c -= sq(curvature(0, 1)) / curvature(1-k, 1-k)
	}
	return 6.5 / math.Sqrt(c)
}

// The reference against the quadrature over the groups, with times good to 1e-4, for boards that put the causes in doubt.
func TestReferenceAgainstConvolution(t *testing.T) {
	points, grid := 10, 400
	// High and low time over nominal: one that a leak or moved thresholds may explain, one that a weak switch may.
	leaky, weak := [2]float64{1.30, 0.93}, [2]float64{1.02, 1.25}
	factors := map[string][][2]float64{
		fittest.Astable: {leaky, weak}, fittest.AstableDiode: {weak}, fittest.AstableOutput: {leaky}, fittest.Monostable: {leaky},
	}
	if long() {
		points, grid = 20, 2000
		for circuit := range factors {
			factors[circuit] = [][2]float64{leaky, weak, {1, 1}, {1.03, 1.02}, {1.1, 1.1}, {0.93, 0.95}, {1.5, 1.5}, {2.2, 2.2}, {1.1, 0.97}}
		}
	}
	parts := []fit.Part{
		{Name: "R1", Kind: fit.Resistor, Nominal: 10e3, Minus: 0.05, Plus: 0.05},
		{Name: "R2", Kind: fit.Resistor, Nominal: 22e3, Minus: 0.02, Plus: 0.02},
		{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1},
	}
	for _, circuit := range Circuits[:4] { // those of one or two groups that hold one capacitor
		p := Problem{Design: fit.Design{Circuit: circuit, Parts: parts}}
		if len(Parts[circuit]) == 2 {
			p.Design.Parts = []fit.Part{parts[0], parts[2]}
		}
		for i, c := range AllCauses(circuit, p.Design.Parts, Ordinary) {
			if i > 0 {
				c.Odds = 0.1
			}
			p.Causes = append(p.Causes, c)
		}
		p.Design.Supply.Value = 5
		nominal, _ := lnTimes(nominalState(&p), 2)
		for _, f := range factors[circuit] {
			if circuit == fittest.AstableOutput {
				f[1] = f[0] * (1 + 1e-4) // its two times are one
			}
			high, low := f[0]*math.Exp(nominal[0]), f[1]*math.Exp(nominal[1])
			p.Measured.High = fit.Estimate{Value: high, Uncertainty: 1e-4 * high, Count: 9}
			p.Measured.Low = fit.Estimate{Value: low, Uncertainty: 2e-4 * low, Count: 9}
			p.Measured.Covariance = 0.3 * 1e-4 * 2e-4 * high * low
			a, err := Reference(&p, Options{Error: 0.001})
			if err != nil {
				t.Fatal(err)
			}
			v, _ := p.measured()
			var evidence []float64
			total := 0.
			for _, c := range p.Causes {
				var z float64
				if c.Name == Unexplained {
					z = missed(v.times, math.Log(f[0]), math.Log(f[1]))
				} else {
					z = groupEvidence(&p, c, &v, points, grid)
				}
				evidence = append(evidence, z)
				total += c.Odds * z
			}
			for k, c := range a.Causes {
				want := c.Odds * evidence[k] / total
				// The grid of 400 points resolves a cause's own quantity to a few thousandths of its evidence.
				if math.Abs(c.Probability-want) > 4*c.Error+0.003 {
					t.Errorf("%s times %v %v: reference %.4f ± %.4f, quadrature %.4f", circuit, f, c.Cause, c.Probability, c.Error, want)
				}
			}
		}
	}
}
