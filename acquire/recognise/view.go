package recognise

import (
	"bytes"
	"fmt"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// newHead finds the delimiter and the first table; first and last are equal if there is none.
func newHead(t Input, opt acquire.Options) (*head, error) {
	name := t.Name
	h := &head{name: name, size: len(t.Head), whole: t.Whole, names: -1, units: -1, join: -1, point: '.', parsed: map[parsed][]float64{}}
	try := delimiters
	if opt.Delimiter != "" {
		d, ok := delimiterNames[opt.Delimiter]
		if !ok {
			return nil, &acquire.Error{File: name, What: fmt.Sprintf("unknown delimiter %q", opt.Delimiter), Expect: `",", ";", "|", ":", "tab" or "space"`, Err: acquire.ErrShape}
		}
		try = []byte{d}
	}
	all := splitLines(t.Head, t.Whole)
	lines := singleSpaced(all)
	if t.Labels != nil {
		h.meta.names, h.meta.units, h.meta.timeUnit = t.Labels.Names, t.Labels.Units, t.Labels.TimeUnit
	}
	h.whole = t.Whole && len(all) < headLines
	best := 0
	for i, d := range try {
		if i > 0 && !occurs(d, lines) {
			continue
		}
		c := cut(lines, d)
		c.findTable()
		// More rows are better evidence than more columns; a table of one column is the last resort.
		width := c.width()
		score := (c.last-c.first)*100 + min(width, 50)
		switch {
		case width == 1:
			score /= 100
		case c.headed(c.first, c.last):
			score *= 1000
		}
		if score > best {
			best = score
			h.lines, h.first, h.last, h.delim = c.lines, c.first, c.last, d
		}
	}
	if (h.last-h.first)*4 < len(lines) {
		if words := wordyHead(lines, try); words != nil && words.last-words.first > 4*(h.last-h.first) {
			best = 1
			h.lines, h.first, h.last, h.delim = words.lines, words.first, words.last, words.delim
		}
	}
	if best == 0 {
		h.lines = cut(lines, ',').lines
		return h, nil
	}
	h.recut()
	h.findPoint()
	h.findHeader()
	if err := h.rejoin(); err != nil {
		return nil, err
	}
	h.say("delimiter %s, decimal mark %q, from %d consistent rows", delimiterWord(h.delim), string(h.point), h.last-h.first)
	h.readMeta()
	if h.meta.cellUnit = t.LevelUnit; t.LevelUnit != "" {
		h.meta.levelUnit = t.LevelUnit
	}
	h.readColumns()
	if h.foldHead(); h.repeats != Once {
		h.readColumns()
	}
	return h, nil
}

// Input is the input's beginning as UTF-8.
type Input struct {
	Name   string   // for messages
	Head   []byte   // the first lines
	Whole  bool     // that is all there is
	How    []string // evidence: how it was stored
	Labels *Labels  // what its lines name their values; nil: nothing

	LevelUnit string // that the levels were written with in their cells, in its base; empty: none
}

// readMeta takes names and values from the lines above the table, comments too.
func (h *head) readMeta() {
	for i := range h.first {
		l := &h.lines[i]
		switch {
		case i == h.names || i == h.units:
		case IsComment(bytes.TrimSpace(l.text), h.delim):
			h.meta.readComment(l, i)
		case h.statesTimes(i):
			h.meta.readUnder(&h.lines[h.above(i)], l, i)
		default:
			h.meta.readPairs(l, i)
		}
	}
	if h.names >= 0 && h.units >= 0 { // start and increment behind the units
		for k, c := range h.lines[h.units].class {
			if c == scan.Number && k < len(h.lines[h.names].cells) {
				h.meta.pair(h.units, string(h.lines[h.names].cells[k]), string(h.lines[h.units].cells[k]), h.lines[h.units].column(k))
			}
		}
	}
	if h.meta.interval > 0 {
		h.say("line %d states a sample interval of %.9g s", h.meta.line, h.meta.interval)
	}
}
