package recognise

import (
	"bytes"

	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// bitsShape: the samples of one line as a run of zeros and ones, on one line of text or on several that go on.
var bitsShape = shape{name: "run of zeros and ones", fits: fitBits}

func fitBits(h *head, opt acquire.Options) (*proposal, error) {
	longest := 0
	for i := h.first; i < h.last; i++ {
		n, _ := scan.BitsOf(h.cell(i, 0))
		if longest = max(longest, n); n == 0 {
			return nil, nil
		}
	}
	if h.width() != 1 || longest < 2 || longest <= mostLines && h.last > h.first+1 && !runsOn(h.rowsOfBits()) {
		return nil, nil
	}
	only, err := h.onlyChannel(opt)
	if err != nil {
		return nil, err
	}
	q := h.begin(-1).propose(acquire.Logic)
	q.Lines, q.Channels = Bits{}, only
	if err := h.stepOf(q, opt, "the zeros and ones are samples"); err != nil {
		return nil, err
	}
	q.say("each character is a sample: they are %.9g s apart", q.Step)
	return q, nil
}

// rowsOfBits are the states in the head's lines that are as long as the first.
func (h *head) rowsOfBits() [][]float64 {
	var rows [][]float64
	for i := h.first; i < h.last; i++ {
		cell := bytes.TrimPrefix(h.cell(i, 0), []byte("0b"))
		if len(rows) > 0 && len(cell) != len(rows[0]) {
			continue
		}
		row := make([]float64, len(cell))
		for k, c := range cell {
			row[k], _ = scan.DumpState(c)
		}
		rows = append(rows, row)
	}
	return rows
}
