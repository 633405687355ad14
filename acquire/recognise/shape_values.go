package recognise

import "offbeat/acquire"

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
