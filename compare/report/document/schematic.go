package document

import (
	"strconv"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
	"offbeat/compare/schematic"
	"offbeat/fit"
	"offbeat/fit/wiring"
)

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
	if q := estimate(f, name); q != nil && p != nil && len(f.Causes) > 0 && f.Causes[0].Cause != "unexplained" {
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
