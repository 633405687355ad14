package recognise

import (
	"fmt"

	"offbeat/acquire"
	"offbeat/acquire/internal/timeunit"
)

// shape is one way in which benches export. fits returns nil, nil for input that is not of it, and an error for
// input that is, but can't be read.
type shape struct {
	name string
	fits func(h *head, opt acquire.Options) (*draft, error)
}

// draft is a plan while it is drawn up: what a shape has settled so far, and the head that it looks at.
type draft struct {
	Plan
	meta     meta
	guess    *timeunit.Guess // of the time's unit; nil: something says it
	numbers  string          // what the guess is about
	evidence []string

	columns []int             // cells of the channels, before the choice
	bits    []int             // lines within these, counted from the right; -1: the cell is one level
	all     []acquire.Channel // the channels before the choice
	head    *head
	times   []float64   // of the head's rows
	levels  [][]float64 // of the chosen channels, in the head's rows
}

func (p *draft) say(format string, a ...any) {
	p.evidence = append(p.evidence, fmt.Sprintf(format, a...))
}

func (p *draft) note(format string, a ...any) { p.Notes = append(p.Notes, fmt.Sprintf(format, a...)) }

// setUnit takes a unit for that of the time column.
func (p *draft) setUnit(name string) {
	u, _ := timeunit.Named(name)
	p.Layout.TimeShift, p.Layout.Longer = u.Power, u.Times
}

// logic reports whether all chosen channels hold states.
func (p *draft) logic() bool {
	for _, k := range p.Layout.Value {
		if !p.head.columns[k].logic() {
			return false
		}
	}
	return true
}
