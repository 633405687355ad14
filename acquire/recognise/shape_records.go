package recognise

import (
	"fmt"
	"slices"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// recordRowsShape: a record in each row: some cells about it, and then its samples.
var recordRowsShape = shape{name: "one record per row", fits: fitRecordRows}

func fitRecordRows(h *head, opt acquire.Options) (*proposal, error) {
	l, header, ok := h.recordRow()
	if !ok {
		return nil, nil
	}
	q := &proposal{Plan: Plan{Kind: acquire.Samples, Layout: scan.Layout{Delim: l.Delim, Point: l.Point, Time: -1, Join: -1}, Step: opt.Interval, First: header + 1}}
	if l.Rate < 0 && l.Step < 0 && q.Step <= 0 {
		return nil, h.noIntervalAt(header+2, "the rows hold samples side by side, and no sample interval is stated")
	}
	names := h.recordChannels(l, header)
	for i, n := range names {
		q.Channels = append(q.Channels, acquire.Channel{Name: n, Number: i + 1, Unit: "V"})
	}
	q.note("the unit of the samples is a guess: volts")
	want := ""
	if len(opt.Channels) > 1 || len(names) > 1 && len(opt.Channels) == 0 {
		return nil, &acquire.Error{File: h.name, What: fmt.Sprintf("the file holds records of %d channels", len(names)), Expect: "a choice of one", Do: "choose with --channel: " + channelList(q.Channels), Err: acquire.ErrChoice}
	}
	if len(opt.Channels) == 1 {
		i := findChannel(q.Channels, opt.Channels[0])
		if i < 0 {
			return nil, &acquire.Error{File: h.name, What: fmt.Sprintf("there is no channel %q", opt.Channels[0]), Expect: "one of: " + channelList(q.Channels), Err: acquire.ErrChoice}
		}
		want = names[i]
		q.Channels = q.Channels[i : i+1]
	}
	q.say("rows of differing length, samples from cell %d on: each row is a record", l.Samples+1)
	q.Lines = Records{RecordRow: l, Header: header, Channel: want}
	return q, nil
}

// bareCells is how many numbers in a row without a header make it a row of samples.
const bareCells = 16

// recordRow looks for a header whose last name stands for all samples, or for long rows of bare numbers.
func (h *head) recordRow() (l RecordRow, header int, ok bool) {
	for _, d := range []byte{',', ';', '\t'} {
		for i := range min(len(h.lines), 20) {
			names := scan.Split(nil, h.lines[i].text, d)
			if len(names) < 3 || !allText(names) || i+1 == len(h.lines) {
				continue
			}
			l = RecordRow{Delim: d, Point: '.', Samples: len(names) - 1, Count: -1, Rate: -1, Step: -1, Channel: -1}
			for k, n := range names[:len(names)-1] {
				switch name, _ := splitUnit(string(n)); plainName(name) {
				case "rate", "sample rate", "sampling rate", "fs":
					l.Rate = k
				case "step", "interval", "sample interval", "dt":
					l.Step = k
				case "count", "length", "samples", "points":
					l.Count = k
				case "channel", "ch":
					l.Channel = k
				}
			}
			if h.fitsRecords(l, i) {
				return l, i, true
			}
		}
	}
	if h.first == 0 && h.last > 0 && h.last <= 20 && len(h.columns) >= bareCells && h.timeColumn() < 0 {
		return RecordRow{Delim: h.delim, Point: h.point, Count: -1, Rate: -1, Step: -1, Channel: -1}, -1, true
	}
	return l, 0, false
}

// fitsRecords: all rows below the header are longer than it, or as long as their own count says.
func (h *head) fitsRecords(l RecordRow, header int) bool {
	rows := 0
	for i := header + 1; i < len(h.lines); i++ {
		if h.lines[i].blank() {
			continue
		}
		c := scan.Split(nil, h.lines[i].text, l.Delim)
		n := len(c) - l.Samples
		if n < 1 {
			return false
		}
		if l.Count >= 0 {
			if v, ok := scan.Float(c[l.Count], '.', 0); !ok || int(v) != n {
				return false
			}
		} else if n < 2 {
			return false
		}
		for _, x := range c[l.Samples:] {
			if _, ok := scan.Float(x, l.Point, 0); !ok {
				return false
			}
		}
		rows++
	}
	return rows > 0 && (l.Count >= 0 || l.Rate >= 0 || l.Step >= 0)
}

// recordChannels lists the channels that the head's rows name.
func (h *head) recordChannels(l RecordRow, header int) []string {
	if l.Channel < 0 {
		return []string{"1"}
	}
	var names []string
	for i := header + 1; i < len(h.lines); i++ {
		if c := scan.Split(nil, h.lines[i].text, l.Delim); l.Channel < len(c) && !slices.Contains(names, string(c[l.Channel])) {
			names = append(names, string(c[l.Channel]))
		}
	}
	return names
}
