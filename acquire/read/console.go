package read

import (
	"bytes"
	"math"
	"strconv"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
	"offbeat/acquire/recognise"
)

// changeTaker reads lines of a sample number and states.
type changeTaker struct {
	step  float64
	bits  []int
	begun bool
	last  float64
	v     []float64
}

func (c *changeTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	m := recognise.ChangeLine.FindSubmatch(text)
	if m == nil {
		switch {
		case cut && recognise.BeginsChange(text):
			return acquire.SkippedLine, cutRow, cutError(out.p.Name, num, 0)
		case recognise.BeginsChange(text):
			return out.bad(text, num, cut, 0)
		}
		return textClass(text), "", nil
	}
	n, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		return out.bad(text, num, cut, 0)
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
	return acquire.RowLine, "", nil
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

// wrap is where a 32-bit counter starts over.
const wrap = 1 << 32

// counterTaker reads lines of a counter and a level, and undoes the counter's wrap.
type counterTaker struct {
	unit  timeunit.Unit
	begun bool
	last  uint64 // as printed
	level float64
	laps  uint64
	spoke bool // there was chatter since the last row, so that a counter back at zero is a restart
}

func (c *counterTaker) line(text []byte, num int64, cut bool, out *listReader) (acquire.LineClass, string, error) {
	said := bytes.TrimSpace(text)
	stamped := recognise.StampedLine.FindSubmatch(text)
	if stamped != nil {
		said = stamped[1]
	}
	m := recognise.CounterLine.FindSubmatch(said)
	if m == nil || stamped == nil {
		switch rowish := len(said) > 0 && (said[0]-'0' <= 9 || said[0] == ',' || said[0] == ';'); {
		case rowish && !c.begun && !cut:
			return acquire.SkippedLine, "cut first line", nil
		case rowish:
			c.begun = false
			return out.bad(text, num, cut, 0)
		}
		c.spoke = c.spoke || len(said) > 0
		return textClass(text), "", nil
	}
	n, err := strconv.ParseUint(string(m[1]), 10, 63)
	v, ok := scan.Float(m[2], '.', 0)
	if err != nil || !ok {
		return out.bad(text, num, cut, 0)
	}
	if c.begun && n == c.last && v == c.level {
		return acquire.SkippedLine, repeatedRow, nil
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
	out.row(since((c.laps*wrap+n)*uint64(c.unit.Times), c.unit.Power), v)
	return acquire.RowLine, "", nil
}
