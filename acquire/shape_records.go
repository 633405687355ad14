package acquire

import (
	"fmt"
	"slices"

	"offbeat/acquire/internal/scan"
)

// recordRowsShape: a record in each row: some cells about it, and then its samples.
var recordRowsShape = shape{name: "one record per row", fits: fitRecordRows}

// recordRow is how such a row is laid out.
type recordRow struct {
	delim   byte
	point   byte
	samples int // cell of the first sample
	count   int // cell that says how many there are, -1: none
	rate    int // cell of the rate, -1: none
	step    int // cell of the interval, -1: none
	channel int // cell of the channel, -1: none
}

func fitRecordRows(h *head, opt Options) (*plan, error) {
	l, header, ok := h.recordRow()
	if !ok {
		return nil, nil
	}
	p := &plan{name: h.name, head: h, kind: Samples, layout: scan.Layout{Delim: l.delim, Point: l.point, Time: -1, Join: -1}, step: opt.Interval, first: header + 1}
	if l.rate < 0 && l.step < 0 && p.step <= 0 {
		h.first = header + 1
		return nil, h.noInterval("the rows hold samples side by side, and no sample interval is stated")
	}
	names := h.recordChannels(l, header)
	for i, n := range names {
		p.channels = append(p.channels, Channel{Name: n, Number: i + 1, Unit: "V"})
	}
	p.note("the unit of the samples is a guess: volts")
	want := ""
	if len(opt.Channels) > 1 || len(names) > 1 && len(opt.Channels) == 0 {
		return nil, &Error{File: h.name, What: fmt.Sprintf("the file holds records of %d channels", len(names)), Expect: "a choice of one", Do: "choose with --channel: " + channelList(p.channels), Err: ErrChoice}
	}
	if len(opt.Channels) == 1 {
		i := findChannel(p.channels, opt.Channels[0])
		if i < 0 {
			return nil, &Error{File: h.name, What: fmt.Sprintf("there is no channel %q", opt.Channels[0]), Expect: "one of: " + channelList(p.channels), Err: ErrChoice}
		}
		want = names[i]
		p.channels = p.channels[i : i+1]
	}
	p.say("rows of differing length, samples from cell %d on: each row is a record", l.samples+1)
	p.open = func(s *Source) recordReader {
		return openList(s, 1, &recordTaker{p: p, row: l, header: header, channel: want})
	}
	return p, nil
}

// bareCells is how many numbers in a row without a header make it a row of samples.
const bareCells = 16

// recordRow looks for a header whose last name stands for all samples, or for long rows of bare numbers.
func (h *head) recordRow() (l recordRow, header int, ok bool) {
	for _, d := range []byte{',', ';', '\t'} {
		for i := range min(len(h.lines), 20) {
			names := scan.Split(nil, h.lines[i].text, d)
			if len(names) < 3 || !allText(names) || i+1 == len(h.lines) {
				continue
			}
			l = recordRow{delim: d, point: '.', samples: len(names) - 1, count: -1, rate: -1, step: -1, channel: -1}
			for k, n := range names[:len(names)-1] {
				switch name, _ := splitUnit(string(n)); plainName(name) {
				case "rate", "sample rate", "sampling rate", "fs":
					l.rate = k
				case "step", "interval", "sample interval", "dt":
					l.step = k
				case "count", "length", "samples", "points":
					l.count = k
				case "channel", "ch":
					l.channel = k
				}
			}
			if h.fitsRecords(l, i) {
				return l, i, true
			}
		}
	}
	if h.first == 0 && h.last > 0 && h.last <= 20 && len(h.columns) >= bareCells && h.timeColumn() < 0 {
		return recordRow{delim: h.delim, point: h.point, count: -1, rate: -1, step: -1, channel: -1}, -1, true
	}
	return l, 0, false
}

// fitsRecords: all rows below the header are longer than it, or as long as their own count says.
func (h *head) fitsRecords(l recordRow, header int) bool {
	rows := 0
	for i := header + 1; i < len(h.lines); i++ {
		if h.lines[i].blank() {
			continue
		}
		c := scan.Split(nil, h.lines[i].text, l.delim)
		n := len(c) - l.samples
		if n < 1 {
			return false
		}
		if l.count >= 0 {
			if v, ok := scan.Float(c[l.count], '.', 0); !ok || int(v) != n {
				return false
			}
		} else if n < 2 {
			return false
		}
		for _, x := range c[l.samples:] {
			if _, ok := scan.Float(x, l.point, 0); !ok {
				return false
			}
		}
		rows++
	}
	return rows > 0 && (l.count >= 0 || l.rate >= 0 || l.step >= 0)
}

func allText(cells [][]byte) bool {
	for _, c := range cells {
		if scan.Classify(c) != scan.Text {
			return false
		}
	}
	return true
}

// recordChannels lists the channels that the head's rows name.
func (h *head) recordChannels(l recordRow, header int) []string {
	if l.channel < 0 {
		return []string{"1"}
	}
	var names []string
	for i := header + 1; i < len(h.lines); i++ {
		if c := scan.Split(nil, h.lines[i].text, l.delim); l.channel < len(c) && !slices.Contains(names, string(c[l.channel])) {
			names = append(names, string(c[l.channel]))
		}
	}
	return names
}

// recordTaker makes a record of each row.
type recordTaker struct {
	p       *plan
	row     recordRow
	header  int
	channel string
	cells   [][]byte
}

const otherChannel = "row of another channel"

func (t *recordTaker) line(text []byte, num int64, cut bool, out *listReader) (lineClass, string, error) {
	switch {
	case num <= int64(t.header):
		return preambleLine, "", nil
	case num == int64(t.header)+1:
		return headerLine, "", nil
	case len(bytesTrim(text)) == 0:
		return blankLine, "", nil
	}
	l := t.row
	t.cells = scan.Split(t.cells, text, l.delim)
	c := t.cells
	for len(c) > 0 && len(c[len(c)-1]) == 0 {
		c = c[:len(c)-1]
	}
	if len(c) <= l.samples {
		return out.bad(t.p, text, num, cut, 0)
	}
	if l.channel >= 0 && t.channel != "" && string(c[l.channel]) != t.channel {
		return skippedLine, otherChannel, nil
	}
	step := t.p.step
	for _, k := range []int{l.rate, l.step} {
		if v, ok := 0.0, false; k >= 0 && step == 0 {
			if v, _, ok = valueUnit(string(c[k])); !ok || !(v > 0) {
				return out.bad(t.p, text, num, cut, k)
			}
			if step = v; k == l.rate {
				step = 1 / v
			}
		}
	}
	if l.count >= 0 {
		if v, ok := scan.Float(c[l.count], '.', 0); ok && int(v) > len(c)-l.samples && cut {
			return skippedLine, cutRow, cutError(t.p.name, num, 0)
		} else if !ok || int(v) != len(c)-l.samples {
			return out.bad(t.p, text, num, cut, l.count)
		}
	}
	out.b.events = append(out.b.events, event{row: out.b.n, cut: true, step: step})
	for k, x := range c[l.samples:] {
		v, ok := scan.Float(x, l.point, 0)
		if !ok {
			if _, v, ok = scan.Mark(x); !ok {
				return skippedLine, badRow, &Error{File: t.p.name, Line: int(num), Column: scan.Column(text, l.delim, l.samples+k), What: fmt.Sprintf("%q is no level", clip(x)), Expect: "a number", Do: "mend the row", Err: ErrSyntax}
			}
		}
		out.sample(v)
	}
	return rowLine, "", nil
}

func (t *recordTaker) end(out *listReader) {}
