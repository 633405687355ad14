package recognise

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// choose lists the channels and picks those asked for.
func (p *draft) choose(opt acquire.Options) error {
	h := p.head
	for k := range h.columns {
		c := &h.columns[k]
		if k == p.Layout.Time || c.filled == 0 && c.name == "" || c.words*wordsFew > c.filled || p.HasTime() && h.idle(k, p.Layout.Time) {
			continue
		}
		for bit := range c.bits {
			name := fmt.Sprintf("%s[%d]", c.name, bit)
			if c.name == "" {
				name = fmt.Sprintf("D%d", bit)
			}
			p.all = append(p.all, acquire.Channel{Name: name, Number: len(p.all) + 1})
			p.columns, p.bits = append(p.columns, k), append(p.bits, bit)
		}
		if c.bits > 0 {
			continue
		}
		ch := acquire.Channel{Name: c.name, Number: len(p.all) + 1, Unit: c.unit}
		if ch.Name == "" {
			ch.Name = fmt.Sprint(ch.Number)
		}
		if _, ok := levelUnits[ch.Unit]; !ok && ch.Unit == "" && !c.logic() {
			ch.Unit = p.head.meta.levelUnit
		}
		p.all = append(p.all, ch)
		p.columns, p.bits = append(p.columns, k), append(p.bits, -1)
	}
	mixed, of := h.mixed(p.Layout.Time)
	switch {
	case mixed >= 0 && (len(p.all) > 1 || h.columns[mixed].words > 0):
		line, column := h.nameAt(mixed)
		return &acquire.Error{File: p.Name, Line: line, Column: column, What: fmt.Sprintf("column %q says that the rows of several channels are mixed: %s", cmp.Or(h.columns[mixed].name, fmt.Sprint(mixed+1)), strings.Join(of, ", ")),
			Expect: "a column of levels for each channel, or one channel", Do: "export each channel by itself, or keep the rows of one", Err: acquire.ErrShape}
	case h.perCycle(p.Layout.Time, p.columns):
		return &acquire.Error{File: p.Name, Line: h.first + 1, What: "the table has a row for each cycle, and no levels", Expect: "a row for each pulse or edge", Do: "list the pulses one a line, such as H 3.2 ms and L 1.9 ms", Err: acquire.ErrShape}
	case h.last == h.first+1 && !p.HasTime() && (len(p.all) > maxChannelNumber || len(h.cell(h.first, 0)) > longestCell):
		return &acquire.Error{File: p.Name, Line: h.first + 1, What: "the samples stand side by side in one row", Expect: "a row for each sample", Do: "write each on a line of its own", Err: acquire.ErrShape}
	case len(p.all) == 0:
		return &acquire.Error{File: p.Name, Line: h.first + 1, What: "no column of levels was found", Expect: "a table of time and level", Do: "list the edges one a line, each with its time and the state behind it", Err: acquire.ErrShape}
	}
	if len(opt.Channels) == 0 { // of those that hold something
		var filled []int
		for i, k := range p.columns {
			if h.columns[k].filled > 0 {
				filled = append(filled, i)
			}
		}
		if len(filled) == 1 {
			p.pick(filled[0])
			return nil
		}
	}
	chosen, err := p.wanted(opt, "the file holds %d channels")
	if err != nil {
		return err
	}
	for _, want := range chosen {
		i := findChannel(p.all, want)
		if i < 0 {
			return p.noChannel("there is no channel %q", want)
		}
		if h.whole && h.columns[p.columns[i]].filled == 0 {
			line, column := h.nameAt(p.columns[i])
			return &acquire.Error{File: p.Name, Line: line, Column: column, What: fmt.Sprintf("channel %q has no value in any row", p.all[i].Name), Expect: "a channel that was recorded", Err: acquire.ErrChoice}
		}
		p.pick(i)
	}
	return nil
}

// wanted names the channels to read: those asked for, or the only one.
func (c *choice) wanted(opt acquire.Options, many string) ([]string, error) {
	switch {
	case len(opt.Channels) > 0:
		return opt.Channels, nil
	case len(c.all) == 1:
		return []string{c.all[0].Name}, nil
	}
	return nil, &acquire.Error{File: c.file, What: fmt.Sprintf(many, len(c.all)), Expect: "a choice", Do: "choose with --channel: " + channelList(c.all), Err: acquire.ErrChoice}
}

// noChannel is the error for a channel that is asked for and not there.
func (c *choice) noChannel(none, want string) error {
	return &acquire.Error{File: c.file, What: fmt.Sprintf(none, want), Expect: "one of: " + channelList(c.all), Err: acquire.ErrChoice}
}

// longestCell: no number of a table has more characters.
const longestCell = 40

// ownTime is the time column of the chosen channels: where there are several, the nearest one on their left.
func (p *draft) ownTime() (int, error) {
	own := -1
	for i, k := range p.Layout.Value {
		time := p.Layout.Time
		for j := range k {
			if c := &p.head.columns[j]; time >= 0 && !endNames[plainName(c.name)] && j != time && c.isTime() && c.rises && p.head.columns[time].isTime() && p.head.columns[time].rises && !p.head.between(j, time) {
				time = max(time, j)
			}
		}
		if i > 0 && time != own && !p.head.alike(time, own) {
			return 0, &acquire.Error{File: p.Name, What: "the chosen channels have time columns of their own", Expect: "channels that share one", Do: "choose one channel", Err: acquire.ErrChoice}
		}
		if i == 0 {
			own = time
		}
	}
	return own, nil
}

func (p *draft) pick(i int) {
	ch, shift := p.all[i], 0
	if u, ok := levelUnits[ch.Unit]; ok {
		ch.Unit, shift = u.base, u.shift
	} else if countUnits[strings.ToLower(ch.Unit)] {
		ch.Unit = acquire.CountUnit
	}
	p.Channels = append(p.Channels, ch)
	p.Layout.Value = append(p.Layout.Value, p.columns[i])
	p.Layout.Shift = append(p.Layout.Shift, shift)
	if p.bits[i] >= 0 || p.Layout.Bit != nil {
		for len(p.Layout.Bit) < len(p.Layout.Value)-1 {
			p.Layout.Bit = append(p.Layout.Bit, -1)
		}
		p.Layout.Bit = append(p.Layout.Bit, p.bits[i])
	}
}

// findChannel matches a name exactly, then a number, then a name regardless of case.
func findChannel(all []acquire.Channel, want string) int {
	tests := []func(c acquire.Channel) bool{
		func(c acquire.Channel) bool { return c.Name == want },
		func(c acquire.Channel) bool { return fmt.Sprint(c.Number) == want },
		func(c acquire.Channel) bool { return strings.EqualFold(c.Name, want) },
	}
	for _, ok := range tests {
		for i, c := range all {
			if ok(c) {
				return i
			}
		}
	}
	return -1
}

// channelList lists channels in a few lines; of very many, the last says how far the numbers go.
func channelList(all []acquire.Channel) string {
	const first, longest = 24, 40 // channels, and characters of a name
	one := func(c acquire.Channel) string {
		number, name := fmt.Sprint(c.Number), []rune(c.Name)
		switch {
		case c.Name == number:
			return number
		case len(name) > longest:
			name = append(name[:longest-1], '…')
		}
		return number + " (" + string(name) + ")"
	}
	var s []string
	for _, c := range all[:min(first, len(all))] {
		s = append(s, one(c))
	}
	if more := len(all) - first; more > 0 {
		s = append(s, fmt.Sprintf("… %d more, the last %s", more, one(all[len(all)-1])))
	}
	return strings.Join(s, ", ")
}

// onlyChannel is the one channel there is, if no other is asked for.
func (h *head) onlyChannel(opt acquire.Options) ([]acquire.Channel, error) {
	c := choice{h.name, []acquire.Channel{{Name: "1", Number: 1}}}
	for _, want := range opt.Channels {
		if findChannel(c.all, want) < 0 {
			return nil, c.noChannel("there is no channel %q", want)
		}
	}
	return c.all, nil
}

// shape is one way in which benches export. fits returns nil, nil for input that is not of it, and an error for
// input that is, but can't be read.
type shape struct {
	name string
	fits func(h *head, opt acquire.Options) (*proposal, error)
}

// proposal is what a shape makes of the head: a plan but for what assemble puts to it.
type proposal struct {
	Plan
	guess   *timeunit.Guess // of the unit of times; nil: something says it
	numbers string          // what the guess is about
}

func (q *proposal) say(format string, a ...any) {
	q.Evidence = append(q.Evidence, fmt.Sprintf(format, a...))
}

func (q *proposal) note(format string, a ...any) {
	q.Notes = append(q.Notes, fmt.Sprintf(format, a...))
}

// untabled is the layout of lines that make no table.
var untabled = scan.Layout{Time: 0, Join: -1}

// propose is a proposal of a table as it stands.
func (p *draft) propose(kind acquire.Kind) *proposal {
	q := p.proposal
	q.Kind = kind
	return &q
}

// draft is what all tables share, while it is drawn up.
type draft struct {
	proposal
	choice
	columns []int // cells of the channels, before the choice
	bits    []int // lines within these, counted from the right; -1: the cell is one level
	head    *head
	times   []float64   // of the head's rows
	levels  [][]float64 // of the chosen channels, in the head's rows
}

// setUnit takes a unit for that of the time column.
func (p *draft) setUnit(name string) {
	u, _ := timeunit.Named(name)
	p.Layout.TimeShift, p.Layout.Longer = u.Power, u.Times
	p.TimeUnit = timeunit.Symbol(u.Seconds())
}

// logic reports whether all chosen channels hold states.
func (p *draft) logic() bool {
	return !slices.ContainsFunc(p.Layout.Value, func(k int) bool { return !p.head.columns[k].logic() })
}

// choice is what the channels are chosen from.
type choice struct {
	file string
	all  []acquire.Channel
}
