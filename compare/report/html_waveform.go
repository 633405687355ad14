package report

import (
	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
)

// waveform draws and lists what the capacitor's channel shows; nothing where none was read.
func (p *Page) waveform(a *album) *section {
	w := p.shownWaveform()
	if w == nil {
		return nil
	}
	t := table{Caption: waveLead(w) + " ± is one standard uncertainty.", Heads: []head{{"", false}, {"fitted", true}}}
	for _, r := range waveTable(w) {
		t.Rows = append(t.Rows, []entry{{Text: r[0]}, {Text: r[1], More: r[2], Number: true}})
	}
	s := &section{ID: "waveform", Heading: "The capacitor's waveform", Layout: flow, Tables: []table{t}, Points: w.Notes}
	if len(p.Traces) == 0 || len(p.Measurements) == 0 || w.TauDischarge == nil {
		return s
	}
	if drawn, ok := picture.Waveform(a.id(), p.Traces[0], p.Measurements[0], runsOf(w)); ok {
		s.Pictures, s.Layout = []drawing{placed(drawn)}, pair
	}
	return s
}

// runsOf are a waveform's runs in volts, with what stands beside its levels.
func runsOf(w *compare.Waveform) picture.Runs {
	volts := func(m *compare.Measured) float64 {
		if w.Unit == "1" {
			return m.Value * w.Supply
		}
		return m.Value
	}
	says := func(name string, m *compare.Measured) string {
		u := m.Uncertainty / m.Value * volts(m)
		return name + " " + quantity.Uncertain(volts(m), u, quantity.Volt)
	}
	return picture.Runs{Upper: volts(&w.Upper), Lower: volts(&w.Lower), Charge: volts(&w.Asymptote), Discharge: volts(w.DischargeAsymptote),
		TauCharge: w.TauCharge.Value, TauDischarge: w.TauDischarge.Value,
		UpperSays: says("upper threshold", &w.Upper), LowerSays: says("lower threshold", &w.Lower),
		ChargeSays: says("charge heads for", &w.Asymptote), DischargeSays: says("discharge heads for", w.DischargeAsymptote)}
}

func (p *Page) shownWaveform() *compare.Waveform {
	switch {
	case p.Finding != nil:
		return p.Finding.Waveform
	case len(p.Captures) > 0:
		return p.Captures[0].Waveform
	}
	return nil
}

// running tells how the times run over the first capture long enough; nothing where none is. A page of proposals is
// about what to fit.
func (p *Page) running() *section {
	s := p.shownStability()
	if s == nil || p.Proposals != nil || p.Session != nil {
		return nil
	}
	t := table{Heads: []head{{"", false}, {"", true}}, Caption: "White noise moves each edge by itself; period noise adds up from cycle to cycle. A drift counts as seen from three standard uncertainties on."}
	all := p.Finding == nil // a measurement of its own
	rows := stabilityRows(s, all)
	if len(rows) == 0 {
		return nil
	}
	for _, r := range rows {
		t.Rows = append(t.Rows, []entry{{Text: r[0]}, {Text: r[1], Number: true}})
	}
	out := &section{ID: "running", Heading: "How the times run", Layout: flow, Tables: []table{t}, Points: driftCauses(&s.Drift)}
	if !all && len(s.Allan) > 0 {
		out.Points = append(out.Points, "Allan deviation of the period: "+allanText(s.Allan)+".")
	}
	return out
}

func (p *Page) shownStability() *compare.Stability {
	switch {
	case p.Finding != nil:
		return p.Finding.Stability
	case len(p.Captures) > 0:
		return p.Captures[0].Stability
	}
	return nil
}
