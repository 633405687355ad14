package question

import (
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// Places of the extra quantities of a problem with a baseline, n being the number of parts: each part's logarithmic
// move; the logarithm of a part newly fitted, NaN where there is none; the logarithm of the part as it was; then the
// faults as they are now, NaN where they are as they were; then what the second-order terms have gained.
type Changed struct {
	n      int
	faults []circuit.Slot // those that may differ now
	terms  []circuit.Slot // the second-order terms that warmth and damp change a little
}

func (c Changed) move(part int) int  { return part }
func (c Changed) fresh(part int) int { return c.n + part }
func (c Changed) was(part int) int   { return 2*c.n + part }
func (c Changed) fault(k int) int    { return 3*c.n + k }
func (c Changed) term(k int) int     { return 3*c.n + len(c.faults) + k }

// Factor is what a part is now over what it was.
func (c Changed) Factor(s *posterior.Sample, part int) float64 {
	return s.Values[part] / math.Exp(s.Extra[c.was(part)])
}
