package recognise

import "offbeat/acquire"

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
	q := p.alternating()
	if q == nil {
		q = p.sampled()
	}
	q.Segments = true
	q.say("the time starts anew: each start is a record of its own")
	return q, nil
}
