package read

import (
	"strconv"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
	"offbeat/acquire/recognise"
)

// pulseTaker adds up durations.
type pulseTaker struct {
	unit  timeunit.Unit // of durations without one
	array bool

	inside bool // in a list
	begun  bool
	t      float64
	state  float64 // of the last duration
	word   float64 // state that the last word names
	worded bool
	listed int64 // durations of this list
	stated int64 // how many the list says it has
}

func (d *pulseTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	s := string(text)
	if d.array {
		if m := recognise.FindList(s); m != nil {
			d.close(out)
			d.inside, d.listed = true, 0
			d.stated, _ = strconv.ParseInt(s[m[2]:m[3]], 10, 64)
			s = s[m[1]:]
		} else if !d.inside {
			return textClass(text), "", nil
		}
	}
	some, words := false, 0
	for tok := range scan.Tokens(s) {
		switch c := tok[0]; {
		case c == '}' || c == ';':
			if d.array {
				d.close(out)
			}
		case c == '{':
		case c|0x20 >= 'a' && c|0x20 <= 'z' || c == '_':
			if v, ok := recognise.StateWord(tok); ok {
				d.word, d.worded = v, true
			}
			words++
		default:
			if d.array && !d.inside {
				continue
			}
			if !d.duration(tok, num, out) {
				return out.bad(text, num, cut, 0)
			}
			some = true
		}
	}
	switch {
	case !some && cut && d.worded && words == 1: // a state whose duration is cut off
		return out.bad(text, num, cut, 0)
	case !some:
		return textClass(text), "", nil
	}
	return acquire.RowLine, "", nil
}

// duration takes one duration; false if it can't be read.
func (d *pulseTaker) duration(tok string, num int64, out *listReader) bool {
	t, ok := scan.Seconds([]byte(tok))
	if !ok {
		t, ok = scan.FloatIn([]byte(tok), '.', d.unit)
	}
	state := 1 - d.state
	switch {
	case d.worded:
		state = d.word
	case tok[0] == '+':
		state = 1
	case tok[0] == '-':
		state, t = 0, -t
	case !d.begun:
		state = 1
	}
	d.worded = false
	if !ok || t < 0 {
		return false
	}
	if d.begun && state == d.state {
		out.note("line %d repeats the state before it: a line was lost", num)
		d.close(out)
	}
	if !d.begun {
		out.row(d.t, 1-state) // the state before the first edge
		d.begun = true
	}
	out.row(d.t, state)
	d.t += t
	d.state = state
	d.listed++
	return true
}

// close lists the last edge and ends the record.
func (d *pulseTaker) close(out *listReader) {
	if d.begun {
		out.row(d.t, 1-d.state)
		if d.inside && d.stated > 0 && d.stated != d.listed {
			out.note("the list says it has %d durations, and holds %d", d.stated, d.listed)
		}
		out.cut()
	}
	d.begun, d.inside, d.t, d.state = false, false, 0, 0
}

func (d *pulseTaker) end(out *listReader) { d.close(out) }
