package recognise

import (
	"fmt"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// shape is one way in which benches export. fits returns nil, nil for input that is not of it, and an error for
// input that is, but can't be read.
type shape struct {
	name string
	fits func(h *head, opt acquire.Options) (*proposal, error)
}

// proposal is what a shape makes of the head. Of it the plan is assembled, in one place.
type proposal struct {
	table    *draft // what all tables share; nil: the lines make none
	kind     acquire.Kind
	lines    any // see Plan.Lines
	layout   scan.Layout
	channels []acquire.Channel
	first    int // see Plan.First
	repeats  Repeats

	step, rounding, start float64 // s; see Plan
	line, column          int     // where the interval is stated, from 1

	res              grid.Resolution
	grid             grid.Grid
	tick             float64
	uneven, segments bool

	guess           *timeunit.Guess // of the unit of times; nil: something says it
	numbers         string          // what the guess is about
	notes, evidence []string
}

func (q *proposal) say(format string, a ...any) {
	q.evidence = append(q.evidence, fmt.Sprintf(format, a...))
}

func (q *proposal) note(format string, a ...any) {
	q.notes = append(q.notes, fmt.Sprintf(format, a...))
}

// untabled is the layout of lines that make no table.
var untabled = scan.Layout{Time: 0, Join: -1}

// propose is a proposal of a table as it stands.
func (p *draft) propose(kind acquire.Kind) *proposal {
	return &proposal{table: p, kind: kind, layout: p.Layout, channels: p.Channels, first: p.First, repeats: p.Repeats, step: p.Step, rounding: p.Rounding, start: p.Start,
		line: p.IntervalLine, column: p.IntervalColumn, res: p.Res, grid: p.Grid, guess: p.guess, numbers: p.numbers, notes: p.Notes, evidence: p.evidence}
}

// draft is what all tables share, while it is drawn up.
type draft struct {
	Plan
	choice
	meta     meta
	guess    *timeunit.Guess // of the time's unit; nil: something says it
	numbers  string          // what the guess is about
	evidence []string

	columns []int // cells of the channels, before the choice
	bits    []int // lines within these, counted from the right; -1: the cell is one level
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

// choice is what the channels are chosen from.
type choice struct {
	file string
	all  []acquire.Channel
}
