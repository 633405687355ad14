package acquire

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// consoleShape: what a terminal logged: prompts and chatter, and among them transitions with a sample number, or
// lines of a counter and a level behind the terminal's own time of day.
var consoleShape = shape{name: "console log", fits: fitConsole}

var (
	// changeLine: "@37 00 -> 01 D0": sample number, states before and after, one character a line, D0 last.
	changeLine = regexp.MustCompile(`^\s*@(\d+)\s+([01xXzZ]+)\s*->\s*([01xXzZ]+)\b`)
	// stampedLine: a time of day, an arrow or a colon, and what was said.
	stampedLine = regexp.MustCompile(`^\s*\[?\d{1,2}:\d\d:\d\d(?:[.,]\d+)?\]?\s*(?:->|>|:)?\s*(.*)$`)
	// counterLine: a counter and a level.
	counterLine = regexp.MustCompile(`^(\d+)\s*[,;\t ]\s*(-?\d+(?:\.\d+)?)\s*$`)
	// rateWords: a rate in running text.
	rateWords = regexp.MustCompile(`(?i)\brate\b\D*?([\d.]+)\s*([kMG]?)(?:Hz|Sa/s|S/s)`)
)

func fitConsole(h *head, opt Options) (*plan, error) {
	p := &plan{name: h.name, head: h, layout: scan.Layout{Time: 0, Join: -1}}
	changes, counters, rate := 0, 0, 0.0
	var flips []bool
	repeats, states := 0, true
	last := ""
	for i := range h.lines {
		text := string(h.lines[i].text)
		if strings.IndexByte(text, ':') < 0 && strings.IndexByte(text, '@') < 0 && !strings.Contains(strings.ToLower(text), "rate") {
			continue // the patterns below are slow
		}
		if m := rateWords.FindStringSubmatch(text); m != nil && rate == 0 {
			v, _ := scan.Float([]byte(m[1]), '.', map[string]int{"": 0, "k": 3, "M": 6, "G": 9}[m[2]])
			rate = v
			p.meta.line, p.meta.column = i+1, strings.Index(text, m[1])+1
		}
		if m := changeLine.FindStringSubmatch(text); m != nil {
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
		if m := stampedLine.FindStringSubmatch(text); m != nil {
			if c := counterLine.FindStringSubmatch(m[1]); c != nil {
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
func (p *plan) changes(h *head, opt Options, flips []bool, rate float64) error {
	p.step = opt.Interval
	if p.step == 0 && rate > 0 {
		p.step = 1 / rate
		p.say("line %d states a rate of %.9g Hz", p.meta.line, rate)
	}
	if !(p.step > 0) {
		return h.noInterval("the lines count samples, and no rate is stated")
	}
	var bit []int
	for k, flips := range flips {
		if flips {
			p.all = append(p.all, Channel{Name: fmt.Sprintf("D%d", k), Number: len(p.all) + 1})
			bit = append(bit, k)
		}
	}
	want := opt.Channels
	if len(want) == 0 && len(p.all) == 1 {
		want = []string{p.all[0].Name}
	}
	if len(want) == 0 {
		return &Error{File: p.name, What: fmt.Sprintf("%d lines change", len(p.all)), Expect: "a choice", Do: "choose with --channel: " + channelList(p.all), Err: ErrChoice}
	}
	var bits []int
	for _, w := range want {
		i := findChannel(p.all, w)
		if i < 0 {
			return &Error{File: p.name, What: fmt.Sprintf("there is no channel %q that changes", w), Expect: "one of: " + channelList(p.all), Err: ErrChoice}
		}
		p.channels = append(p.channels, p.all[i])
		bits = append(bits, bit[i])
	}
	p.kind, p.again = Transitions, equal
	step := p.step
	p.say("lines of a sample number and the states before and after it")
	p.open = func(s *Source) recordReader {
		return openList(s, len(bits), &changeTaker{p: p, step: step, bits: bits})
	}
	return nil
}

// changeTaker reads lines of a sample number and states.
type changeTaker struct {
	p     *plan
	step  float64
	bits  []int
	begun bool
	last  float64
	v     []float64
}

func (c *changeTaker) line(text []byte, num int64, cut bool, out *listReader) (lineClass, string, error) {
	m := changeLine.FindSubmatch(text)
	if m == nil {
		switch {
		case cut && strings.HasPrefix(string(bytesTrim(text)), "@"):
			return skippedLine, cutRow, cutError(c.p.name, num, 0)
		case strings.HasPrefix(string(bytesTrim(text)), "@"):
			return out.bad(c.p, text, num, cut, 0)
		}
		return textClass(text), "", nil
	}
	n, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		return out.bad(c.p, text, num, cut, 0)
	}
	if c.begun && n < c.last {
		out.note("line %d: the sample number starts anew", num)
		out.cut()
		c.begun = false
	}
	if !c.begun {
		out.row(n*c.step, c.states(m[2])...)
	}
	c.begun, c.last = true, n
	out.row(n*c.step, c.states(m[3])...)
	return rowLine, "", nil
}

func (c *changeTaker) states(word []byte) []float64 {
	c.v = c.v[:0]
	for _, bit := range c.bits {
		v := math.NaN()
		if bit < len(word) {
			if x := word[len(word)-1-bit]; x == '0' || x == '1' {
				v = float64(x - '0')
			}
		}
		c.v = append(c.v, v)
	}
	return c.v
}

func (c *changeTaker) end(out *listReader) {}

// wrap is where a 32-bit counter starts over.
const wrap = 1 << 32

// counter plans for lines of a counter and a level behind a time of day.
func (p *plan) counter(h *head, opt Options, states bool, repeats, lines int) error {
	p.channels = []Channel{{Name: "1", Number: 1}}
	if err := h.onlyChannel(p, opt); err != nil {
		return err
	}
	unit := opt.TimeUnit
	if unit == "" {
		g := timeunit.Of(true, nan, 0)
		unit, p.guess, p.numbers = g.Unit, &g, "the counter"
	}
	shift, ok := scan.TimeUnits[unit]
	if !ok {
		return &Error{File: p.name, What: fmt.Sprintf("unknown time unit %q", unit), Expect: "s, ms, us or ns", Err: ErrTime}
	}
	switch {
	case states && repeats*4 < lines:
		p.kind = Transitions
	case states:
		p.kind = Logic
	default:
		p.kind = Samples
	}
	p.again = equal
	p.res = resolution{fixed: scan.Pow10(shift), finest: scan.Pow10(shift)}
	if p.kind == Transitions {
		p.step = scan.Pow10(shift)
	}
	p.say("lines of a 32-bit counter and a level, behind the terminal's time of day, which is not used")
	p.open = func(s *Source) recordReader {
		return openList(s, 1, &counterTaker{p: p, shift: shift})
	}
	return nil
}

// counterTaker reads lines of a counter and a level, and undoes the counter's wrap.
type counterTaker struct {
	p     *plan
	shift int
	begun bool
	last  uint64 // as printed
	level float64
	laps  uint64
	spoke bool // there was chatter since the last row, so that a counter back at zero is a restart
}

func (c *counterTaker) line(text []byte, num int64, cut bool, out *listReader) (lineClass, string, error) {
	said := bytesTrim(text)
	stamped := stampedLine.FindSubmatch(text)
	if stamped != nil {
		said = stamped[1]
	}
	m := counterLine.FindSubmatch(said)
	if m == nil || stamped == nil {
		switch rowish := len(said) > 0 && (said[0]-'0' <= 9 || said[0] == ',' || said[0] == ';'); {
		case rowish && !c.begun && !cut:
			return skippedLine, "cut first line", nil
		case rowish:
			c.begun = false
			return out.bad(c.p, text, num, cut, 0)
		}
		c.spoke = c.spoke || len(said) > 0
		return textClass(text), "", nil
	}
	n, err := strconv.ParseUint(string(m[1]), 10, 63)
	v, ok := scan.Float(m[2], '.', 0)
	if err != nil || !ok {
		return out.bad(c.p, text, num, cut, 0)
	}
	if c.begun && n == c.last && v == c.level {
		return skippedLine, repeatedRow, nil
	}
	c.level = v
	if c.begun && n < c.last {
		if c.last < wrap && c.last-n > wrap/2 && !c.spoke {
			c.laps++
			out.note("line %d: the counter has wrapped at 2^32", num)
		} else {
			c.laps = 0
			out.note("line %d: the counter starts anew", num)
			out.cut()
		}
	}
	c.begun, c.last, c.spoke = true, n, false
	out.row(since(c.laps*wrap+n, c.shift), v)
	return rowLine, "", nil
}

// since turns a count of ticks of 10^shift s into seconds, rounded once.
func since(ticks uint64, shift int) float64 {
	return scan.Decimal{Mantissa: ticks, Exact: true}.Float(strconv.AppendUint(nil, ticks, 10), '.', shift)
}

func (c *counterTaker) end(out *listReader) {}
