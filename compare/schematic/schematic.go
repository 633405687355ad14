// Package schematic lays a wiring out for a drawing: each node a level line, each part upright between its two nodes, the
// device a box at the right with its pins on their nodes' lines.
//
//  1. Levels: the supply on top, the negative rail or ground at the foot; the others in the order that makes the parts
//     shortest and cross the fewest lines.
//  2. Columns: a part takes the first column that is free between its levels, so that parts in series stand in one.
//  3. text.go draws that with characters; package picture as SVG.
//
// It knows no value and no law; the same wiring always gives the same drawing.
package schematic

import (
	"slices"
	"strconv"

	"offbeat/fit/wiring"
)

// Drawing is a wiring with a place for everything.
type Drawing struct {
	Device  wiring.Device
	Levels  []Level  // from the top
	Parts   []Part   // in the wiring's order
	Columns int      // that the parts stand in, from 0 at the left; the device is right of them
	Stubs   []string // pins that no part hangs on, drawn at the device's right
}

// Level is one node, drawn as a level line.
type Level struct {
	Node     string
	Held     bool
	From, To int      // the columns that its line spans; From > To: no part is on it
	Pins     []string // the device's pins on it, drawn at the device's left
}

// Part is one card between two levels.
type Part struct {
	wiring.Card
	Column      int
	Top, Bottom int  // indexes of its levels
	Gap         int  // the body stands between level Gap and Gap+1
	Reversed    bool // its first node is the lower one
	Wiper       int  // level of a wiper of its own, which runs in a lane left of the part's column; −1: none
}

// Of lays a wiring out.
func Of(w *wiring.Wiring) *Drawing {
	d := &Drawing{Device: w.Device}
	nodes := drawn(w)
	top, free, foot := sorted(nodes)
	best := slices.Concat(top, cheapest(free, func(order []string) int { return cost(place(w, slices.Concat(top, order, foot))) }), foot)
	p := placed(w, best)
	d.Levels, d.Parts, d.Columns = p.levels, p.parts, p.columns
	for _, pin := range w.Device.Pins {
		if !slices.Contains(best, pin.Node) {
			d.Stubs = append(d.Stubs, pin.Name)
		}
	}
	return d
}

// drawn lists the nodes that a card is on, or two pins, or a pin under another name, and a timer's rails.
func drawn(w *wiring.Wiring) []string {
	var out []string
	for _, n := range w.Nodes {
		ends, pins, named := 0, 0, false
		for _, c := range w.Cards {
			if slices.Contains(c.Nodes, n) {
				ends++
			}
		}
		for _, p := range w.Device.Pins {
			if p.Node == n {
				pins++
				named = named || p.Node != p.Name
			}
		}
		rail := powered(&w.Device) && (n == wiring.Supply || n == wiring.Ground)
		if ends > 0 || pins > 1 || named || rail {
			out = append(out, n)
		}
	}
	return out
}

// sorted parts the nodes into those at the top, those whose order is to be found, and those at the foot.
func sorted(nodes []string) (top, free, foot []string) {
	split := slices.Contains(nodes, wiring.Minus)
	for _, n := range nodes {
		switch {
		case n == wiring.Supply:
			top = append(top, n)
		case n == wiring.Minus, n == wiring.Ground && !split:
			foot = append(foot, n)
		default:
			free = append(free, n)
		}
	}
	return top, free, foot
}

// exhaustive is up to how many names every order is tried: 720 of them.
const exhaustive = 6

// cheapest is the order of the names that costs least: of all, or with many of those that one move after the other leads to.
func cheapest(names []string, cost func([]string) int) []string {
	best := slices.Clone(names)
	least := cost(best)
	try := func(order []string) {
		if c := cost(order); c < least {
			best, least = slices.Clone(order), c
		}
	}
	if len(names) <= exhaustive {
		orders(names, try)
		return best
	}
	for before := least + 1; least < before; {
		before = least
		from := slices.Clone(best)
		for i := range from {
			rest := slices.Delete(slices.Clone(from), i, i+1)
			for k := range from {
				try(slices.Insert(slices.Clone(rest), k, from[i]))
			}
		}
	}
	return best
}

// orders calls f with each order of the names.
func orders(names []string, f func([]string)) {
	order := slices.Clone(names)
	var next func(k int)
	next = func(k int) {
		if k == len(order) {
			f(order)
			return
		}
		for i := k; i < len(order); i++ {
			order[k], order[i] = order[i], order[k]
			next(k + 1)
			order[k], order[i] = order[i], order[k]
		}
	}
	next(0)
}

// layout is the levels and the parts on them.
type layout struct {
	levels  []Level
	parts   []Part
	columns int
}

// place puts every part into the first column that is free for it, the shortest parts first.
func place(w *wiring.Wiring, order []string) *layout {
	l := &layout{}
	for _, n := range order {
		l.levels = append(l.levels, Level{Node: n, Held: slices.Contains(w.Held, n)})
	}
	for _, c := range w.Cards {
		l.parts = append(l.parts, part(c, order))
	}
	turns := make([]int, len(l.parts))
	for i := range turns {
		turns[i] = i
	}
	slices.SortStableFunc(turns, func(a, b int) int {
		p, q := &l.parts[a], &l.parts[b]
		return (p.Bottom - p.Top) - (q.Bottom - q.Top)
	})
	taken := map[cell]bool{}
	for _, i := range turns {
		p := &l.parts[i]
		for p.Column = 0; slices.ContainsFunc(p.places(), func(at cell) bool { return taken[at] }); p.Column++ {
		}
		for _, at := range p.places() {
			taken[at] = true
		}
		l.columns = max(l.columns, p.Column+1)
	}
	return l
}

// cell is what one part can take: a column between two levels, or the lane of a wiper left of it.
type cell struct {
	column, gap int
	lane        bool
}

// places lists the cells that the part takes.
func (p *Part) places() []cell {
	out := []cell{{p.Column, p.Gap, false}}
	for g := p.Top; g < p.Bottom; g++ {
		out = append(out, cell{p.Column, g, false})
	}
	if p.Wiper >= 0 {
		for g := min(p.Gap, p.Wiper); g < max(p.Gap+1, p.Wiper); g++ {
			out = append(out, cell{p.Column, g, true})
		}
	}
	return out
}

// part finds a card's levels.
func part(c wiring.Card, order []string) Part {
	first, last := c.Nodes[0], c.Nodes[len(c.Nodes)-1]
	a, b := slices.Index(order, first), slices.Index(order, last)
	p := Part{Card: c, Top: min(a, b), Bottom: max(a, b), Reversed: a > b, Wiper: -1}
	p.Gap = (p.Top + p.Bottom - 1) / 2
	if a == b {
		p.Gap = min(p.Top, len(order)-2) // a part with both ends on one node stands below it, over the lowest above
	}
	if c.Kind == wiring.Potentiometer && !c.Variable() {
		p.Wiper = slices.Index(order, c.Nodes[1])
	}
	return p
}

// spans finds the columns that each level's line crosses.
func (l *layout) spans() {
	for i := range l.levels {
		l.levels[i].From, l.levels[i].To = l.columns, -1
	}
	reach := func(level, column int) {
		v := &l.levels[level]
		v.From, v.To = min(v.From, column), max(v.To, column)
	}
	for _, p := range l.parts {
		reach(p.Top, p.Column)
		reach(p.Bottom, p.Column)
		if p.Wiper >= 0 {
			reach(p.Wiper, p.Column)
		}
	}
}

// cost is how much a drawing asks of the eye: lines crossed, then columns, then the parts' lengths.
func cost(l *layout) int {
	l.spans()
	total := 4 * l.columns
	for _, p := range l.parts {
		total += p.Bottom - p.Top
		for k := p.Top + 1; k < p.Bottom; k++ {
			if l.levels[k].From < p.Column && p.Column < l.levels[k].To {
				total += 6
			}
		}
	}
	return total
}

// placed is the layout with its pins, its columns in the order that crosses the fewest lines: those whose parts the
// device's pins are on nearest to it.
func placed(w *wiring.Wiring, order []string) *layout {
	l := place(w, order)
	numbers := make([]string, l.columns)
	for i := range numbers {
		numbers[i] = strconv.Itoa(i)
	}
	moved := func(order []string) *layout {
		to := make([]int, len(order))
		for k, n := range order {
			i, _ := strconv.Atoi(n)
			to[i] = k
		}
		return l.moved(to)
	}
	l = moved(cheapest(numbers, func(order []string) int {
		m := moved(order)
		m.pin(w)
		return cost(m) + m.toDevice()
	}))
	l.pin(w)
	l.spans()
	return l
}

// moved is the layout with its columns renumbered.
func (l *layout) moved(to []int) *layout {
	m := &layout{slices.Clone(l.levels), slices.Clone(l.parts), l.columns}
	for i := range m.parts {
		m.parts[i].Column = to[m.parts[i].Column]
	}
	return m
}

// pin notes the device's pins on their levels.
func (l *layout) pin(w *wiring.Wiring) {
	for i := range l.levels {
		v := &l.levels[i]
		v.Pins = nil
		for _, p := range w.Device.Pins {
			if p.Node == v.Node && !rail(w, p.Name) {
				v.Pins = append(v.Pins, p.Name)
			}
		}
	}
}

// rail says whether a pin is drawn at the device's top or foot.
func rail(w *wiring.Wiring, pin string) bool {
	return powered(&w.Device) && (pin == wiring.PinSupply || pin == wiring.PinGround || pin == wiring.PinReset)
}

// toDevice counts the parts that the lines from the levels to the device cross.
func (l *layout) toDevice() int {
	total := 0
	for k, v := range l.levels {
		if len(v.Pins) == 0 {
			continue
		}
		for _, p := range l.parts {
			if p.Column > v.To && p.Top < k && k < p.Bottom {
				total += 6
			}
		}
	}
	return total
}

// powered says whether a device is fed through its top and foot.
func powered(d *wiring.Device) bool { return d.Kind == wiring.Timer || d.Kind == wiring.Pair }

// Named lays a circuit of the list out; nil: there is none of that name.
func Named(circuit string) *Drawing {
	if circuit == "multivibrator" {
		return Of(wiring.Multivibrator())
	}
	s, ok := wiring.Lookup(circuit)
	if !ok {
		return nil
	}
	w, err := s.Wiring()
	if err != nil {
		return nil
	}
	return Of(w)
}

// Rail says whether a node feeds the device at its top or foot.
func (d *Drawing) Rail(node string) bool {
	return powered(&d.Device) && (node == wiring.Supply || node == wiring.Ground)
}
