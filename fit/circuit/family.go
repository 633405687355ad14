package circuit

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"offbeat/fit"
)

// The makers of one timer type disagree by more than their own stated error: astable error 2.25 % typical
// in one sheet (SLFS022A p. 5), 5 % typical and 13 % at most in another (Philips NE555), a 4.3 % lower
// constant and thresholds of 0.65 and 0.31 of the supply in a third (Philips ICM7555 p. 339). The two
// threshold priors are as wide as that: the third's typical values lie 1.7 and 1.8 standard deviations out.
var thresholds = []Prior{
	{Upper, "upper threshold ratio", Normal, 2. / 3, 0.010, "spread of the makers' timing errors and thresholds: SLFS022A p. 5, Philips NE555, Philips ICM7555 p. 339"},
	{Half, "lower over upper threshold", Normal, 1. / 2, 0.0125, "spread of the makers' timing errors and thresholds: SLFS022A p. 5, Philips NE555, Philips ICM7555 p. 339"},
}

// timerTerms lists the second-order terms of each timer family; a slot that is missing is ideal.
var timerTerms = map[string][]Prior{
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
		Prior{Ladder, "divider inside the timer, in all", Uniform, 10.5e3, 19.5e3, "three resistors of 5 kohm, ± 30 % as diffused, common practice"},
	),
	fit.CMOS: append(thresholds[:2:2],
		Prior{SwitchResistance, "discharge on-resistance", Uniform, 5, 50, "0.14 V typical, 0.5 V at most at 10 mA (SLFS043C p. 9)"},
		Prior{DelayFall, "delay from upper threshold to output fall", Uniform, 0.1e-6, 0.3e-6, "100 ns typical (SNAS558J p. 4); 144 … 320 ns from the maximum frequency (SLFS043C p. 9)"},
		Prior{DelayRise, "delay from lower threshold to output rise", Uniform, 0.1e-6, 0.3e-6, "100 ns typical (SNAS558J p. 4); 144 … 320 ns from the maximum frequency (SLFS043C p. 9)"},
		Prior{Bias, "threshold pin current", Uniform, 0, 1e-9, "10 pA typical (SLFS043C p. 9); a hundred times that for heat and board leakage, common practice"},
		Prior{DiodeDrop, "diode drop", Uniform, 0.45, 0.75, "0.62 … 0.72 V at 5 mA, about 0.1 V less a decade of current (1N4448 sheet; diode law from memory)"},
		Prior{OutputDrop, "output high level below supply", Uniform, 0, 0.1, "0.2 V typical at 1 mA (SLFS043C p. 9), a fraction of that current"},
		Prior{OutputLow, "output low level", Uniform, 0, 0.05, "0.2 V at 1 mA, a fraction of that current, common practice"},
		Prior{Ladder, "divider inside the timer, in all", Uniform, 100e3, 600e3, "about 300 kohm, common practice"},
	),
}

// inverterTerms lists those of Schmitt inverters. The thresholds differ so much between makers of one type number (two 40106:
// K 1.89 and 0.65 at 5 V) that they, not R1 and C1, dominate what is known beforehand: state the ones measured.
var inverterTerms = map[string][]Prior{
	fit.Ideal: nil,
	fit.CMOS: {
		{Upper, "positive-going threshold ratio", Normal, 0.60, 0.07, "typical 0.52 … 0.72 of the supply: 74HC1G14 table 7, HEF40106B p. 3, TL/F/5985 p. 2"},
		{Half, "negative-going over positive-going threshold", Uniform, 0.34, 0.86, "typical 0.39 … 0.78: the same sheets; at most 0.86, a hysteresis of 0.40 V at an upper threshold of 2.86 V (MC74VHC1G14 p. 3)"},
		{DelayFall, "delay from upper threshold to output fall", Uniform, 5e-9, 150e-9, "common practice: 10 ns (74HC) … 140 ns (40106 at 5 V)"},
		{DelayRise, "delay from lower threshold to output rise", Uniform, 5e-9, 150e-9, "common practice: 10 ns (74HC) … 140 ns (40106 at 5 V)"},
		{DiodeDrop, "diode drop", Uniform, 0.45, 0.75, "0.62 … 0.72 V at 5 mA, about 0.1 V less a decade of current (1N4448 sheet; diode law from memory)"},
		{OutputDrop, "output high level below supply", Uniform, 0, 0.1, "common practice at timing currents"},
		{OutputLow, "output low level", Uniform, 0, 0.1, "common practice at timing currents"},
	},
}

// comparatorTerms lists those of comparators, whose outputs are a timer's, and of op-amps, whose outputs stop short of both
// rails and whose inputs both draw a current.
var comparatorTerms = map[string][]Prior{
	fit.Ideal:   timerTerms[fit.Ideal],
	fit.Bipolar: timerTerms[fit.Bipolar],
	fit.CMOS:    timerTerms[fit.CMOS],
	fit.OpAmp: {
		{DelayFall, "delay from crossing to output fall", Uniform, 0.5e-6, 40e-6, "slewing 5 … 30 V at 0.5 … 10 V/µs, common practice"},
		{DelayRise, "delay from crossing to output rise", Uniform, 0.5e-6, 40e-6, "slewing 5 … 30 V at 0.5 … 10 V/µs, common practice"},
		{Bias, "current of the capacitor's input", Uniform, 0, 250e-9, "20 … 250 nA of bipolar inputs, next to none of field-effect ones, common practice"},
		{OtherBias, "current of the other input", Uniform, 0, 250e-9, "20 … 250 nA of bipolar inputs, next to none of field-effect ones, common practice"},
		{DiodeDrop, "diode drop", Uniform, 0.45, 0.75, "0.62 … 0.72 V at 5 mA, about 0.1 V less a decade of current (1N4448 sheet; diode law from memory)"},
		{OutputDrop, "output high level below supply", Uniform, 0.5, 3, "0.5 … 3 V lost at either rail, not the same at both, common practice"},
		{OutputLow, "output low level above the low rail", Uniform, 0.5, 3, "0.5 … 3 V lost at either rail, not the same at both, common practice"},
	},
}

// diodeKinds are the drops of the kinds of diodes.
var diodeKinds = map[string]Prior{
	fit.Silicon:    {A: 0.45, B: 0.75, Source: "silicon: 0.62 … 0.72 V at 5 mA, about 0.1 V less a decade of current (1N4448 sheet; diode law from memory)"},
	fit.Schottky:   {A: 0.15, B: 0.45, Source: "schottky: common practice"},
	fit.LED:        {A: 1.6, B: 3.4, Source: "LED of any colour: common practice"},
	fit.IdealDiode: {},
}

// Priors returns the second-order priors of a family for the terms that the circuit uses, in slot order of
// the circuit's table.
func (c *Circuit) Priors(family string) ([]Prior, error) {
	all, ok := c.Families[family]
	if !ok {
		return nil, fmt.Errorf("unknown family %q for the %s circuit; expected %s", family, c.Name, strings.Join(slices.Sorted(maps.Keys(c.Families)), ", "))
	}
	used := make([]Prior, 0, len(c.Terms)+len(c.brings))
	for _, s := range c.Terms {
		for _, p := range all {
			switch {
			case p.Slot == DiodeDrop && c.isPlain(s):
				at := slices.IndexFunc(c.plain, func(k Prior) bool { return k.Slot == s })
				p.Slot, p.Name = s, c.plain[at].Name
			case p.Slot != s || c.stated(s):
				continue
			}
			used = append(used, p)
		}
	}
	for _, p := range c.brings {
		if c.Reads(p.Slot) {
			used = append(used, p)
		}
	}
	return used, nil
}

// isPlain says whether a slot is that of a diode of which the design says nothing.
func (c *Circuit) isPlain(s Slot) bool {
	return slices.ContainsFunc(c.plain, func(k Prior) bool { return k.Slot == s })
}

// IsDrop says whether a slot is the drop of a diode of the wiring.
func (c *Circuit) IsDrop(s Slot) bool {
	return c.isPlain(s) || slices.ContainsFunc(c.brings, func(p Prior) bool { return p.Slot == s && strings.HasPrefix(p.Name, dropOf) })
}

// stated says whether the wiring's design brings a slot itself, in place of the family.
func (c *Circuit) stated(s Slot) bool {
	return slices.ContainsFunc(c.brings, func(p Prior) bool { return p.Slot == s }) ||
		slices.ContainsFunc(c.fixed, func(f setting) bool { return f.slot == s })
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
	if at := slices.IndexFunc(priors, func(p Prior) bool { return p.Slot == Collector }); at >= 0 {
		base := math.Inf(1)
		for _, p := range d.Parts {
			if p.Kind == fit.Resistor {
				base = min(base, p.Nominal)
			}
		}
		priors[at].A, priors[at].B = base*priors[at].A, base*priors[at].B
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
	for _, p := range c.brings {
		v[p.Slot] = p.Typical()
	}
	for _, s := range c.fixed {
		v[s.slot] = s.value
	}
	return nil
}

// timers are the families of a timer (common practice: either is sold by the million, the bipolar one is the older).
var timers = []Suit{{fit.Bipolar, 0.6}, {fit.CMOS, 0.4}}

// dropOf begins the name of a diode's drop.
const dropOf = "drop of "
