package circuit

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"offbeat/fit"
)

// Form is the distribution of a type-B prior (JCGM 100 4.3).
type Form int

const (
	Uniform Form = iota // between A and B (JCGM 100 4.3.7)
	Normal              // mean A, standard deviation B
)

// Prior is what is believed about one second-order term before anything is measured.
type Prior struct {
	Slot   Slot
	Name   string // in plain words
	Form   Form
	A, B   float64 // SI unit of the slot
	Source string
}

// Typical is the prior's mean.
func (p Prior) Typical() float64 {
	if p.Form == Normal {
		return p.A
	}
	return (p.A + p.B) / 2
}

// The makers of one timer type disagree by more than their own stated error: astable error 2.25 % typical
// in one sheet (SLFS022A p. 5), 5 % typical and 13 % at most in another (Philips NE555), a 4.3 % lower
// constant and thresholds of 0.65 and 0.31 of the supply in a third (Philips ICM7555 p. 339). The two
// threshold priors are as wide as that: the third's typical values lie 1.7 and 1.8 standard deviations out.
var thresholds = []Prior{
	{Upper, "upper threshold ratio", Normal, 2. / 3, 0.010, "spread of the makers' timing errors and thresholds: SLFS022A p. 5, Philips NE555, Philips ICM7555 p. 339"},
	{Half, "lower over upper threshold", Normal, 1. / 2, 0.0125, "spread of the makers' timing errors and thresholds: SLFS022A p. 5, Philips NE555, Philips ICM7555 p. 339"},
}

// families lists the second-order terms of each timer family; a slot that is missing is ideal.
var families = map[string][]Prior{
	fit.Ideal: nil,
	fit.Bipolar: append(thresholds[:2:2],
		Prior{SwitchVoltage, "discharge saturation voltage", Uniform, 0, 0.050, "80 mV typical, 200 mV at most at 4.5 mA less the on-resistance's share (SNAS548D 6.5); far less at timing currents, common practice"},
		Prior{SwitchResistance, "discharge on-resistance", Uniform, 5, 45, "80 … 200 mV at 4.5 mA, 180 … 480 mV at 15 mA (ST Doc ID 2182 table 3)"},
		Prior{DelayFall, "delay from upper threshold to output fall", Uniform, 0.1e-6, 2e-6, "0.5 µs typical, 2 µs at most (Philips NE555, turn-off time)"},
		Prior{DelayRise, "delay from lower threshold to output rise", Uniform, 0.1e-6, 1e-6, "0.5 µs typical (ST Doc ID 2182 table 3), half the turn-off limit, common practice"},
		Prior{Bias, "threshold pin current", Uniform, 0, 250e-9, "30 nA typical, 250 nA at most (SLFS022A p. 4)"},
		Prior{DiodeDrop, "diode drop", Uniform, 0.45, 0.75, "0.62 … 0.72 V at 5 mA, about 0.1 V less a decade of current (1N4448 sheet; diode law from memory)"},
		Prior{OutputDrop, "output high level below supply", Uniform, 0, 1.7, "1.7 V at 100 mA (SNAS548D); a rail-to-rail stage 0"},
		Prior{OutputLow, "output low level", Uniform, 0, 0.2, "0.1 V typical at 5 mA (SLFS022A p. 4)"},
	),
	fit.CMOS: append(thresholds[:2:2],
		Prior{SwitchResistance, "discharge on-resistance", Uniform, 5, 50, "0.14 V typical, 0.5 V at most at 10 mA (SLFS043C p. 9)"},
		Prior{DelayFall, "delay from upper threshold to output fall", Uniform, 0.1e-6, 0.3e-6, "100 ns typical (SNAS558J p. 4); 144 … 320 ns from the maximum frequency (SLFS043C p. 9)"},
		Prior{DelayRise, "delay from lower threshold to output rise", Uniform, 0.1e-6, 0.3e-6, "100 ns typical (SNAS558J p. 4); 144 … 320 ns from the maximum frequency (SLFS043C p. 9)"},
		Prior{Bias, "threshold pin current", Uniform, 0, 1e-9, "10 pA typical (SLFS043C p. 9); a hundred times that for heat and board leakage, common practice"},
		Prior{DiodeDrop, "diode drop", Uniform, 0.45, 0.75, "0.62 … 0.72 V at 5 mA, about 0.1 V less a decade of current (1N4448 sheet; diode law from memory)"},
		Prior{OutputDrop, "output high level below supply", Uniform, 0, 0.1, "0.2 V typical at 1 mA (SLFS043C p. 9), a fraction of that current"},
		Prior{OutputLow, "output low level", Uniform, 0, 0.05, "0.2 V at 1 mA, a fraction of that current, common practice"},
	),
}

// Priors returns the second-order priors of a family for the terms that the circuit uses, in slot order of
// the circuit's table.
func (c *Circuit) Priors(family string) ([]Prior, error) {
	table := families
	if c.Families != nil {
		table = c.Families
	}
	all, ok := table[family]
	if !ok {
		return nil, fmt.Errorf("unknown family %q for the %s circuit; expected %s", family, c.Name, strings.Join(slices.Sorted(maps.Keys(table)), ", "))
	}
	var used []Prior
	for _, s := range c.Terms {
		for _, p := range all {
			if p.Slot == s {
				used = append(used, p)
			}
		}
	}
	return used, nil
}

// Unsaid says what becomes of a family that the design does not state.
func (c *Circuit) Unsaid() string {
	if len(c.Suits) < 2 {
		return "taken as " + c.Default
	}
	var all []string
	for _, s := range c.Suits {
		all = append(all, fmt.Sprintf("%s %g", s.Family, s.Weight))
	}
	return fmt.Sprintf("taken as %s for what is predicted; the causes weigh %s", c.Default, strings.Join(all, " against "))
}

// Beliefs returns the design's priors: those of its family, the thresholds replaced by what the design states.
func (c *Circuit) Beliefs(d *fit.Design) ([]Prior, error) {
	priors, err := c.Priors(d.Family)
	if err != nil {
		return nil, err
	}
	if d.Upper.Value > 0 {
		priors = replace(priors, stated(Upper, "upper threshold ratio", d.Upper))
	}
	if d.Lower.Value > 0 {
		up := d.Upper
		if up.Value == 0 {
			up.Value = 2. / 3
		}
		// Relative limits add (JCGM 100 5.1.6 would add squares; both may come from one meter).
		half := fit.Reading{Value: d.Lower.Value / up.Value}
		half.Half = half.Value * (d.Lower.Half/d.Lower.Value + up.Half/up.Value)
		half.Standard = half.Value * (d.Lower.Standard/d.Lower.Value + up.Standard/up.Value)
		priors = replace(priors, stated(Half, "lower over upper threshold", half))
	}
	return priors, nil
}

// stated turns a design's own figure into a prior; one without limits is taken as good to a millionth.
func stated(s Slot, name string, r fit.Reading) Prior {
	if r.Standard > 0 {
		return Prior{s, name, Normal, r.Value, r.Standard, "as the design states"}
	}
	h := max(r.Half, 1e-6*r.Value)
	return Prior{s, name, Uniform, r.Value - h, r.Value + h, "as the design states"}
}

// replace puts p in place of the prior of its slot, or first.
func replace(priors []Prior, p Prior) []Prior {
	for i := range priors {
		if priors[i].Slot == p.Slot {
			priors[i] = p
			return priors
		}
	}
	return append([]Prior{p}, priors...)
}

// Typical returns values with the supply, the parts' nominals and every second-order term at its typical value.
func (c *Circuit) Typical(d *fit.Design) (Values, error) {
	v := Ideal(d.Supply.Value)
	if err := c.timed(); err != nil {
		return v, err
	}
	priors, err := c.Beliefs(d)
	if err != nil {
		return v, err
	}
	for _, p := range priors {
		v[p.Slot] = p.Typical()
	}
	return v, c.Fill(&v, d)
}

// Fill puts the design's nominal parts into v. It fails where one is missing, and for a circuit that keeps no time.
func (c *Circuit) Fill(v *Values, d *fit.Design) error {
	if err := c.timed(); err != nil {
		return err
	}
	for i, s := range c.Parts {
		p := d.Part(s.Name)
		if p == nil {
			return fmt.Errorf("the %s circuit needs part %s", c.Name, s.Name)
		}
		v[i] = p.Nominal
	}
	return nil
}
