// Package read follows a plan through a source: rows, cut into records, in bounded memory.
//
//  1. Workers cut the text into chunks of whole lines and parse them side by side (chunks.go, package scan); rows that hang
//     on the lines before them are read one line at a time instead (list.go, rows.go and a file for each kind of text).
//  2. The sieve takes out rows that stand twice, and rows whose times their neighbours deny.
//  3. The table reader deals with the odd lines among the rows, ends a record where the time falls back or steps off its
//     grid, and hands out blocks. What only the whole record can tell is settled at its end (record.go).
package read

import (
	"offbeat/acquire"
	"offbeat/acquire/recognise"
)

// Open begins to read a text by its plan. What becomes of its lines goes into counts.
func Open(t Text, p *recognise.Plan, opt acquire.Options, counts *acquire.Counts, tune Tuning) Reader {
	r := &tableReader{opt: opt, counts: counts, p: p, look: lookOf(p)}
	if take, width := taker(p); take != nil {
		r.rows = newList(t, p, counts, width, take)
		return r
	}
	for _, class := range p.Classes {
		counts.Add(class, 1, "")
	}
	r.rows = newRowStream(t, p, tune)
	if p.HasTime() && !p.Counting && (p.Repeats != recognise.Once || p.Grid.Step == 0) {
		r.rows = &sieve{batchSource: r.rows, look: r.look}
	}
	return r
}

// roundingOf is what a plan's numbers were rounded as.
func roundingOf(p *recognise.Plan) acquire.Rounding {
	switch l := p.Lines.(type) {
	case recognise.Differences, recognise.Pulses:
		return acquire.OfTimes
	case recognise.Durations:
		return acquire.OfPulses
	case recognise.Cycles:
		if !l.Instants {
			return acquire.OfTimes
		}
	}
	return acquire.OfInstants
}

// taker is what knows the lines of a plan whose rows hang on the lines before them, and how many levels a row has; nil: none
// is needed.
func taker(p *recognise.Plan) (take lineTaker, levels int) {
	switch l := p.Lines.(type) {
	case recognise.Pairs:
		return &pairTaker{}, len(p.Channels)
	case recognise.Steps:
		return &stepTaker{}, len(p.Channels)
	case recognise.Differences:
		return &differenceTaker{layout: l.Layout, before: l.Before, longer: l.Longer}, len(p.Channels)
	case recognise.Durations:
		return &durationTaker{layout: l.Layout, tolerance: l.Tolerance, longer: l.Longer}, 1
	case recognise.Cycles:
		return &cycleTaker{cycle: l}, 1
	case recognise.Pulses:
		return &pulseTaker{unit: l.Unit, array: l.Array}, 1
	case recognise.Changes:
		return &changeTaker{step: l.Step, bits: l.Bits}, len(l.Bits)
	case recognise.Counter:
		return &counterTaker{unit: l.Unit}, 1
	case recognise.Bits:
		return bitTaker{}, 1
	case recognise.Dump:
		return newDumpTaker(l), len(l.Codes)
	case recognise.Records:
		return &recordTaker{Records: l}, 1
	}
	return nil, 0
}
