package recognise

import (
	"offbeat/acquire"
)

// tableShape: rows of time and level, evenly sampled or each with its own time; any preamble above.
var tableShape = shape{name: "time and volt table", fits: fitTable}

func fitTable(h *head, opt acquire.Options) (*proposal, error) {
	if h.timeColumn() < 0 {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil {
		return nil, err
	}
	return p.analog(), nil
}
