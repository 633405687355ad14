package schematic

import (
	"slices"
	"strings"
	"unicode/utf8"

	"offbeat/fit/wiring"
)

// bodies are the signs of the parts in the text drawing; a diode's points the way it conducts.
var bodies = map[wiring.Kind]rune{wiring.Resistor: '▯', wiring.Potentiometer: '▯', wiring.Capacitor: '═', wiring.Diode: '▽'}

// sheet is a page of characters.
type sheet struct{ rows [][]rune }

func (s *sheet) put(x, y int, text string) {
	for len(s.rows) <= y {
		s.rows = append(s.rows, nil)
	}
	for i, r := range []rune(text) {
		for len(s.rows[y]) <= x+i {
			s.rows[y] = append(s.rows[y], ' ')
		}
		s.rows[y][x+i] = r
	}
}

func (s *sheet) String() string {
	var b strings.Builder
	for _, r := range s.rows {
		b.WriteString(strings.TrimRight(string(r), " "))
		b.WriteByte('\n')
	}
	return b.String()
}

// Text draws the wiring with characters: a line for each node, ┬ ┼ ┴ where a part is tied to it, │ where one passes it.
func (d *Drawing) Text() string {
	var s sheet
	margin, pitch := 0, 0
	for _, v := range d.Levels {
		margin = max(margin, utf8.RuneCountInString(v.Node))
	}
	for _, p := range d.Parts {
		pitch = max(pitch, utf8.RuneCountInString(p.Name))
	}
	pitch += 5
	column := func(c int) int { return margin + 3 + c*pitch }
	edge := column(d.Columns)
	at := make([]int, len(d.Levels))
	y := 0
	if len(d.Levels) > 0 && len(d.Levels[0].Pins) > 0 {
		y = 1 // room for the top of the box
	}
	for i, v := range d.Levels {
		at[i] = y
		y += max(1, len(v.Pins)) + 3
	}
	for i := range d.Levels {
		d.level(&s, &d.Levels[i], at[i], column, edge)
	}
	for i := range d.Parts {
		d.part(&s, &d.Parts[i], at, column)
	}
	d.box(&s, at, edge)
	return s.String()
}

// level draws a node's line, and its pins.
func (d *Drawing) level(s *sheet, v *Level, y int, column func(int) int, edge int) {
	s.put(0, y, v.Node)
	from, to := column(v.From), column(max(v.To, 0))
	for _, p := range d.Parts {
		if p.Wiper >= 0 && p.Column == v.From && &d.Levels[p.Wiper] == v {
			from = min(from, column(p.Column)-lane)
		}
	}
	if v.To < v.From {
		from, to = edge-2, edge-2
	}
	if len(v.Pins) > 0 {
		to = edge - 1
	}
	if d.Rail(v.Node) {
		to = edge + 2
	}
	s.put(from, y, strings.Repeat("─", to-from+1))
	for i, p := range v.Pins {
		if i > 0 {
			s.put(edge-2, y+i-1, map[bool]string{true: "┬", false: "├"}[i == 1])
			s.put(edge-2, y+i, "└─")
		}
		s.put(edge+1, y+i, p)
	}
}

// lane is how far left of its column a wiper's wire runs.
const lane = 2

// part draws one part between its levels.
func (d *Drawing) part(s *sheet, p *Part, at []int, column func(int) int) {
	x, middle := column(p.Column), at[p.Gap+1]-2
	s.upright(x, at[p.Top], at[p.Bottom])
	if p.Top == p.Bottom {
		s.upright(x, at[p.Top], middle)
	}
	body := string(bodies[p.Kind])
	if p.Kind == wiring.Diode && p.Reversed {
		body = "△"
	}
	s.put(x, middle, body+" "+p.Name)
	if p.Wiper >= 0 {
		s.upright(x-lane, middle, at[p.Wiper])
		s.put(x-lane, middle, map[bool]string{true: "└▷", false: "┌▷"}[at[p.Wiper] < middle])
	}
	for _, e := range p.ends() {
		d.tie(s, e, x, at[e.level])
	}
}

// upright draws a wire between two heights, both excluded.
func (s *sheet) upright(x, a, b int) {
	for y := min(a, b) + 1; y < max(a, b); y++ {
		s.put(x, y, "│")
	}
}

// tie marks where a column's wires, or a wiper's, meet a level's line.
func (d *Drawing) tie(s *sheet, to end, x, y int) {
	above, below := false, false
	for _, q := range d.Parts {
		for _, e := range q.ends() {
			if e.column == to.column && e.level == to.level && e.lane == to.lane {
				above, below = above || !e.down, below || e.down
			}
		}
	}
	if to.lane {
		x -= lane
	}
	s.put(x, y, map[[2]bool]string{{true, true}: "┼", {true, false}: "┴", {false, true}: "┬"}[[2]bool{above, below}])
}

// end is where a part's wire meets a level; down where it leaves the level downwards, lane for a wiper's.
type end struct {
	column, level int
	down, lane    bool
}

func (p *Part) ends() []end {
	out := []end{{p.Column, p.Top, p.Top <= p.Gap, false}}
	if p.Bottom != p.Top {
		out = append(out, end{p.Column, p.Bottom, false, false})
	}
	if p.Wiper >= 0 {
		out = append(out, end{p.Column, p.Wiper, p.Wiper <= p.Gap, true})
	}
	return out
}

// Meets lists the levels on which the part's own column is tied, and a wiper's level last.
func (p *Part) Meets() (levels []int) {
	for _, e := range p.ends() {
		levels = append(levels, e.level)
	}
	return levels
}

// box draws the device's outline right of its pins, and what feeds it.
func (d *Drawing) box(s *sheet, at []int, edge int) {
	title := d.Device.Name + " " + d.Device.Kind
	wide := utf8.RuneCountInString(title) + 4
	first, last := len(s.rows), 0
	for i, v := range d.Levels {
		for _, p := range v.Pins {
			wide = max(wide, utf8.RuneCountInString(p)+2)
		}
		if len(v.Pins) > 0 {
			first, last = min(first, at[i]), max(last, at[i]+len(v.Pins)-1)
		}
	}
	if first > last {
		first, last = 2, 3
	}
	last = max(last, first+1)
	s.put(edge, first-1, "┌"+strings.Repeat("─", wide)+"┐")
	s.put(edge+2, first-1, " "+title+" ")
	for y := first; y <= last; y++ {
		s.put(edge, y, "│")
		s.put(edge+wide+1, y, "│")
	}
	s.put(edge, last+1, "└"+strings.Repeat("─", wide)+"┘")
	for i, v := range d.Levels {
		for k, p := range v.Pins {
			s.put(edge, at[i]+k, "┤ "+p)
		}
		if d.Rail(v.Node) {
			d.feed(s, at[i], edge+2, first-1, last+1)
		}
	}
	if slices.Contains(d.Stubs, wiring.PinOutput) {
		s.put(edge+wide+1, first+1, "├── "+wiring.PinOutput)
	}
}

// feed leads a rail at height y to the box between top and foot.
func (d *Drawing) feed(s *sheet, y, x, top, foot int) {
	switch {
	case y < top:
		s.put(x, y, "┐")
		for k := y + 1; k < top; k++ {
			s.put(x, k, "│")
		}
	case y > foot:
		s.put(x, y, "┘")
		for k := foot + 1; k < y; k++ {
			s.put(x, k, "│")
		}
		s.put(x, foot, "┬")
	}
}
