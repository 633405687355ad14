package recognise

import (
	"fmt"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

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

// choice is what the channels are chosen from.
type choice struct {
	file string
	all  []acquire.Channel
}
