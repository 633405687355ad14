package comparetest

import (
	"fmt"
	"math"
	"slices"

	"offbeat/fit"
	"offbeat/fit/fittest"
)

// state is one board: its network, the ln of the factor by which the instrument's clock stretches the times, and what
// the capture is of.
type state struct {
	n       fittest.Network
	lnClock float64
	view    view
}

// view is what a capture is of.
type view int

const (
	ofTheOutput view = iota
	inverted
	ofTheNode // its edges midway between its ends
)

// way is a view with its probability, where it is a wrong one.
type way struct {
	view   view
	weight float64
}

// views are the wrong ways to look at a circuit, given that it is one of them; a sampled one needs to know its samples.
func views(circuit string) []way {
	if circuit == fittest.Multivibrator || circuit == fittest.AstableDiode { // no one node shows both thresholds; its charge bends
		return []way{{inverted, 1}}
	}
	return []way{{inverted, 4. / 7}, {ofTheNode, 3. / 7}}
}

// parameter is one independent unknown.
type parameter struct {
	name string
	density
	set func(s *state, x float64)
}

// hypothesis is a cause, or one of the ways that it can be, as independent parameters. The first ones are the parts in the
// design's order, as ln value; each set may rest on those before it.
type hypothesis struct {
	weight      float64 // prior probability of this way, given the cause
	base        state
	parameters  []parameter
	control     []fit.Reading // of the control pin
	shifted     bool          // some part may be far off
	unexplained bool
	wide        []values // unexplained, as likely each: the density of the times about the nominal prediction
	nominal     [2]float64
}

// setters of a part, by name.
var partSetters = map[string]func(*state, float64){
	"R1": func(s *state, x float64) { s.n.R1 = math.Exp(x) },
	"R2": func(s *state, x float64) { s.n.R2 = math.Exp(x) },
	"C1": func(s *state, x float64) { s.n.C = math.Exp(x) },
	"C2": func(s *state, x float64) { s.n.C2 = math.Exp(x) },
	"R3": func(s *state, x float64) { s.n.Feedback = 1 / (1 + s.n.R2*math.Exp(-x)) }, // R3/(R2+R3), R2 set before
}

// termTable names the second-order terms, in the order in which they are set.
var termTable = []struct {
	name string
	set  func(*state, float64)
}{
	{"upper", func(s *state, x float64) { s.n.Upper = x }},                              // ratio to the supply
	{"lower", func(s *state, x float64) { s.n.Lower = x }},                              // ratio to the supply
	{"lower_of_upper", func(s *state, x float64) { s.n.Lower = x * s.n.Upper }},         // ratio to the upper threshold
	{"saturation", func(s *state, x float64) { s.n.Saturation = x }},                    // V
	{"on_resistance", func(s *state, x float64) { s.n.OnResistance = x }},               // ohm
	{"delay_fall", func(s *state, x float64) { s.n.DelayFall = x }},                     // s
	{"delay_rise", func(s *state, x float64) { s.n.DelayRise = x }},                     // s
	{"delay", func(s *state, x float64) { s.n.DelayFall, s.n.DelayRise = x, x }},        // s, both
	{"bias", func(s *state, x float64) { s.n.Bias = x }},                                // A
	{"diode", func(s *state, x float64) { s.n.Diode = x }},                              // V
	{"output_high_drop", func(s *state, x float64) { s.n.OutputHigh = s.n.Supply - x }}, // V below the supply
	{"output_low", func(s *state, x float64) { s.n.OutputLow = x }},                     // V
	{"breakdown", func(s *state, x float64) { s.n.Breakdown = x }},                      // V
	{"base_emitter", func(s *state, x float64) { s.n.BaseEmitter = x }},                 // V
}

// charging is the resistance that charges the capacitor.
func charging(n *fittest.Network) float64 {
	if n.Circuit == fittest.Astable {
		return n.R1 + n.R2
	}
	return n.R1
}

// Possible says whether a circuit can have a cause.
func Possible(circuit, cause string) bool {
	switch cause {
	case Exchanged:
		return len(Parts[circuit]) > 2
	case Discharge:
		return circuit == fittest.Astable || circuit == fittest.AstableDiode
	case Thresholds: // those of a timer with a control pin
		return circuit != fittest.Schmitt && circuit != fittest.Multivibrator && circuit != fittest.Comparator
	case Leakage, Aged, Contact, Stray:
		return circuit != fittest.Multivibrator
	case WrongSignal:
		return circuit != fittest.Monostable
	}
	return true
}

// hypotheses turns a cause into the ways that it can be: one for each other value that may be fitted, else just one.
func (p *Problem) hypotheses(c Cause, v values) ([]*hypothesis, error) {
	if c.Name == WrongSignal {
		var all []*hypothesis
		for _, w := range views(p.Design.Circuit) {
			h, err := p.hypothesis(c, candidate{weight: w.weight}, v)
			if err != nil {
				return nil, err
			}
			h.base.view = w.view
			all = append(all, h)
		}
		return all, nil
	}
	if c.Name != OtherValue {
		h, err := p.hypothesis(c, candidate{weight: 1}, v)
		return []*hypothesis{h}, err
	}
	if len(c.Parts) != 1 || p.Design.Part(c.Parts[0]) == nil {
		return nil, fmt.Errorf("comparetest: %q needs one part of the design, got %v", c.Name, c.Parts)
	}
	var all []*hypothesis
	for _, other := range candidates(*p.Design.Part(c.Parts[0])) {
		h, err := p.hypothesis(c, other, v)
		if err != nil {
			return nil, err
		}
		all = append(all, h)
	}
	return all, nil
}

// hypothesis turns a cause, and the other value fitted if it is that, into its parameters.
func (p *Problem) hypothesis(c Cause, other candidate, v values) (*hypothesis, error) {
	d := &p.Design
	h := &hypothesis{weight: other.weight}
	h.base.n = fittest.Network{Circuit: d.Circuit, Upper: 2. / 3, Lower: 1. / 3}
	h.addParts(d, c, other.value)
	h.addSupply(d)
	if err := h.addTerms(p.Terms, c.Name == Thresholds); err != nil {
		return nil, err
	}
	for _, r := range d.Readings {
		if r.Name == "control" {
			h.control = append(h.control, r)
		}
	}
	limit := p.Measured.Clock
	switch c.Name {
	case Shifted:
		h.shifted = true
	case Nothing, OtherValue, Exchanged, WrongSignal:
	case Contact:
		h.add("contact", uniform(math.Log(contactLow), 0), func(s *state, x float64) { s.n.Contact = math.Exp(x) * charging(&s.n) })
	case Stray:
		h.add("stray", uniform(math.Log(leastStray), math.Log(mostStray)), func(s *state, x float64) { s.n.Stray = math.Exp(x) })
	case Leakage, Aged:
		h.shifted = c.Name == Aged
		h.add("leakage", uniform(math.Log(leakLow), math.Log(leakHigh)),
			func(s *state, x float64) { s.n.Leak = math.Exp(x) * charging(&s.n) })
	case Thresholds:
		h.add("control", uniform(controlLow, controlHigh), func(s *state, x float64) { s.n.Upper, s.n.Lower = x, x*s.n.Lower/s.n.Upper })
	case Discharge:
		h.add("discharge", uniform(math.Log(weakLow), math.Log(weakHigh)),
			func(s *state, x float64) { s.n.Weak = math.Exp(x) * s.n.R2 })
	case Clock:
		limit = 0
		h.add("clock", normal(0, clockSpread), func(s *state, x float64) { s.lnClock = x })
	case Unexplained:
		limit = 0
		if err := h.makeUnexplained(p, v); err != nil {
			return nil, err
		}
	default:
		return nil, fmt.Errorf("comparetest: unknown cause %q", c.Name)
	}
	if limit > 0 {
		h.add("clock", uniform(-limit, limit), func(s *state, x float64) { s.lnClock = x })
	}
	return h, nil
}

func (h *hypothesis) add(name string, d density, set func(*state, float64)) {
	h.parameters = append(h.parameters, parameter{name, d, set})
}

// addParts gives each part the prior that the cause means for it; other is the nominal of the value fitted instead.
func (h *hypothesis) addParts(d *fit.Design, c Cause, other float64) {
	for _, part := range d.Parts {
		prior := inTolerance(part)
		named := slices.Contains(c.Parts, part.Name)
		switch {
		case c.Name == Shifted && named:
			prior = shifted(part)
		case c.Name == Aged && named:
			prior = aged(part)
		case c.Name == OtherValue && named:
			prior = inTolerance(fitted(part, other))
		case c.Name == Exchanged:
			prior = inTolerance(sitsAt(d, c, part.Name))
		}
		h.add(part.Name, prior.read(readingsOf(d, part.Name), math.Exp, math.Log), partSetters[part.Name])
	}
}

func readingsOf(d *fit.Design, name string) []fit.Reading {
	var all []fit.Reading
	for _, r := range d.Readings {
		if r.Name == name {
			all = append(all, r)
		}
	}
	return all
}

// addSupply makes the supply a parameter where it isn't given exactly.
func (h *hypothesis) addSupply(d *fit.Design) {
	set := func(s *state, x float64) { s.n.Supply, s.n.OutputHigh, s.n.Reference = x, x, x/2 }
	value := d.Supply.Value
	if value == 0 {
		value = defaultSupply
	}
	set(&h.base, value)
	prior := uniform(value-d.Supply.Half, value+d.Supply.Half)
	if d.Supply.Standard > 0 {
		prior = normal(value, d.Supply.Standard)
	} else if d.Supply.Half == 0 {
		return
	}
	same := func(x float64) float64 { return x }
	h.add("supply", prior.read(readingsOf(d, "supply"), same, same), set)
}

// addTerms adds the second-order terms; where the thresholds are the cause, the upper one gives way to it.
func (h *hypothesis) addTerms(terms []Term, thresholds bool) error {
	found := 0
	for _, row := range termTable {
		for _, t := range terms {
			if t.Name != row.name {
				continue
			}
			found++
			if thresholds && t.Name == "upper" { // the ratio of the two keeps its spread
				continue
			}
			h.add(t.Name, t.prior(), row.set)
		}
	}
	if found != len(terms) {
		return fmt.Errorf("comparetest: an unknown or doubled term in %v", terms)
	}
	return nil
}

// makeUnexplained centres the ln times on the nominal prediction: parts nominal, terms at their mean.
func (h *hypothesis) makeUnexplained(p *Problem, v values) error {
	s := h.base
	for _, part := range p.Design.Parts {
		partSetters[part.Name](&s, math.Log(part.Nominal))
	}
	for _, row := range termTable {
		for _, t := range p.Terms {
			if t.Name == row.name {
				row.set(&s, t.mean())
			}
		}
	}
	high, low, ok := Times(&s.n)
	if !ok {
		return fmt.Errorf("comparetest: the nominal circuit does not run: %+v", s.n)
	}
	h.unexplained = true
	h.nominal = [2]float64{math.Log(high), math.Log(low)}
	for _, sd := range misfits {
		w := v
		w.cov[0] += sd * sd
		w.cov[1] += sd * sd
		w, err := w.invert()
		if err != nil {
			return err
		}
		h.wide = append(h.wide, w)
	}
	return nil
}

// mean of the term where that is simple: of the uniform, and of the normal before any cut.
func (t Term) mean() float64 {
	if t.SD > 0 {
		return t.Mean
	}
	return (t.Low + t.High) / 2
}

// state is the board with parameters x.
func (h *hypothesis) state(x []float64) state {
	s := h.base
	for i := range h.parameters {
		h.parameters[i].set(&s, x[i])
	}
	return s
}

// lnTimes are the ln times that the instrument shows for a board; ok is false if it doesn't run.
func lnTimes(s *state, times int) (ln [2]float64, ok bool) {
	high, low, ok := Times(&s.n)
	switch s.view {
	case inverted:
		high, low = low, high
	case ofTheNode:
		if ok {
			high, low, ok = midway(&s.n)
		}
	}
	ln[0] = math.Log(high) + s.lnClock
	if times == 2 {
		ln[1] = math.Log(low) + s.lnClock
	}
	return ln, ok && !math.IsInf(ln[0], 0) && !math.IsInf(ln[1], 0) && !math.IsNaN(ln[0]+ln[1])
}

// likelihood of the times and of the control pin's readings for a board with parameters x.
func (h *hypothesis) likelihood(x []float64, v *values) float64 {
	s := h.state(x)
	l := 1.
	if h.unexplained {
		l = 0
		for i := range h.wide {
			l += h.wide[i].density(h.nominal[0], h.nominal[1]) / float64(len(h.wide))
		}
	} else if ln, ok := lnTimes(&s, v.times); ok {
		l = v.density(ln[0], ln[1])
	} else {
		return 0
	}
	for _, r := range h.control {
		l *= likelihood(r, s.n.Upper*s.n.Supply)
	}
	return l
}
