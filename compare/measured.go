package compare

import "offbeat/fit"

// Measured is a measured quantity: s, Hz or a ratio.
type Measured = fit.Estimate

// Predicted is what the design promises: nominal, and the worst case of its tolerances.
type Predicted struct {
	Nominal    float64    `json:"nominal"`
	Low        float64    `json:"low"`
	High       float64    `json:"high"`
	FirstOrder float64    `json:"first_order,omitempty"` // by the first-order formula, timer ideal; left out where that does not run
	RSS        [2]float64 `json:"root_sum_square"`       // limits at nominal ± root-sum-square of the parts' limits
	MonteCarlo [2]float64 `json:"monte_carlo95"`         // central 95 % with every part uniform in tolerance and the timer's terms drawn from their priors
}
