package cause

import (
	"math"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
	"offbeat/fit/wiring"
)

// Board is a design made ready for the hypotheses.
type Board struct {
	Design    *fit.Design
	Circuit   *circuit.Circuit
	Parts     []fit.Part          // in the circuit's order
	Tolerance []posterior.Density // each part in tolerance, its reading taken in; one that has no bearing on the times is as unread
	loose     []posterior.Density // the same, but a part that was read may also be out of it, as often as its odds say
	Interval  float64             // s, between the samples of the captures; 0: not sampled, or not known
	TimeUnit  string              // what the times of the captures were read in; empty: they say their own, or differ
	Inverted  bool                // the captured signal was turned as it was read
	Ramps     bool                // the captured signal dwells at no two levels, as an output does
	Waveform  bool                // the capacitor's voltage was seen, both thresholds of it
	Settings  int                 // sets of conditions under which it was captured
	odds      *Odds
	readings  []fit.Reading // one a part; Value 0 where there is none
	control   fit.Reading   // of the control pin as a ratio to the supply; Value 0 where there is none
}

// NewBoard checks the design against its circuit and takes its direct readings in.
func NewBoard(d *fit.Design) (*Board, error) {
	c, err := circuit.Of(d)
	if err != nil {
		return nil, err
	}
	var nominal circuit.Values
	if err := c.Fill(&nominal, d); err != nil {
		return nil, err
	}
	b := &Board{Design: d, Circuit: c, odds: NewOdds(d), readings: make([]fit.Reading, len(c.Parts))}
	for i, s := range c.Parts {
		p := *d.Part(s.Name)
		b.Parts = append(b.Parts, p)
		if !s.Idle {
			b.readings[i] = find(d.Readings, s.Name)
		}
		b.Tolerance = append(b.Tolerance, b.Read(i, posterior.UniformValue(limits(p, p.Nominal))))
	}
	b.loose = b.InTolerance() // until Cases knows the odds of a part's being out of it
	for _, name := range b.diodes() {
		b.odds.classes[name] = "diode"
	}
	if c.ControlAlone("control") {
		b.control = ratio(find(d.Readings, "control"), d.Supply)
	}
	return b, nil
}

func find(readings []fit.Reading, name string) fit.Reading {
	for _, r := range readings {
		if r.Name == name {
			return r
		}
	}
	return fit.Reading{}
}

// ratio divides a reading in volts by the supply; limits add, standard uncertainties too (JCGM 100 5.2.2,
// taken as fully correlated, which errs on the wide side).
func ratio(r, supply fit.Reading) fit.Reading {
	if r.Value == 0 || supply.Value == 0 {
		return fit.Reading{}
	}
	q := r.Value / supply.Value
	if r.Standard > 0 {
		return fit.Reading{Name: r.Name, Value: q, Standard: (r.Standard + q*max(supply.Standard, supply.Half/math.Sqrt(3))) / supply.Value}
	}
	return fit.Reading{Name: r.Name, Value: q, Half: (r.Half + q*max(supply.Half, 2*supply.Standard)) / supply.Value}
}

// limits is the tolerance band of a part about a value. A part stated without tolerance gets one of a
// millionth, so that its density exists.
func limits(p fit.Part, value float64) (low, high float64) {
	return value * (1 - max(p.Minus, 1e-6)), value * (1 + max(p.Plus, 1e-6))
}

// Read multiplies a density of part i's logarithm by the likelihood of its direct reading: inside the
// limits or not for a rectangular one, normal for one with a coverage factor. Constants that all
// hypotheses share are left out.
func (b *Board) Read(i int, d posterior.Density) posterior.Density {
	r := b.readings[i]
	switch {
	case r.Value == 0:
		return d
	case r.Standard > 0:
		low := max(r.Value-7*r.Standard, r.Value*1e-3)
		return d.Times(math.Log(low), math.Log(r.Value+7*r.Standard), func(x float64) float64 {
			z := (math.Exp(x) - r.Value) / r.Standard
			return -0.5 * z * z
		})
	default:
		low := max(r.Value-r.Half, r.Value*1e-6)
		return d.Window(math.Log(low), math.Log(r.Value+r.Half))
	}
}

// ReadControl does the same for a density of the upper threshold ratio.
func (b *Board) ReadControl(d posterior.Density) posterior.Density { return ReadPlain(d, b.control) }

// ReadPlain multiplies a density of a plain value by the likelihood of its reading, constants left out.
func ReadPlain(d posterior.Density, r fit.Reading) posterior.Density {
	switch {
	case r.Value == 0:
		return d
	case r.Standard > 0:
		return d.Times(r.Value-7*r.Standard, r.Value+7*r.Standard, func(x float64) float64 {
			z := (x - r.Value) / r.Standard
			return -0.5 * z * z
		})
	default:
		return d.Window(r.Value-r.Half, r.Value+r.Half)
	}
}

// InTolerance copies the parts' priors so that a case may replace some.
func (b *Board) InTolerance() []posterior.Density {
	return append([]posterior.Density(nil), b.Tolerance...)
}

// Loose copies the parts' priors for a cause that is not in their values: beside it a part that was read may be out of its
// tolerance all the same, as its reading may say.
func (b *Board) Loose() []posterior.Density { return append([]posterior.Density(nil), b.loose...) }

// part makes the parameter that reads part i.
func (b *Board) part(i int) []*Parameter {
	return []*Parameter{{b.Parts[i].Name, b.Circuit.Parts[i].Kind.Unit().InJSON(), b.Parts[i].Nominal, func(v *circuit.Values) float64 { return v[i] }}}
}

// count is how many parts of a kind the board has, but for those that have no bearing on the times.
func (b *Board) count(kind fit.PartKind) int {
	n := 0
	for i, p := range b.Parts {
		if p.Kind == kind && !b.Circuit.Parts[i].Idle {
			n++
		}
	}
	return n
}

// capacitor is the index of the timing capacitor.
func (b *Board) capacitor() int { return b.Circuit.Capacitor() }

// leak is a leakage across a capacitor that swings: its part's index and its slot.
type leak struct {
	part int
	slot circuit.Slot
}

// leaks are those that the circuit's law knows.
func (b *Board) leaks() []leak {
	var out []leak
	for i, p := range b.Parts {
		if slot, ok := b.Circuit.Leak(p.Name); ok && !b.Circuit.Parts[i].Idle {
			out = append(out, leak{i, slot})
		}
	}
	return out
}

// swinging names the parts that have a bearing on the times, the diodes last.
func (b *Board) swinging() []string {
	var out []string
	for i, p := range b.Parts {
		if !b.Circuit.Parts[i].Idle {
			out = append(out, p.Name)
		}
	}
	return append(out, b.diodes()...)
}

func (b *Board) diodes() []string { return Diodes(b.Circuit) }

// Diodes names the diodes of a circuit's wiring that have a bearing on the times.
func Diodes(c *circuit.Circuit) []string {
	var out []string
	if w := c.Wiring; w != nil {
		for i := range w.Cards {
			if w.Cards[i].Kind == wiring.Diode && !w.Idle(&w.Cards[i]) {
				out = append(out, w.Cards[i].Name)
			}
		}
	}
	return out
}

// logAt is the logarithm of a reading's likelihood at a value, constants left out.
func logAt(r fit.Reading, x float64) float64 {
	switch {
	case r.Value == 0:
		return 0
	case r.Standard > 0:
		z := (x - r.Value) / r.Standard
		return -0.5 * z * z
	case math.Abs(x-r.Value) <= r.Half:
		return 0
	}
	return math.Inf(-1)
}
