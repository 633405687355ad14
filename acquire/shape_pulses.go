package acquire

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// pulsesShape: durations in running text, high and low in turn: a list in braces, signed numbers, or words such
// as MARK and SPACE, H and L before each.
var pulsesShape = shape{name: "list of durations in text", fits: fitPulses}

var (
	// listHead is what stands before a list: a name, its length in brackets, an equals sign or a colon.
	listHead = regexp.MustCompile(`[A-Za-z_]\w*\s*\[\s*(\d*)\s*\]\s*[=:]\s*\{?`)
)

// findList finds the head of a list: where it stands, and its stated length.
func findList(s string) []int {
	if strings.IndexByte(s, '[') < 0 {
		return nil // the pattern is slow
	}
	return listHead.FindStringSubmatchIndex(s)
}

// pulseLines is how many lines are looked at for words and durations.
const pulseLines = 100

func fitPulses(h *head, opt Options) (*plan, error) {
	array, signed := false, false
	good, bad, words := 0, 0, 0
	var bare []float64 // durations without a unit
	whole := true
	first := -1
	for i := range h.lines[:min(len(h.lines), pulseLines)] {
		text := string(h.lines[i].text)
		if m := findList(text); m != nil {
			array = true
			if first < 0 {
				first = i
			}
			text = text[m[1]:]
		}
		for in := (tokens{text}); ; {
			tok := in.next()
			if tok == "" {
				break
			}
			if v, ok := scan.Float([]byte(tok), '.', 0); ok {
				bare = append(bare, v)
				whole = whole && !strings.ContainsAny(tok, ".eE")
			}
			if array {
				continue
			}
			_, isState := stateWord(tok)
			switch {
			case isState:
				words++
				good++
			case tok[0] == '+' || tok[0] == '-' || tok[0]-'0' <= 9:
				signed = signed || tok[0] == '+'
				good++
			default:
				bad++
			}
		}
	}
	switch {
	case array:
	case opt.Shape != "":
	case bad*5 > good, h.names >= 0, good == 0:
		return nil, nil
	case words*2 >= good-1 && words > 0 && h.wordFirst():
	case signed && h.alternateSigns():
	default:
		return nil, nil
	}
	unit := opt.TimeUnit
	p := &plan{name: h.name, head: h, kind: Transitions, first: max(first, 0), layout: scan.Layout{Time: 0, Join: -1}}
	p.channels = []Channel{{Name: "1", Number: 1}}
	if err := h.onlyChannel(p, opt); err != nil {
		return nil, err
	}
	if unit == "" {
		g := timeunit.Of(whole, nan, timeunit.Usual(bare))
		unit = g.Unit
		if len(bare) > 0 {
			p.guess, p.numbers = &g, "durations without one"
		}
	}
	shift, ok := scan.TimeUnits[unit]
	if !ok {
		return nil, &Error{File: h.name, What: fmt.Sprintf("unknown time unit %q", unit), Expect: "s, ms, us or ns", Err: ErrTime}
	}
	if words > 0 && h.again >= groupOf {
		p.again = h.again
	}
	p.surveyor.tick = scan.Pow10(shift)
	switch {
	case array:
		p.say("line %d begins a list of numbers in brackets: durations, high first, in turn", first+1)
		p.note("the first duration of a list is taken as high")
	case words > 0:
		p.say("each duration follows a word for its state")
	default:
		p.say("signed durations: plus is high, minus is low")
	}
	p.open = func(s *Source) recordReader {
		return openList(s, 1, &pulseTaker{p: p, shift: shift, array: array})
	}
	return p, nil
}

// onlyChannel checks a choice of channels where there is only one.
func (h *head) onlyChannel(p *plan, opt Options) error {
	for _, want := range opt.Channels {
		if findChannel(p.channels, want) < 0 {
			return &Error{File: h.name, What: fmt.Sprintf("there is no channel %q", want), Expect: "one of: " + channelList(p.channels), Err: ErrChoice}
		}
	}
	return nil
}

// stateWord reads a word for a state; the single letters of unknown states are none.
func stateWord(s string) (float64, bool) {
	class, v, ok := scan.Mark([]byte(s))
	return v, ok && class == scan.State
}

// wordFirst: most lines that hold anything begin with a word for a state.
func (h *head) wordFirst() bool {
	n, yes := 0, 0
	for i := range h.lines {
		f := strings.FieldsFunc(string(h.lines[i].text), func(r rune) bool { return strings.ContainsRune(" \t,;:=", r) })
		if len(f) == 0 {
			continue
		}
		n++
		if _, ok := stateWord(f[0]); ok {
			yes++
		}
	}
	return yes*2 > n
}

// alternateSigns: every number has a sign, and it changes from one to the next.
func (h *head) alternateSigns() bool {
	last := byte(0)
	n := 0
	for i := range h.lines {
		for in := (tokens{string(h.lines[i].text)}); ; {
			tok := in.next()
			if tok == "" {
				break
			}
			if tok[0] != '+' && tok[0] != '-' || tok[0] == last {
				return false
			}
			last = tok[0]
			n++
		}
	}
	return n > 3
}

// pulseTaker adds up durations.
type pulseTaker struct {
	p     *plan
	shift int
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

func (d *pulseTaker) line(text []byte, num int64, cut bool, out *listReader) (lineClass, string, error) {
	s := string(text)
	if d.array {
		if m := findList(s); m != nil {
			d.close(out)
			d.inside, d.listed = true, 0
			d.stated, _ = strconv.ParseInt(s[m[2]:m[3]], 10, 64)
			s = s[m[1]:]
		} else if !d.inside {
			return textClass(text), "", nil
		}
	}
	some := false
	for in := (tokens{s}); ; {
		tok := in.next()
		if tok == "" {
			break
		}
		switch c := tok[0]; {
		case c == '}' || c == ';':
			if d.array {
				d.close(out)
			}
		case c == '{':
		case c|0x20 >= 'a' && c|0x20 <= 'z' || c == '_':
			if v, ok := stateWord(tok); ok {
				d.word, d.worded = v, true
			}
		default:
			if d.array && !d.inside {
				continue
			}
			if !d.duration(tok, num, out) {
				return out.bad(d.p, text, num, cut, 0)
			}
			some = true
		}
	}
	if !some {
		return textClass(text), "", nil
	}
	return rowLine, "", nil
}

func textClass(text []byte) lineClass {
	if len(bytesTrim(text)) == 0 {
		return blankLine
	}
	return preambleLine
}

// duration takes one duration; false if it can't be read.
func (d *pulseTaker) duration(tok string, num int64, out *listReader) bool {
	t, ok := scan.Seconds([]byte(tok))
	if !ok {
		t, ok = scan.Float([]byte(tok), '.', d.shift)
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
