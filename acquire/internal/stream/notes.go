package stream

import (
	"fmt"
	"strings"
)

// shortSpan is the span of a 16-bit counter, which a board should not print.
const shortSpan = 1 << 16

// notes says what a user should know about what was met, one sentence for each kind.
func (p *parser) notes(c Counts) []string {
	var notes []string
	for _, k := range []struct {
		n         int64
		one, many string
	}{
		{c.Garbage - c.Chatter, "1 line was no reading and was left out", "%d lines were no reading and were left out"},
		{c.Lost, "1 edge was missed: the intervals across it were left out", "%d edges were missed: the intervals across them were left out"},
		{c.Backward, "1 line lay about the time and was left out", "%d lines lay about the time and were left out"},
		{c.Unsure, "the first reading after a reconnect was left out: it may lack its beginning", "the first readings after %d reconnects were left out: they may lack their beginning"},
		{c.Doubled, "1 line was the line before it once more", "%d lines were the line before them once more"},
		{c.Resets, "the time began anew once: no pulse is taken across it, and the pause is not known", "the time began anew %d times: no pulse is taken across them, and the pauses are not known"},
		{c.Wraps, "the 32-bit counter wrapped once, which is undone", "the 32-bit counter wrapped %d times, which is undone"},
		{c.Reconnects, "the port was gone and came back once: no pulse is taken across it", "the port was gone and came back %d times: no pulse is taken across them"},
	} {
		switch {
		case k.n == 1:
			notes = append(notes, k.one)
		case k.n > 1:
			notes = append(notes, fmt.Sprintf(k.many, k.n))
		}
	}
	if len(p.others) > 0 {
		notes = append(notes, fmt.Sprintf("channel %s was taken; there are also %s", p.channel, strings.Join(p.others, ", ")))
	}
	if u := &p.run; u.edges.run > 0 && int64(u.edges.run) >= u.readings-1 {
		notes = append(notes, "every line tells the same level: the board reports edges of one side only, high and low can't be told apart")
	}
	if s := p.run.granule.counts(); s > 1 {
		notes = append(notes, fmt.Sprintf("the printed times move in steps of %d counts (%g s)", s, p.rec.Step))
	}
	if c.Resets > 2 && p.run.clock.top > shortSpan*3/4 && p.run.clock.top < shortSpan {
		notes = append(notes, "the time begins anew each time it nears 65536: the board prints a 16-bit counter; extend it to 32 bits")
	}
	return notes
}
