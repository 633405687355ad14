package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/compare/schematic"
	"offbeat/fit/wiring"
)

// PartLabel is what a schematic says of one part.
type PartLabel struct {
	Lines   []string // under its name: nominal, estimate
	Suspect bool     // drawn heavy and hatched
	Mark    string   // the number of the reading to take there; empty: none
	Polar   bool     // an electrolytic: its positive side is marked
}

// Schematic is what a drawing of a board shows beside the wiring itself.
type Schematic struct {
	Drawing *schematic.Drawing
	Part    func(name string) PartLabel
	Node    func(name string) string // what stands at a node's line beside its name: "5 V ± 2 %"; may be empty
	Family  string
}

// Sizes of a schematic in user units.
const (
	levelGap  = 80.0 // between two levels: room for a body and three lines of text
	pinPitch  = 18.0
	bodyHalf  = 19.0 // half the height of a resistor's body
	bodyWide  = 15.0
	plate     = 24.0 // a capacitor's plates
	plateGap  = 9.0
	boxWide   = 118.0
	lineStep  = 15.0
	headSpace = 46.0 // above the first level
)

// board is a schematic being drawn.
type board struct {
	*canvas
	*Schematic
	x    []float64 // of the columns
	y    []float64 // of the levels
	edge float64   // left side of the device's box
}

// Draw draws the board by the symbols of IEC 60617: a resistor is a rectangle, a capacitor two plates, a diode a triangle on a
// bar, a potentiometer a rectangle with its wiper's arrow. What to suspect is heavy and hatched, a reading a number in a disc.
func (s *Schematic) Draw(id string) Picture {
	b := &board{canvas: newCanvas(id, 0), Schematic: s}
	b.placeAll()
	b.drawDevice()
	for i := range s.Drawing.Levels {
		b.drawLevel(i)
	}
	for i := range s.Drawing.Parts {
		b.drawPart(&s.Drawing.Parts[i])
	}
	return b.picture("The board as it is wired", s.caption(), s.prose())
}

// placeAll sets the columns as wide as their words need, and the levels as high as their pins.
func (b *board) placeAll() {
	d := b.Drawing
	wide := make([]float64, d.Columns)
	for _, p := range d.Parts {
		w := measure(p.Name)
		for _, l := range b.Part(p.Name).Lines {
			w = max(w, measure(l))
		}
		wide[p.Column] = max(wide[p.Column], w+bodyWide+16)
	}
	x := 26.0
	for _, w := range wide {
		b.x = append(b.x, x)
		x += max(w, 60)
	}
	b.edge = x + 12
	y := headSpace
	for _, v := range d.Levels {
		b.y = append(b.y, y)
		y += levelGap + pinPitch*float64(max(len(v.Pins), 1)-1)
	}
	right := 8.0
	if slices.Contains(d.Stubs, wiring.PinOutput) {
		right = 62 // room for its name
	}
	b.width = max(Width, b.edge+boxWide+right)
	b.height = max(y-levelGap+24, headSpace+130)
}

// drawLevel draws a node's line, its name and the pins on it.
func (b *board) drawLevel(i int) {
	v := &b.Drawing.Levels[i]
	y := b.y[i]
	from, to := b.edge-14, b.edge-14
	if v.From <= v.To {
		from, to = b.x[v.From], b.x[v.To]
	}
	name := v.Node
	if more := b.Node(v.Node); more != "" {
		name += " " + more
	}
	if v.Held {
		from = min(from, slices.Min(append(b.x, b.edge-14))) - 16
		to = max(to, from+40)
	}
	if b.Drawing.Rail(v.Node) {
		to = b.edge + boxWide/2
	}
	if len(v.Pins) > 0 {
		to = b.edge
	}
	b.line("wire", from, y, to, y)
	for k, p := range v.Pins {
		if k > 0 {
			b.path("wire", []point{{b.edge - 14, y}, {b.edge - 14, y + pinPitch*float64(k)}, {b.edge, y + pinPitch*float64(k)}})
			b.circle("mark", point{b.edge - 14, y}, 2.6)
		}
		b.text("tick", start, b.edge+6, y+pinPitch*float64(k)+4.5, p)
	}
	if len(v.Pins) == 0 || v.Pins[0] != v.Node {
		b.nodeName(v, name, from, y)
	}
}

// nodeName writes a node's name: over a rail's end, else beside the part that stands on the line, under the lowest line.
func (b *board) nodeName(v *schematic.Level, name string, from, y float64) {
	switch {
	case y == b.y[len(b.y)-1]:
		b.text("tick", start, from, y+15, name)
	case v.Held || v.From > v.To:
		b.text("tick", start, max(from-measure(name)*0.4, 2), y-6, name)
	default:
		b.text("tick halo", start, from+6, y-5, name)
	}
}

// drawPart draws one part on its wire, with its words.
func (b *board) drawPart(p *schematic.Part) {
	x, top, bottom := b.x[p.Column], b.y[p.Top], b.y[p.Bottom]
	label := b.Part(p.Name)
	centre := b.y[p.Gap+1] - levelGap/2
	if p.Top == p.Bottom {
		bottom = centre
	}
	half := bodyHalf
	if p.Kind == wiring.Capacitor {
		half = plateGap / 2
	}
	if label.Suspect {
		b.hatch("none", box{x - 20, centre - half - 6, x + 20, centre + half + 6})
	}
	b.line("wire", x, top, x, centre-half)
	b.line("wire", x, centre+half, x, bottom)
	for _, level := range []int{p.Top, p.Bottom} {
		if b.joined(level, p.Column) {
			b.circle("mark", point{x, b.y[level]}, 2.6)
		}
	}
	class := "part"
	if label.Suspect {
		class = "suspect"
	}
	b.body(class, p, x, centre, label.Polar)
	if p.Wiper >= 0 {
		b.wiper(p, x, centre)
	}
	b.words(p, label, x, centre)
}

// joined says whether a dot belongs where a column meets a level: three wires or more.
func (b *board) joined(level, column int) bool {
	v := &b.Drawing.Levels[level]
	wires := 0
	if v.From < column {
		wires++
	}
	if v.To > column || len(v.Pins) > 0 || b.Drawing.Rail(v.Node) {
		wires++
	}
	for i := range b.Drawing.Parts {
		for k, at := range b.Drawing.Parts[i].Meets() {
			if k < 2 && b.Drawing.Parts[i].Column == column && at == level {
				wires++
			}
		}
	}
	return wires > 2
}

// body draws the symbol.
func (b *board) body(class string, p *schematic.Part, x, y float64, polar bool) {
	switch p.Kind {
	case wiring.Capacitor:
		b.line(class, x-plate/2, y-plateGap/2, x+plate/2, y-plateGap/2)
		b.line(class, x-plate/2, y+plateGap/2, x+plate/2, y+plateGap/2)
		if plus := y - plateGap/2 - 5; polar {
			if p.Reversed {
				plus = y + plateGap/2 + 13
			}
			b.text("tick", end, x-5, plus, "+")
		}
	case wiring.Diode:
		tip, base := y+9, y-9
		if p.Reversed {
			tip, base = base, tip
		}
		b.line("wire", x, y-bodyHalf, x, y+bodyHalf)
		b.area(class, []point{{x - 9, base}, {x + 9, base}, {x, tip}})
		b.line(class, x-9, tip, x+9, tip)
	default:
		b.rect(class, box{x - bodyWide/2, y - bodyHalf, x + bodyWide/2, y + bodyHalf})
		if p.Kind == wiring.Potentiometer && p.Wiper < 0 {
			b.line("wire", x-13, y+13, x+13, y-13)
			b.arrow(point{x + 13, y - 13}, math.Pi*1.75)
		}
	}
}

// arrow draws a head at a place, pointing along an angle.
func (b *board) arrow(at point, angle float64) {
	sin, cos := math.Sincos(angle)
	side := func(w float64) point { return point{at.x - 7*cos + w*sin, at.y - 7*sin - w*cos} }
	b.area("mark", []point{at, side(2.8), side(-2.8)})
}

// wiper leads a potentiometer's wiper to its own node, in a lane left of the body.
func (b *board) wiper(p *schematic.Part, x, y float64) {
	const lane = 24
	y -= 8
	level := b.y[p.Wiper]
	b.path("wire", []point{{x - bodyWide/2, y}, {x - lane, y}, {x - lane, level}, {x, level}})
	b.circle("mark", point{x - lane, level}, 2.6)
	b.arrow(point{x - bodyWide/2, y}, 0)
}

// words writes a part's name and values right of it, and the mark of a reading left of it.
func (b *board) words(p *schematic.Part, label PartLabel, x, y float64) {
	left := x + plate/2 + 6
	top := y - lineStep*float64(len(label.Lines))/2 + 4.5
	b.text("strong halo", start, left, top, p.Name)
	for i, l := range label.Lines {
		b.text("tick halo", start, left, top+lineStep*float64(i+1), l)
	}
	if label.Mark != "" {
		at := point{x - 20, y - bodyHalf}
		b.circle("probe", at, 9)
		b.text("probetext", middle, at.x, at.y+4.5, label.Mark)
	}
}

// drawDevice draws the box, its name, its feeds and its output.
func (b *board) drawDevice() {
	d := b.Drawing
	top, foot := math.Inf(1), math.Inf(-1)
	for i, v := range d.Levels {
		if len(v.Pins) > 0 {
			top = min(top, b.y[i])
			foot = max(foot, b.y[i]+pinPitch*float64(len(v.Pins)-1))
		}
	}
	if top > foot {
		top, foot = b.y[0]+60, b.y[0]+60
	}
	top, foot = top-42, max(foot+18, top+44)
	b.height = max(b.height, foot+10)
	b.rect("part", box{b.edge, top, b.edge + boxWide, foot})
	middleX := b.edge + boxWide/2
	b.text("strong", middle, middleX, top+16, d.Device.Name+" "+d.Device.Kind)
	if b.Family != "" {
		b.text("tick", middle, middleX, top+30, b.Family)
	}
	for i, v := range d.Levels {
		if !b.Drawing.Rail(v.Node) {
			continue
		}
		near := top
		if b.y[i] > top {
			near = foot
		}
		b.line("wire", middleX, b.y[i], middleX, near)
	}
	for _, pin := range d.Stubs {
		if pin == wiring.PinOutput {
			y := (top + foot) / 2
			b.line("wire", b.edge+boxWide, y, b.edge+boxWide+18, y)
			b.text("tick", start, b.edge+boxWide+4, y-6, pin)
		}
	}
}

// caption says what the marks in it mean.
func (s *Schematic) caption() string {
	suspect, mark := false, false
	for _, p := range s.Drawing.Parts {
		l := s.Part(p.Name)
		suspect, mark = suspect || l.Suspect, mark || l.Mark != ""
	}
	text := "Dots join wires; lines that cross without one pass each other."
	if suspect {
		text += " Heavy and hatched: the part to suspect."
	}
	if mark {
		text += " A number in a disc: where to take that reading of those to take next."
	}
	return text
}

// prose is the wiring in words.
func (s *Schematic) prose() string {
	var b strings.Builder
	fmt.Fprintf(&b, "The %s %s:", s.Drawing.Device.Kind, s.Drawing.Device.Name)
	sep := " "
	for _, v := range s.Drawing.Levels {
		for _, pin := range v.Pins {
			fmt.Fprintf(&b, "%s%s on %s", sep, pin, v.Node)
			sep = ", "
		}
	}
	b.WriteString(".")
	for _, p := range s.Drawing.Parts {
		fmt.Fprintf(&b, " %s from %s to %s", p.Name, p.Nodes[0], p.Nodes[len(p.Nodes)-1])
		if p.Wiper >= 0 {
			b.WriteString(", its wiper to " + p.Nodes[1])
		}
		label := s.Part(p.Name)
		if len(label.Lines) > 0 {
			b.WriteString(": " + strings.Join(label.Lines, ", "))
		}
		if label.Suspect {
			b.WriteString("; the part to suspect")
		}
		if label.Mark != "" {
			b.WriteString("; reading " + label.Mark + " is taken here")
		}
		b.WriteString(".")
	}
	return b.String()
}
