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

// indexShape: the first column counts the samples, and the interval stands in the preamble or the header.
var indexShape = shape{name: "index and level table", fits: fitIndex}

func fitIndex(h *head, opt acquire.Options) (*proposal, error) {
	k := h.timeColumn()
	if k < 0 || !h.columns[k].counting || h.columns[k].isTime() || opt.TimeUnit != "" {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil {
		return nil, err
	}
	if p.Step == 0 {
		return nil, h.noInterval("the first column counts the rows, and no sample interval is stated")
	}
	q := p.sampled()
	q.say("time is the count times the interval of %.9g s", p.Step)
	return q, nil
}

// valuesShape: levels only, one row a sample; the interval stands in the preamble.
var valuesShape = shape{name: "values only", fits: fitValues}

func fitValues(h *head, opt acquire.Options) (*proposal, error) {
	if h.first == h.last || h.timeColumn() >= 0 {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil {
		return nil, err
	}
	if p.Step == 0 {
		return nil, h.noInterval("the rows hold levels and no times, and no sample interval is stated")
	}
	q := p.sampled()
	q.say("no time column: rows are %.9g s apart, the first at %.9g s", p.Step, p.Start)
	return q, nil
}

// segmentsShape: several records of time and level one after the other; the time restarts with each.
var segmentsShape = shape{name: "time and volt table in segments", fits: fitSegments}

func fitSegments(h *head, opt acquire.Options) (*proposal, error) {
	k := h.timeColumn()
	if k < 0 {
		return nil, nil
	}
	c := &h.columns[k]
	if h.meta.segments == 0 && (c.rises || c.counting || !h.restarts(k)) {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil {
		return nil, err
	}
	q := p.sampled()
	q.Segments = true
	q.say("the time starts anew: each start is a record of its own")
	return q, nil
}
