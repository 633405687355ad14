package acquire

import (
	"fmt"
	"strings"
)

// plan says how a source is read; a shape draws it up from the head.
type plan struct {
	shape    string
	kind     Kind
	delim    byte
	point    byte
	first    int // line of the first row, from 0
	classes  []lineClass
	time     int // column of the time, -1: none
	shift    int // power of ten from the time column's unit to seconds
	channels []Channel
	columns  []int // of the chosen channels
	shifts   []int
	cells    int     // cells a row has at least
	step     float64 // s, stated interval or the head's mean step; 0 unknown
	start    float64
	counting bool // the time column counts samples
	notes    []string
	evidence []string
	open     func(*Source) recordReader
}

// shape is one way in which benches export.
type shape struct {
	name string
	fits func(h *head, opt Options) (*plan, error) // nil, nil: not this shape
}

// shapes are tried in this order: the one that needs the most structure first.
var shapes = []shape{
	transitionsShape,
	logicShape,
	tableShape,
}

// recognise finds the shape of the input.
func recognise(name string, t *text, opt Options) (*plan, error) {
	h, err := newHead(name, t, opt)
	if err != nil {
		return nil, err
	}
	if h.last == h.first {
		return nil, &Error{File: name, What: "no rows of numbers were found", Expect: "a table of time and level", Do: "export the capture as CSV", Err: ErrShape}
	}
	for _, s := range shapes {
		if opt.Shape != "" && opt.Shape != s.name {
			continue
		}
		p, err := s.fits(h, opt)
		if err != nil {
			return nil, err
		}
		if p != nil {
			p.evidence = append(append(append([]string{}, t.how...), h.evidence...), p.evidence...)
			return p, nil
		}
	}
	if opt.Shape != "" {
		return nil, &Error{File: name, What: fmt.Sprintf("the input does not fit the shape %q", opt.Shape), Expect: "one of: " + strings.Join(ShapeNames(), "; "), Err: ErrShape}
	}
	return nil, &Error{File: name, What: "no known shape fits", Expect: "a table of time and level", Do: "export the capture as CSV", Err: ErrShape}
}

// ShapeNames lists the shapes, as Options.Shape takes them.
func ShapeNames() []string {
	var n []string
	for _, s := range shapes {
		n = append(n, s.name)
	}
	return n
}

// timeColumn finds the column that holds the time: named or with a unit of time first, then any that rises.
func (h *head) timeColumn() int {
	for k := range h.columns {
		c := &h.columns[k]
		if c.quantity || c.calendar {
			return k
		}
	}
	for k := range h.columns {
		c := &h.columns[k]
		_, unit := timeUnits[c.unit]
		if (unit || isTimeName(c.name)) && c.numbers > 0 {
			return k
		}
	}
	for k := range h.columns {
		if h.columns[k].rising && !h.columns[k].counting {
			return k
		}
	}
	for k := range h.columns {
		if h.columns[k].counting {
			return k
		}
	}
	return -1
}

// base fills what every table shares.
func (h *head) base(opt Options, time int) (*plan, error) {
	p := &plan{delim: h.delim, point: h.point, first: h.first, time: time}
	for i := range h.first {
		switch {
		case h.lines[i].blank():
			p.classes = append(p.classes, blankLine)
		case i == h.names || i == h.units:
			p.classes = append(p.classes, headerLine)
		default:
			p.classes = append(p.classes, preambleLine)
		}
	}
	if err := p.timeUnit(h, opt); err != nil {
		return nil, err
	}
	if err := p.choose(h, opt); err != nil {
		return nil, err
	}
	return p, nil
}

// timeUnit settles the unit of the time column.
func (p *plan) timeUnit(h *head, opt Options) error {
	if p.time < 0 || h.columns[p.time].quantity || h.columns[p.time].calendar {
		return nil
	}
	unit, from := opt.TimeUnit, "as asked"
	if unit == "" {
		unit, from = h.columns[p.time].unit, "in the header"
	}
	if _, ok := timeUnits[unit]; !ok && opt.TimeUnit == "" {
		unit, from = h.meta.timeUnit, "in the preamble"
	}
	if _, ok := timeUnits[unit]; !ok && opt.TimeUnit == "" {
		unit, from = "s", "a guess, the file does not say"
		p.notes = append(p.notes, "the unit of the time column is a guess: seconds")
	}
	shift, ok := timeUnits[unit]
	if !ok {
		return &Error{File: h.name, What: fmt.Sprintf("unknown time unit %q", unit), Expect: "s, ms, us or ns", Err: ErrTime}
	}
	p.shift = shift
	p.evidence = append(p.evidence, fmt.Sprintf("time is column %d, in %s: %s", p.time+1, unit, from))
	return nil
}

// choose picks the channels.
func (p *plan) choose(h *head, opt Options) error {
	var all []Channel
	var column, shift []int
	for k := range h.columns {
		c := &h.columns[k]
		if k == p.time || c.filled == 0 || c.counting && isIndexName(c.name) && p.time >= 0 {
			continue
		}
		ch := Channel{Name: c.name, Number: len(all) + 1, Unit: c.unit}
		if ch.Name == "" {
			ch.Name = fmt.Sprint(ch.Number)
		}
		s := 0
		if u, ok := levelUnits[c.unit]; ok {
			ch.Unit, s = u.base, u.shift
		} else if ch.Unit == "" && p.kind == Samples && !c.logic {
			if u, ok := levelUnits[h.meta.levelUnit]; ok {
				ch.Unit, s = u.base, u.shift
			}
		}
		if c.logic && ch.Unit == "" {
			ch.Unit = ""
		}
		all = append(all, ch)
		column = append(column, k)
		shift = append(shift, s)
	}
	list := channelList(all)
	pick := func(i int) {
		p.channels = append(p.channels, all[i])
		p.columns = append(p.columns, column[i])
		p.shifts = append(p.shifts, shift[i])
		p.cells = max(p.cells, column[i]+1)
	}
	p.cells = p.time + 1
	if len(opt.Channels) == 0 {
		if len(all) == 0 {
			return &Error{File: h.name, What: "no column of levels was found", Expect: "a table of time and level", Err: ErrShape}
		}
		if len(all) > 1 {
			return &Error{File: h.name, What: fmt.Sprintf("the file holds %d channels", len(all)), Expect: "a choice with --channel", Do: "choose one of " + list, Err: ErrChoice}
		}
		pick(0)
	}
	for _, want := range opt.Channels {
		i := findChannel(all, want)
		if i < 0 {
			return &Error{File: h.name, What: fmt.Sprintf("there is no channel %q", want), Expect: "one of " + list, Err: ErrChoice}
		}
		pick(i)
	}
	return nil
}

// findChannel matches a name exactly, then regardless of case, then a number.
func findChannel(all []Channel, want string) int {
	for i, c := range all {
		if c.Name == want {
			return i
		}
	}
	for i, c := range all {
		if strings.EqualFold(c.Name, want) {
			return i
		}
	}
	for i, c := range all {
		if fmt.Sprint(c.Number) == want {
			return i
		}
	}
	return -1
}

func channelList(all []Channel) string {
	var s []string
	for _, c := range all {
		t := fmt.Sprintf("%d", c.Number)
		if c.Name != t {
			t += " (" + c.Name + ")"
		}
		s = append(s, t)
	}
	return strings.Join(s, ", ")
}
