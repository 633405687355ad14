package recognise

import "offbeat/acquire"

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
