package document

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/floats/scalar"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
	"offbeat/compare/schematic"
	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
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

// suspected is the probability from which the parts of the likeliest cause are marked in the schematic.
const suspected = 0.5

// Board draws a design's board as it is wired, by itself.
func Board(d *fit.Design) Section {
	b := Basis{Design: d}
	return b.board()
}

// board draws the board as it is wired: the part to suspect and the readings to take marked in it.
func (b *Basis) board() Section {
	s := Section{ID: "board", Heading: "The board", Show: PageOnly}
	w := drawingOf(b.Design)
	if w == nil {
		return s
	}
	d := picture.Schematic{Drawing: w, Part: b.partLabel, Node: b.nodeLabel, Family: b.Design.Family}
	s.draw(d.Draw)
	return s
}

// drawingOf is how the design's wiring, or that of its circuit, is drawn; nil where it has none.
func drawingOf(d *fit.Design) *schematic.Drawing {
	switch {
	case d == nil:
		return nil
	case d.Wiring != nil:
		return schematic.Of(d.Wiring)
	}
	return schematic.Named(d.Circuit)
}

// partLabel is what the schematic says of a part: nominal, estimate, and whether to suspect it or to take a reading there.
func (b *Basis) partLabel(name string) picture.PartLabel {
	var l picture.PartLabel
	p := b.Design.Part(name)
	if p != nil {
		l.Lines = append(l.Lines, marked(p))
		l.Polar = p.Class == "electrolytic" || p.Class == "tantalum" || p.Class == "aluminium"
	}
	f := b.Finding
	if f == nil {
		return l
	}
	if q := estimate(f, name); q != nil && p != nil && !q.Unsupported {
		l.Lines = append(l.Lines, "est. "+quantity.Format(q.Value, p.Kind.Unit()))
	}
	if len(f.Causes) > 0 && f.Causes[0].Probability >= suspected {
		for _, of := range f.Causes[0].Parts {
			l.Suspect = l.Suspect || of == name
		}
	}
	for i := range f.Next {
		if f.Next[i].Part == name && l.Mark == "" && b.Proposals == nil {
			l.Mark = strconv.Itoa(i + 1)
		}
	}
	return l
}

// estimate is a part's row in the finding; nil: it has none.
func estimate(f *compare.Finding, name string) *compare.Part {
	for i := range f.Parts {
		if f.Parts[i].Name == name {
			return &f.Parts[i]
		}
	}
	return nil
}

// nodeLabel is the voltage at which a node is held.
func (b *Basis) nodeLabel(node string) string {
	d := b.Design
	switch {
	case node == wiring.Supply && d.Supply.Value != 0:
		return reading(d.Supply, quantity.Volt)
	case node == wiring.Minus:
		return reading(d.Minus, quantity.Volt)
	}
	for _, n := range d.Nodes {
		if !strings.EqualFold(n.Name, node) {
			continue
		}
		if n.Ratio {
			return quantity.Relative(n.Value) + " of the supply"
		}
		return reading(n.Reading, quantity.Volt)
	}
	return ""
}
