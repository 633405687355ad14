package recognise

import (
	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// besideShape: a preamble in the left columns of the first rows, and time and level to the right of it in all rows.
var besideShape = shape{name: "table beside a preamble", fits: fitBeside}

func fitBeside(h *head, opt acquire.Options) (*proposal, error) {
	at := h.beside()
	if at < 0 {
		return nil, nil
	}
	b := *h
	b.first, b.last, b.names, b.before, b.units = 0, len(h.lines), -1, 0, -1 // blank lines at the end do no harm
	b.meta = meta{}
	for i := range b.lines {
		l := &b.lines[i]
		if l.class[0] == scan.Text {
			b.meta.pair(i, string(l.cells[0]), string(l.cells[1]), l.column(1))
		}
	}
	b.readColumns()
	for k := range at {
		b.columns[k] = column{}
	}
	p, err := b.table(opt)
	if err != nil {
		return nil, err
	}
	q := p.analog()
	q.say("names and values share rows with the data, which begin in column %d of the first line", at+1)
	return q, nil
}

// beside finds the first of the two columns that hold numbers in every row from the first line on, right of at
// least two that hold text in the first rows and nothing below; -1: none.
func (h *head) beside() int {
	lines := h.lines
	for len(lines) > 0 && lines[len(lines)-1].blank() {
		lines = lines[:len(lines)-1]
	}
	if len(lines) < 2 || len(lines[0].class) < 4 || lines[0].class[0] != scan.Text {
		return -1
	}
	n := lines[0].filled()
	at := n
	for at > 0 && lines[0].class[at-1] == scan.Number {
		at--
	}
	at = max(at, n-2)
	if at < 2 || n-at != 2 {
		return -1
	}
	if lines[len(lines)-1].class[0] != scan.Empty {
		return -1 // the preamble has no end
	}
	for i := range lines {
		l := &lines[i]
		if l.filled() != n || l.class[0] != scan.Text && l.class[0] != scan.Empty || l.class[at] != scan.Number || l.class[at+1] != scan.Number {
			return -1
		}
	}
	return at
}
