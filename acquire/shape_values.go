package acquire

// valuesShape: levels only, one row a sample; the interval stands in the preamble.
var valuesShape = shape{name: "values only", fits: fitValues}

func fitValues(h *head, opt Options) (*plan, error) {
	if h.first == h.last || h.timeColumn() >= 0 {
		return nil, nil
	}
	p, err := h.table(opt)
	if err != nil {
		return nil, err
	}
	if p.step == 0 {
		return nil, h.noInterval("the rows hold levels and no times, and no sample interval is stated")
	}
	p.kind = Samples
	if p.logic() {
		p.kind = Logic
	} else {
		p.countsOrVolts()
	}
	p.say("no time column: rows are %.9g s apart, the first at %.9g s", p.step, p.start)
	return p, nil
}

// countsOrVolts: whole numbers without a unit are a converter's counts.
func (p *plan) countsOrVolts() {
	for i := range p.channels {
		if c := &p.channels[i]; c.Unit == "" && p.head.columns[p.layout.Value[i]].integers {
			c.Unit = "count"
		}
	}
	p.analog()
	for i := range p.channels {
		if c := &p.channels[i]; c.Unit == "count" {
			c.Unit = ""
			p.note("channel %s holds whole numbers without a unit: taken as converter counts", c.Name)
		}
	}
}
