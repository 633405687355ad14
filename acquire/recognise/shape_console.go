package recognise

import (
	"fmt"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// consoleShape: what a terminal logged: prompts and chatter, and among them transitions with a sample number, or
// lines of a counter and a level behind the terminal's own time of day.
var consoleShape = shape{name: "console log", fits: fitConsole}

func fitConsole(h *head, opt acquire.Options) (*draft, error) {
	p := &draft{Plan: Plan{Name: h.name, Layout: scan.Layout{Time: 0, Join: -1}}, head: h}
	changes, counters, rate := 0, 0, 0.0
	var flips []bool
	repeats, states := 0, true
	last := ""
	for i := range h.lines {
		text := string(h.lines[i].text)
		if strings.IndexByte(text, ':') < 0 && !strings.Contains(text, "->") && !mayStateRate(text) {
			continue // the patterns below are slow
		}
		if m := rateWords.FindStringSubmatch(text); m != nil && rate == 0 {
			v, _ := scan.Float([]byte(m[1]), '.', map[string]int{"": 0, "K": 3, "M": 6, "G": 9}[strings.ToUpper(m[2])])
			rate = v
			p.IntervalLine, p.IntervalColumn = i+1, strings.Index(text, m[1])+1
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
		return p, p.changes(h, opt, flips, rate)
	case counters > 1:
		return p, p.counter(h, opt, states, repeats, counters)
	}
	return nil, nil
}

// changes plans for lines of a sample number and states.
func (p *draft) changes(h *head, opt acquire.Options, flips []bool, rate float64) error {
	p.Step = opt.Interval
	if p.Step == 0 && rate > 0 {
		p.Step = 1 / rate
		p.say("line %d states a rate of %.9g Hz", p.IntervalLine, rate)
	}
	if !(p.Step > 0) {
		return h.noInterval("the lines count samples, and no rate is stated")
	}
	var bit []int
	for k, flips := range flips {
		if flips {
			p.all = append(p.all, acquire.Channel{Name: fmt.Sprintf("D%d", k), Number: len(p.all) + 1})
			bit = append(bit, k)
		}
	}
	want, err := p.wanted(opt, "%d lines change")
	if err != nil {
		return err
	}
	var bits []int
	for _, w := range want {
		i := findChannel(p.all, w)
		if i < 0 {
			return p.noChannel("there is no channel %q that changes", w)
		}
		p.Channels = append(p.Channels, p.all[i])
		bits = append(bits, bit[i])
	}
	p.Kind, p.Repeats = acquire.Transitions, AllEqual
	step := p.Step
	p.say("lines of a sample number and the states before and after it")
	p.Lines = Changes{Step: step, Bits: bits}
	return nil
}

// counter plans for lines of a counter and a level behind a time of day.
func (p *draft) counter(h *head, opt acquire.Options, states bool, repeats, lines int) error {
	if err := p.onlyChannel(opt); err != nil {
		return err
	}
	unit := opt.TimeUnit
	if unit == "" {
		g := timeunit.Of(timeunit.Written{Whole: true}, nan, 0)
		unit, p.guess, p.numbers = g.Unit, &g, "the counter"
	}
	in, _ := timeunit.Named(unit)
	switch {
	case states && repeats*4 < lines:
		p.Kind = acquire.Transitions
	case states:
		p.Kind = acquire.Logic
	default:
		p.Kind = acquire.Samples
	}
	p.Repeats = AllEqual
	p.Res = grid.Resolution{Fixed: in.Seconds(), Finest: in.Seconds()}
	if p.Kind == acquire.Transitions {
		p.Step = in.Seconds()
	}
	p.say("lines of a 32-bit counter and a level, behind the terminal's time of day, which is not used")
	p.Lines = Counter{Unit: in}
	return nil
}
