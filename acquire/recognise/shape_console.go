package recognise

import (
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// consoleShape: what a terminal logged: prompts and chatter, and among them transitions with a sample number, or
// lines of a counter and a level behind the terminal's own time of day.
var consoleShape = shape{name: "console log", fits: fitConsole}

// rateStated is a rate, in Hz, and where it stands, from 1.
type rateStated struct {
	rate         float64
	line, column int
}

func fitConsole(h *head, opt acquire.Options) (*proposal, error) {
	var stated rateStated
	changes, counters := 0, 0
	var flips []bool
	repeats, states := 0, true
	last := ""
	for i := range h.lines {
		if !slices.ContainsFunc(h.lines[i].text, func(c byte) bool { return c == ':' || c == '>' || c|0x20 == 's' || c|0x20 == 'z' }) {
			continue // as most, and what follows is slow
		}
		text := string(h.lines[i].text)
		if strings.IndexByte(text, ':') < 0 && !strings.Contains(text, "->") && !mayStateRate(text) {
			continue
		}
		if m := rateWords.FindStringSubmatch(text); m != nil && stated.rate == 0 {
			v, _ := scan.Float([]byte(m[1]), '.', map[string]int{"": 0, "K": 3, "M": 6, "G": 9}[strings.ToUpper(m[2])])
			stated = rateStated{v, i + 1, strings.Index(text, m[1]) + 1}
		}
		if m := ChangeLine.FindStringSubmatch(text); m != nil {
			changes++
			for len(flips) < len(m[3]) {
				flips = append(flips, false)
			}
			for k := range min(len(m[2]), len(m[3])) {
				if m[2][len(m[2])-1-k] != m[3][len(m[3])-1-k] {
					flips[k] = true
				}
			}
		}
		if m := StampedLine.FindStringSubmatch(text); m != nil {
			if c := CounterLine.FindStringSubmatch(m[1]); c != nil {
				counters++
				states = states && (c[2] == "0" || c[2] == "1")
				if c[2] == last {
					repeats++
				}
				last = c[2]
			}
		}
	}
	switch {
	case changes > 0 && changes >= counters:
		return h.changes(opt, flips, stated)
	case counters > 1:
		return h.counter(opt, states, repeats, counters)
	}
	return nil, nil
}

// changes plans for lines of a sample number and states.
func (h *head) changes(opt acquire.Options, flips []bool, stated rateStated) (*proposal, error) {
	q := &proposal{Plan: Plan{Kind: acquire.Transitions, Layout: untabled, Repeats: AllEqual, Step: opt.Interval, IntervalLine: stated.line, IntervalColumn: stated.column}}
	if q.Step == 0 && stated.rate > 0 {
		q.Step = 1 / stated.rate
		q.say("line %d states a rate of %.9g Hz", stated.line, stated.rate)
	}
	if !(q.Step > 0) {
		return nil, h.noInterval("the lines count samples, and no rate is stated")
	}
	c := choice{file: h.name}
	var bit []int
	for k, flips := range flips {
		if flips {
			c.all = append(c.all, acquire.Channel{Name: fmt.Sprintf("D%d", k), Number: len(c.all) + 1})
			bit = append(bit, k)
		}
	}
	want, err := c.wanted(opt, "%d lines change")
	if err != nil {
		return nil, err
	}
	var bits []int
	for _, w := range want {
		i := findChannel(c.all, w)
		if i < 0 {
			return nil, c.noChannel("there is no channel %q that changes", w)
		}
		q.Channels = append(q.Channels, c.all[i])
		bits = append(bits, bit[i])
	}
	q.say("lines of a sample number and the states before and after it")
	q.Lines = Changes{Step: q.Step, Bits: bits}
	return q, nil
}

// counter plans for lines of a counter and a level behind a time of day.
func (h *head) counter(opt acquire.Options, states bool, repeats, lines int) (*proposal, error) {
	only, err := h.onlyChannel(opt)
	if err != nil {
		return nil, err
	}
	q := &proposal{Plan: Plan{Kind: acquire.Samples, Layout: untabled, Channels: only, Repeats: AllEqual}}
	unit := opt.TimeUnit
	if unit == "" {
		g := timeunit.Of(timeunit.Written{Whole: true}, nan, 0)
		unit, q.guess, q.numbers = g.Unit, &g, "the counter"
	}
	in, _ := timeunit.Named(unit)
	switch {
	case states && repeats*4 < lines:
		q.Kind, q.Step = acquire.Transitions, in.Seconds()
	case states:
		q.Kind = acquire.Logic
	}
	q.Res = grid.Resolution{Fixed: in.Seconds(), Finest: in.Seconds()}
	q.say("lines of a 32-bit counter and a level, behind the terminal's time of day, which is not used")
	q.Lines = Counter{Unit: in}
	return q, nil
}
