package step

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// Part is the change of one part that would explain the steps of both times by itself.
type Part struct {
	Name        string
	Change      float64 // relative: 0.01 is 1 % up
	Uncertainty float64 // standard, relative
	// Fit is the probability that steps as far from this explanation as the measured ones arise by chance
	// (chi-square, one degree of freedom); NaN where one time alone was fitted and any part explains it.
	Fit float64
}

// Parts says for each part of the design which change of it would explain the relative steps of the high and
// the low time (steps of their logarithms), correlation being that of the two. It linearises the circuit's
// law about its typical values, which counts as modelled in how it fits. Of a single pulse the low time has no meaning and is not used.
func Parts(d *fit.Design, high, low Step, correlation float64) ([]Part, error) {
	c, err := circuit.Of(d)
	if err != nil {
		return nil, err
	}
	v, err := c.Typical(d)
	if err != nil {
		return nil, err
	}
	var parts []Part
	for i, spec := range c.Parts {
		gh, gl, ok := sensitivity(c, v, i)
		if !ok {
			return nil, fmt.Errorf("the %s circuit does not run with %s a little off its nominal value", c.Name, spec.Name)
		}
		if c.OnePulse {
			if gh != 0 {
				parts = append(parts, Part{spec.Name, high.Value / gh, math.Abs(high.Uncertainty / gh), math.NaN()})
			}
			continue
		}
		if p, ok := explain(gh, gl, high, low, correlation); ok {
			p.Name = spec.Name
			parts = append(parts, p)
		}
	}
	return parts, nil
}

// modelled is the standard uncertainty of a part's steps by the typical board's law, over the larger of them: what a bias, a delay or
// an on-resistance of this board's own, and the law's bend over a tenth, make of them (common practice).
const modelled = 0.02

// nudge is the relative change by which sensitivities are taken: its cube, the error of a central difference,
// is far below any step's uncertainty.
const nudge = 1e-4

// sensitivity is d ln high and d ln low over d ln part.
func sensitivity(c *circuit.Circuit, v circuit.Values, part int) (high, low float64, ok bool) {
	up, down := v, v
	up[part] *= 1 + nudge
	down[part] *= 1 - nudge
	h1, l1, ok1 := c.Times(&up)
	h0, l0, ok0 := c.Times(&down)
	per := math.Log1p(nudge) - math.Log1p(-nudge)
	return math.Log(h1/h0) / per, math.Log(l1/l0) / per, ok0 && ok1
}

// explain is the least-squares change of one part, weighted with the steps' covariance.
func explain(gh, gl float64, high, low Step, correlation float64) (p Part, ok bool) {
	a, b := high.Uncertainty*high.Uncertainty, low.Uncertainty*low.Uncertainty
	ab := correlation * high.Uncertainty * low.Uncertainty
	det := a*b - ab*ab
	if !(det > 0) {
		return p, false
	}
	// Information gᵀ V⁻¹ g, and gᵀ V⁻¹ s.
	info := (gh*gh*b - 2*gh*gl*ab + gl*gl*a) / det
	if !(info > 0) {
		return p, false
	}
	p.Change = (gh*(high.Value*b-low.Value*ab) + gl*(low.Value*a-high.Value*ab)) / det / info
	p.Uncertainty = 1 / math.Sqrt(info)
	rh, rl := high.Value-gh*p.Change, low.Value-gl*p.Change
	model := modelled * max(math.Abs(high.Value), math.Abs(low.Value))
	a, b = a+model*model, b+model*model
	chi := (rh*rh*b - 2*rh*rl*ab + rl*rl*a) / (a*b - ab*ab)
	p.Fit = distuv.ChiSquared{K: 1}.Survival(chi)
	return p, true
}
