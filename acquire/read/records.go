package read

import (
	"bytes"
	"fmt"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// recordTaker makes a record of each row, or one of all.
type recordTaker struct {
	recognise.Records
	cells [][]byte
}

func (t *recordTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	switch {
	case num <= int64(t.Header):
		return acquire.PreambleLine, "", nil
	case num == int64(t.Header)+1:
		return acquire.HeaderLine, "", nil
	case len(bytes.TrimSpace(text)) == 0:
		return acquire.BlankLine, "", nil
	}
	l := t.RecordRow
	t.cells = scan.Split(t.cells, text, l.Delim)
	c := t.cells
	for len(c) > 0 && len(c[len(c)-1]) == 0 {
		c = c[:len(c)-1]
	}
	if len(c) <= l.Samples {
		return out.bad(text, num, cut, 0)
	}
	if l.Channel >= 0 && t.Channel != "" && string(c[l.Channel]) != t.Channel {
		return acquire.SkippedLine, otherChannel, nil
	}
	step := out.p.Step
	for _, k := range []int{l.Rate, l.Step} {
		if v, ok := 0.0, false; k >= 0 && step == 0 {
			if v, _, ok = recognise.ValueUnit(string(c[k])); !ok || !(v > 0) {
				return out.bad(text, num, cut, k)
			}
			if step = v; k == l.Rate {
				step = 1 / v
			}
		}
	}
	if l.Count >= 0 {
		if v, ok := scan.Float(c[l.Count], '.', 0); ok && int(v) > len(c)-l.Samples && cut {
			return acquire.SkippedLine, cutRow, cutError(out.p.Name, num, 0)
		} else if !ok || int(v) != len(c)-l.Samples {
			return out.bad(text, num, cut, l.Count)
		}
	}
	if !t.Continue {
		out.b.events = append(out.b.events, event{row: out.b.n, cut: true, step: step})
	}
	for k, x := range c[l.Samples:] {
		v, ok := scan.Float(x, l.Point, 0)
		if !ok {
			if _, v, ok = scan.Mark(x); !ok {
				return acquire.SkippedLine, badRow, &acquire.Error{File: out.p.Name, Line: int(num), Column: scan.Column(text, l.Delim, l.Samples+k), What: fmt.Sprintf("%q is no level", scan.Clip(x)), Expect: "a number", Do: "mend the row", Err: acquire.ErrSyntax}
			}
		}
		out.sample(v)
	}
	return acquire.RowLine, "", nil
}
