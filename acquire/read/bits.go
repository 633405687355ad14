package read

import (
	"bytes"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/recognise"
)

// bitTaker makes a sample of each character.
type bitTaker struct{ p *recognise.Plan }

func (t *bitTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	if class, ok := t.p.Above(text, num); ok {
		return class, "", nil
	}
	s := scan.Trim(text)
	if n, _ := scan.BitsOf(s); n == 0 {
		return out.bad(t.p, text, num, cut, 0)
	}
	for _, c := range bytes.TrimPrefix(s, []byte("0b")) {
		v, _ := scan.DumpState(c)
		out.sample(v)
	}
	return acquire.RowLine, "", nil
}

func (t *bitTaker) end(out *listReader) {}
