package recognise

import (
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// pulsesShape: durations in running text, high and low in turn: a list in braces, signed numbers, or words such
// as MARK and SPACE, H and L before each.
var pulsesShape = shape{name: "list of durations in text", fits: fitPulses}

// pulseLines is how many lines are looked at for words and durations.
const pulseLines = 100

func fitPulses(h *head, opt acquire.Options) (*proposal, error) {
	array, signed := false, false
	good, bad, words := 0, 0, 0
	var bare, all []float64 // durations without a unit, and all
	whole, power := true, false
	first := -1
	for i := range h.lines[:min(len(h.lines), pulseLines)] {
		text := string(h.lines[i].text)
		if m := FindList(text); m != nil {
			array = true
			if first < 0 {
				first = i
			}
			text = text[m[1]:]
		}
		for tok := range scan.Tokens(text) {
			if v, ok := scan.Float([]byte(tok), '.', 0); ok {
				bare, all = append(bare, v), append(all, v)
				whole = whole && !strings.ContainsAny(tok, ".eE")
				power = power || strings.ContainsAny(tok, "eE")
			} else if v, ok := scan.Seconds([]byte(tok)); ok {
				all = append(all, v)
			}
			if array {
				continue
			}
			_, isState := StateWord(tok)
			switch {
			case isState:
				words++
				good++
			case tok[0] == '+' || tok[0] == '-' || tok[0]-'0' <= 9:
				signed = signed || tok[0] == '+'
				good++
			case isUnit(tok) && !isTimeUnit(tok):
				return nil, nil // "high 8.7 ms low 4.3 ms f 76.9 Hz": the last is no fall
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
	case words > 0 && len(all) > 4 && grid.Ascends(all[1:]): // the first may be a header's
		return nil, nil // these are times
	case words*2 >= good-1 && words > 0 && h.wordFirst():
	case signed && h.alternateSigns():
	default:
		return nil, nil
	}
	unit := opt.TimeUnit
	if unit == "" && isTimeUnit(h.meta.timeUnit) {
		unit = h.meta.timeUnit
	}
	only, err := h.onlyChannel(opt)
	if err != nil {
		return nil, err
	}
	q := &proposal{Plan: Plan{Kind: acquire.Transitions, Layout: untabled, Channels: only, First: max(first, 0)}}
	if unit == "" {
		g := timeunit.Of(timeunit.Written{Whole: whole, Power: power}, nan, timeunit.Usual(bare))
		unit = g.Unit
		if len(bare) > 0 {
			q.guess, q.numbers = &g, "durations without one"
		}
	}
	in, _ := timeunit.Named(unit)
	if words > 0 && h.repeats > AllEqual {
		q.Repeats = h.repeats
	}
	q.Tick = in.Seconds()
	if len(bare) > 0 {
		q.TimeUnit = timeunit.Symbol(q.Tick)
	}
	switch {
	case array:
		q.say("line %d begins a list of numbers in brackets: durations, high first, in turn", first+1)
		q.note("the first duration of a list is taken as high")
	case words > 0:
		q.say("each duration follows a word for its state")
	default:
		q.say("signed durations: plus is high, minus is low")
	}
	q.Lines = Pulses{Unit: in, Array: array}
	return q, nil
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
		if _, ok := StateWord(f[0]); ok {
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
		for tok := range scan.Tokens(string(h.lines[i].text)) {
			if tok[0] != '+' && tok[0] != '-' || tok[0] == last {
				return false
			}
			last = tok[0]
			n++
		}
	}
	return n > 3
}
