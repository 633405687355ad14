package report

import "strings"

// heard shows how a stream ran while it was listened to, and the user's marks in it.
func (p *Page) heard(a *album) *section {
	sh := p.Session
	if sh == nil {
		return nil
	}
	s := &section{ID: "heard", Heading: "As it was heard", Layout: flow}
	for _, t := range trends(sh, a, "high_time", "low_time", "duty_factor") {
		s.Pictures = append(s.Pictures, placed(t))
	}
	if t := marksTable(sh.Marks); len(t.Rows) > 0 {
		s.Tables = append(s.Tables, t)
	}
	s.Points = []string{Met(&sh.Stream)}
	var drift []string
	for i, d := range pick(&sh.Drift) {
		if d != nil && timeRows[i].key != "frequency" {
			drift = append(drift, timeRows[i].name+" "+changed(d.Value, d.Uncertainty))
		}
	}
	if len(drift) > 0 {
		s.Points = append(s.Points, "From the first seconds to the last: "+strings.Join(drift, ", ")+".")
	}
	return s
}
