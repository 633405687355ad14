package predict

import (
	"math/rand/v2"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// Draw gives n boards of a design: each part uniform within its tolerance, the timer's terms and the supply from their
// priors. It fails as Run does.
func Draw(d *fit.Design, n int, seed uint64) ([]circuit.Values, error) {
	found, err := circuit.Of(d)
	if err != nil {
		return nil, err
	}
	c := law{found, nil}
	v, err := c.Typical(d)
	if err != nil {
		return nil, err
	}
	if _, ok := c.quantities(&v); !ok {
		return nil, stands(c, d, v)
	}
	priors, err := c.Beliefs(d)
	if err != nil {
		return nil, err
	}
	rng := rand.New(rand.NewPCG(seed, 0x64726177))
	inputs := inputsOf(d, c, partsOf(c, d), priors)
	out := make([]circuit.Values, n)
	for i := range out {
		for _, in := range inputs {
			v[in.slot] = in.draw(rng)
		}
		out[i] = v
	}
	return out, nil
}
