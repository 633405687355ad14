// Package predict says what times a design promises: nominal, by the first-order formula, in the worst case of
// its parts' tolerances, by root-sum-square, and by Monte Carlo with the timer's own spread.
package predict

import (
	"fmt"
	"math"
	"math/rand/v2"

	"offbeat/acquire/quantity"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// Quantities are the names of what is predicted, in the order of Result.Bands.
var Quantities = []string{"high_time", "low_time", "period", "frequency", "duty_factor"}

// Band is the prediction of one quantity in its SI unit.
type Band struct {
	Nominal    float64    // parts nominal, timer typical
	FirstOrder float64    // parts nominal, timer ideal; 0: it does not run
	Worst      [2]float64 // all combinations of the parts' tolerance limits, timer typical
	RSS        [2]float64 // nominal ± root-sum-square of each part's own largest effect, timer typical
	MonteCarlo [2]float64 // central 95 %, each part uniform in tolerance, the timer's terms and the supply from their priors
}

// Row is one line of the uncertainty budget (JCGM 100 5.1): what one input's standard uncertainty does.
type Row struct {
	Input        string     // a part, a second-order term, the supply
	Value        float64    // typical, SI unit
	Uncertainty  float64    // standard, same unit
	Distribution string     // "rectangular" or "normal"
	Effect       [5]float64 // relative standard uncertainty that it gives each of Quantities
	Shift        [5]float64 // relative difference that its typical value makes against the ideal timer (0 for parts)
	Source       string
}

// Result holds one band a quantity; a single pulse has the high time alone.
type Result struct {
	Bands    []Band
	OnePulse bool
	Sets     string // which parts set the high time and which the low time; empty: some set both
	Budget   []Row
	Warnings []string
	boards   [][5]float64 // of the Monte Carlo, those that run
}

const draws = 4096 // of the Monte Carlo: its 95 % limits repeat to about 3 % of their width

// law is a circuit under conditions of its own.
type law struct {
	*circuit.Circuit
	adjust func(v *circuit.Values) // puts the conditions in; nil: none
}

// quantities are the five of one instance; false where it does not run.
func (c law) quantities(v *circuit.Values) ([5]float64, bool) {
	if c.adjust != nil {
		w := *v
		c.adjust(&w)
		v = &w
	}
	return Of(c.Circuit, v)
}

// Run predicts a design. It fails where the circuit is unknown, lacks a part, or does not run with its nominal parts.
func Run(d *fit.Design) (*Result, error) {
	c, err := circuit.Of(d)
	if err != nil {
		return nil, err
	}
	return RunWith(d, c, nil)
}

// RunWith is Run of the design's circuit under conditions that adjust puts into a board's values, such as a probe across the
// capacitor.
func RunWith(d *fit.Design, of *circuit.Circuit, adjust func(v *circuit.Values)) (*Result, error) {
	c := law{of, adjust}
	typical, err := c.Typical(d)
	if err != nil {
		return nil, err
	}
	priors, err := c.Beliefs(d)
	if err != nil {
		return nil, err
	}
	nominal, ok := c.quantities(&typical)
	if !ok {
		return nil, stands(c, d, typical)
	}
	ideal := circuit.Ideal(d.Supply.Value)
	if err := c.Fill(&ideal, d); err != nil {
		return nil, err
	}
	first, runs := c.quantities(&ideal)
	if !runs {
		first = [5]float64{}
	}
	r := &Result{OnePulse: c.OnePulse, Sets: c.Sets(&typical), Bands: make([]Band, len(Quantities))}
	for q := range r.Bands {
		r.Bands[q] = Band{Nominal: nominal[q], FirstOrder: first[q], Worst: [2]float64{nominal[q], nominal[q]}}
	}
	parts := partsOf(c, d)
	r.worstCase(c, typical, parts)
	r.rootSumSquare(c, typical, parts)
	inputs := inputsOf(d, c, parts, priors)
	r.monteCarlo(c, typical, inputs)
	r.budget(c, typical, ideal, inputs)
	if !runs {
		r.Warnings = append(r.Warnings, "with an ideal device, of which the first-order formula is, the circuit does not run: "+c.Stuck(&ideal))
	}
	return r, nil
}

// StandsError says that a design's circuit does not run, and why.
type StandsError struct {
	File, Circuit string
	Supply        float64 // V
	Why           string  // with the number that shows it
}

func (e *StandsError) Error() string {
	where := ""
	if e.File != "" {
		where = e.File + ": "
	}
	return fmt.Sprintf("%sthe %s circuit does not run with its nominal parts and a supply of %g V; %s", where, e.Circuit, e.Supply, e.Why)
}

// stands says that the circuit does not run, with the number that shows it where its law tells one.
func stands(c law, d *fit.Design, typical circuit.Values) error {
	if c.adjust != nil {
		c.adjust(&typical)
	}
	because := "expected the capacitor to reach both thresholds: no timing resistor so small that the discharge switch cannot pull against it, none so large that the threshold pin's current takes all of its own"
	if why := c.Stuck(&typical); why != "" {
		because = why
	}
	if c.Crossed(&typical) {
		because += "; with the comparator's plus and minus inputs exchanged it would run"
	}
	return &StandsError{d.File, c.Name, typical[circuit.Supply], because}
}

// Of gives the five quantities of one instance of a circuit; false where it does not run.
func Of(c *circuit.Circuit, v *circuit.Values) ([5]float64, bool) {
	h, l, ok := c.Times(v)
	return Quantify(h, l, c.OnePulse), ok
}

// Quantify gives the five quantities of a high and a low time in s; of one pulse the high time alone.
func Quantify(high, low float64, onePulse bool) [5]float64 {
	if onePulse {
		return [5]float64{high}
	}
	return [5]float64{high, low, high + low, 1 / (high + low), high / (high + low)}
}

func partsOf(c law, d *fit.Design) []fit.Part {
	parts := make([]fit.Part, len(c.Parts))
	for i, s := range c.Parts {
		parts[i] = *d.Part(s.Name)
	}
	return parts
}

// mostCorners is how many parts are tried at every combination of their limits.
const mostCorners = 10

// worstCase tries every combination of the parts' limits; of many parts those that drive a quantity each to one side.
func (r *Result) worstCase(c law, v circuit.Values, parts []fit.Part) {
	var active []int
	for i := range parts {
		if !c.Parts[i].Idle {
			active = append(active, i)
		}
	}
	note := func(v *circuit.Values) {
		x, ok := c.quantities(v)
		if !ok {
			r.Warnings = append(r.Warnings, "with parts at their tolerance limits the circuit may not run")
			return
		}
		for q := range r.Bands {
			w := &r.Bands[q].Worst
			w[0], w[1] = min(w[0], x[q]), max(w[1], x[q])
		}
	}
	if len(active) > mostCorners {
		r.driven(c, v, parts, active, note)
		return
	}
	for corner := range 1 << len(active) {
		for k, i := range active {
			v[i] = parts[i].Low()
			if corner>>k&1 == 1 {
				v[i] = parts[i].High()
			}
		}
		note(&v)
	}
}

// driven puts every part at the limit that drives a quantity up, then down, quantity by quantity.
func (r *Result) driven(c law, v circuit.Values, parts []fit.Part, active []int, note func(v *circuit.Values)) {
	for q := range r.Bands {
		up, down := v, v
		for _, i := range active {
			w := v
			w[i] = parts[i].High()
			x, ok := c.quantities(&w)
			if up[i], down[i] = parts[i].High(), parts[i].Low(); ok && x[q] < r.Bands[q].Nominal {
				up[i], down[i] = down[i], up[i]
			}
		}
		note(&up)
		note(&down)
	}
}

// rootSumSquare adds each part's own effects, downwards and upwards apart.
func (r *Result) rootSumSquare(c law, typical circuit.Values, parts []fit.Part) {
	var down, up [5]float64
	for i, p := range parts {
		var low, high [5]float64
		for _, limit := range []float64{p.Low(), p.High()} {
			v := typical
			v[i] = limit
			x, ok := c.quantities(&v)
			for q := range r.Bands {
				if d := x[q] - r.Bands[q].Nominal; ok {
					low[q], high[q] = min(low[q], d), max(high[q], d)
				}
			}
		}
		for q := range r.Bands {
			down[q] = math.Hypot(down[q], low[q])
			up[q] = math.Hypot(up[q], high[q])
		}
	}
	for q := range r.Bands {
		n := r.Bands[q].Nominal
		r.Bands[q].RSS = [2]float64{n - down[q], n + up[q]}
	}
}

// input is one uncertain slot.
type input struct {
	circuit.Prior
	typical float64
	timer   bool
}

func inputsOf(d *fit.Design, c law, parts []fit.Part, priors []circuit.Prior) []input {
	var in []input
	for i, p := range parts {
		if c.Parts[i].Idle {
			continue
		}
		in = append(in, input{circuit.Prior{Slot: circuit.Slot(i), Name: p.Name, Form: circuit.Uniform, A: p.Low(), B: p.High(), Source: "tolerance, JCGM 100 4.3.7"}, p.Nominal, false})
	}
	for _, p := range priors {
		in = append(in, input{p, p.Typical(), true})
	}
	switch s := d.Supply; {
	case !c.Reads(circuit.Supply):
	case s.Standard > 0:
		in = append(in, input{circuit.Prior{Slot: circuit.Supply, Name: "supply", Form: circuit.Normal, A: s.Value, B: s.Standard, Source: "as stated"}, s.Value, false})
	case s.Half > 0:
		in = append(in, input{circuit.Prior{Slot: circuit.Supply, Name: "supply", Form: circuit.Uniform, A: s.Value - s.Half, B: s.Value + s.Half, Source: "as stated"}, s.Value, false})
	}
	return in
}

func (in input) draw(rng *rand.Rand) float64 {
	if in.Form == circuit.Normal {
		return in.A + in.B*rng.NormFloat64()
	}
	return in.A + (in.B-in.A)*rng.Float64()
}

// monteCarlo draws all inputs; the seed is fixed, so that the same design gives the same limits.
func (r *Result) monteCarlo(c law, v circuit.Values, inputs []input) {
	rng := rand.New(rand.NewPCG(0x6f666662, 0x65617400))
	r.boards = make([][5]float64, 0, draws)
	for range draws {
		for _, in := range inputs {
			v[in.Slot] = in.draw(rng)
		}
		if x, ok := c.quantities(&v); ok {
			r.boards = append(r.boards, x)
		}
	}
	n := len(r.boards)
	if failed := draws - n; failed > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("in %s of the draws the circuit does not run", quantity.Probability(float64(failed)/draws)))
	}
	x := make([]float64, n)
	for q := range r.Bands {
		for i := range r.boards {
			x[i] = r.boards[i][q]
		}
		if n > 0 {
			low, high := n*25/1000, n*975/1000
			first := smallest(x, low)
			r.Bands[q].MonteCarlo = [2]float64{first, smallest(x[low:], high-low)}
		}
	}
}

// smallest is the k-th smallest number of x, from 0: it comes to place k, those that are no larger before it, the others behind it
// (Hoare's selection).
func smallest(x []float64, k int) float64 {
	for from, to := 0, len(x)-1; from < to; {
		middle, i, j := x[k], from, to
		for i <= j {
			for x[i] < middle {
				i++
			}
			for middle < x[j] {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i, j = i+1, j-1
			}
		}
		if j < k {
			from = i
		}
		if k < i {
			to = j
		}
	}
	return x[k]
}

// budget perturbs one input after the other by its standard uncertainty.
func (r *Result) budget(c law, typical, ideal circuit.Values, inputs []input) {
	relative := func(v circuit.Values, slot circuit.Slot, x float64) (out [5]float64, ok bool) {
		v[slot] = x
		y, ok := c.quantities(&v)
		for q := range out {
			if n := r.Bands[q].Nominal; n != 0 {
				out[q] = y[q]/n - 1
			}
		}
		return out, ok
	}
	for _, in := range inputs {
		u := in.Deviation()
		row := Row{Input: in.Name, Value: in.typical, Uncertainty: u, Distribution: "rectangular", Source: in.Source}
		if in.Form == circuit.Normal {
			row.Distribution = "normal"
		}
		up, upOK := relative(typical, in.Slot, in.typical+u)
		down, downOK := relative(typical, in.Slot, in.typical-u)
		if !upOK || !downOK {
			r.Warnings = append(r.Warnings, in.Name+": one standard uncertainty away the circuit does not run; left out of the budget")
			continue
		}
		for q := range row.Effect {
			row.Effect[q] = math.Abs(up[q]-down[q]) / 2
		}
		if in.timer {
			without, ok := relative(typical, in.Slot, ideal[in.Slot])
			for q := range row.Shift {
				if ok {
					row.Shift[q] = -without[q]
				}
			}
		}
		r.Budget = append(r.Budget, row)
	}
}

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
			v[in.Slot] = in.draw(rng)
		}
		out[i] = v
	}
	return out, nil
}
