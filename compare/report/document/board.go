package document

import (
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats/scalar"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/schematic"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// device is what kind of device is on the board: timer, inverter, comparator, transistors.
func device(d *fit.Design) string {
	if d.Wiring != nil {
		return d.Wiring.Device.Kind
	}
	if w := schematic.Named(d.Circuit); w != nil {
		return w.Device.Kind
	}
	return "device"
}

// marked is a part's value as the design has it. A tolerance that was worked out (of a wiper's place, of a limit in farads)
// is rounded to a ten-thousandth of a per cent.
func marked(p *fit.Part) string {
	t := quantity.Tolerance{Minus: scalar.Round(p.Minus, 6), Plus: scalar.Round(p.Plus, 6), Relative: true}
	return quantity.Quantity{Value: p.Nominal, Unit: p.Kind.Unit(), Tolerance: t}.String()
}

// facts are what the board is: its circuit, its parts, its target.
func (b *Basis) facts() []string {
	d := b.Design
	if d == nil {
		return nil
	}
	name := d.Circuit
	if c, err := circuit.Of(d); err == nil {
		name = c.Title
	}
	line := name
	if d.Supply.Value > 0 {
		line += ", " + reading(d.Supply, quantity.Volt)
	}
	if d.Family != "" {
		line += ", " + d.Family + " " + device(d)
	}
	var parts []string
	for _, q := range d.Parts {
		parts = append(parts, q.Name+" "+marked(&q))
	}
	out := []string{line, strings.Join(parts, ", ")}
	for _, list := range []struct {
		name string
		all  []fit.Target
	}{{"Target", d.Targets}, {"It used to show", d.Was}} {
		var each []string
		for _, t := range list.all {
			q := compare.QuantityOf(t.Quantity)
			each = append(each, fmt.Sprintf("%s %s (%s)", q.Name, quantity.Format(t.Value, q.Unit), quantity.Span(t.Low, t.High, q.Unit)))
		}
		if len(each) > 0 {
			out = append(out, list.name+": "+strings.Join(each, ", "))
		}
	}
	return out
}

// reading writes a value with its limits or its standard uncertainty.
func reading(r fit.Reading, unit quantity.Unit) string {
	switch {
	case r.Standard > 0:
		return quantity.PlusMinus(r.Value, r.Standard, unit)
	case r.Half > 0:
		return quantity.Format(r.Value, unit) + " ± " + quantity.Relative(r.Half/r.Value)
	}
	return quantity.Format(r.Value, unit)
}

// target is the design's of a quantity; nil: it has none.
func (b *Basis) target(quantity string) *fit.Target {
	all := b.targets()
	if i := slices.IndexFunc(all, func(t fit.Target) bool { return t.Quantity == quantity }); i >= 0 {
		return &all[i]
	}
	return nil
}

// targets are those of the design.
func (b *Basis) targets() []fit.Target {
	if b.Design == nil {
		return nil
	}
	return b.Design.Targets
}
