// Package recognise finds out what shape an input has, from its first lines: cells, columns, units, what stands above the
// rows. It ends in a Plan, which package read follows.
//
// From the bottom up: words for units and names (units, patterns); a line cut into cells, and what they look like (line); what
// names and values state (meta); the head of lines with its table, its decimal mark, its header and its columns (head, table,
// mark, header, columns, fold), drawn up by newHead (view) and never changed behind it; what all tables share (draft,
// choice, step, and assemble, which draws it up). A shape, each its own file, looks at the head and returns a proposal;
// assemble makes the Plan of it, and nothing else does. Lines that name their values (labels) are made a table before.
package recognise

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// shapes are tried in this order: what needs the most structure, and so is the least likely by chance, comes first.
var shapes = []shape{
	dumpShape,
	consoleShape,
	pulsesShape,
	recordRowsShape,
	besideShape,
	cyclesShape,
	durationsShape,
	differencesShape,
	bitsShape,
	runShape,
	valuesShape,
	indexShape,
	pairsShape,
	stepsShape,
	logicShape,
	transitionsShape,
	segmentsShape,
	tableShape,
}

// ShapeNames lists the shapes, as Options.Shape takes them.
func ShapeNames() []string {
	var n []string
	for _, s := range shapes {
		n = append(n, s.name)
	}
	return n
}

// Recognise finds the shape of the input.
func Recognise(t Input, opt acquire.Options) (*Plan, error) {
	name := t.Name
	if opt.Shape != "" && !slices.Contains(ShapeNames(), opt.Shape) {
		return nil, &acquire.Error{File: name, What: fmt.Sprintf("unknown shape %q", opt.Shape), Expect: "one of: " + strings.Join(ShapeNames(), "; "), Err: acquire.ErrShape}
	}
	if _, ok := timeunit.Named(opt.TimeUnit); !ok && opt.TimeUnit != "" {
		return nil, &acquire.Error{File: name, What: fmt.Sprintf("unknown time unit %q", opt.TimeUnit), Expect: timeunit.Known, Err: acquire.ErrTime}
	}
	h, err := newHead(t, opt)
	if err != nil {
		return nil, err
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
			if err := h.strayUnit(p); err != nil {
				return nil, err
			}
			return h.assemble(s.name, t.How, p), nil
		}
	}
	if opt.Shape != "" {
		return nil, &acquire.Error{File: name, What: fmt.Sprintf("the input does not have the shape %q", opt.Shape), Do: "leave --shape out to see what is recognised", Err: acquire.ErrShape}
	}
	return nil, h.unrecognised()
}

// strayUnit is the error for times whose unit would be a guess though a line just above the rows names one, which stands over no
// column as it was cut.
func (h *head) strayUnit(p *proposal) error {
	if p.guess == nil {
		return nil
	}
	i := h.above(h.first)
	for _, i := range []int{i, h.above(i)} {
		if i < 0 || isNamed(&h.lines[i]) < h.lines[i].filled() || bytes.ContainsAny(h.lines[i].text, "=:") {
			continue
		}
		for _, word := range strings.FieldsFunc(string(h.lines[i].text), func(r rune) bool {
			return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '.' && r != utf8.RuneError
		}) {
			if isFraction(word) {
				return &acquire.Error{File: h.name, Line: i + 1, Column: bytes.Index(h.lines[i].text, []byte(word)) + 1,
					What:   fmt.Sprintf("%q is a unit of time, and it is not clear which column's", word),
					Expect: "the unit behind the name of its column, or under it", Do: "give --time-unit " + word, Err: acquire.ErrTime}
			}
		}
	}
	return nil
}

// cellFaults are cells that are nearly numbers: how they look, what is wrong with them, what to do.
var cellFaults = []struct {
	looks                *regexp.Regexp
	what, expect, remedy string
}{
	{regexp.MustCompile(`^[-+]?\d+(?:[.,]\d+)?\s*([mukM\x{b5}\x{3bc}]?[VA])$`), "has its unit in the cell", "levels that are plain numbers", "export with the units in the header"},
	{regexp.MustCompile(`^[-+]?\d[\d.]*\s+(?:[num\x{b5}\x{3bc}]?s|min)\s+\S+$`), "has a blank before its unit", "the unit in the header", "export with the units in the header"},
	{regexp.MustCompile(`^[A-Za-z_]\w*\s*[=:]\s*[-+]?\d+(?:[.,]\d+)?\s*[a-zV]{0,3}$`), "has its name in the cell", "plain numbers", "export with the names in a line above the rows"},
	{regexp.MustCompile(`^0[xX][0-9A-Fa-f]+$`), "is hexadecimal", "levels that are decimal numbers", "export as decimal numbers"},
}

// hinted says what is wrong with the first cell that is nearly a number, if there is one.
func (h *head) hinted(e *acquire.Error) (some bool, line int) {
	for i := range h.lines {
		for _, d := range append([]byte{0}, delimiters...) {
			cells := scan.Split(nil, h.lines[i].text, d)
			for _, c := range cells {
				for _, f := range cellFaults {
					if f.looks.Match(c) {
						e.What, e.Expect, e.Do = fmt.Sprintf("%q %s", scan.Clip(c), f.what), f.expect, f.remedy
						return true, i + 1
					}
				}
			}
			if numbers := numbersIn(cells); numbers >= bareCells {
				e.What, e.Expect, e.Do = fmt.Sprintf("%d numbers stand side by side in one row", numbers), "a row for each sample", "turn the table, so that each sample has a line of its own"
				return true, i + 1
			}
		}
	}
	return false, 0
}

// numbersIn counts the cells that are numbers.
func numbersIn(cells [][]byte) int {
	n := 0
	for _, c := range cells {
		if scan.Classify(c) == scan.Number {
			n++
		}
	}
	return n
}

// unrecognised says what the input looks like.
func (h *head) unrecognised() error {
	e := &acquire.Error{File: h.name, What: "no rows of time and level were found in the first lines", Expect: "a table of time and level, a transition list or a list of durations", Do: "export the capture's samples as CSV", Err: acquire.ErrShape}
	if h.first < h.last {
		e.Line = h.first + 1
		e.What = fmt.Sprintf("the rows have %d columns, and none of them is a time", len(h.columns))
	} else if some, line := h.hinted(e); some {
		e.Line = line
	} else if len(h.lines) > 0 {
		e.What += fmt.Sprintf(", which begin with %q", scan.Clip(bytes.TrimSpace(h.lines[0].text)))
	}
	return e
}
