package report

// heard shows how a stream ran while it was listened to, and the user's marks in it.
func (p *Page) heard(a *album) *section {
	sh := p.Session
	if sh == nil {
		return nil
	}
	s := &section{ID: "heard", Heading: "As it was heard", Layout: flow}
	for _, t := range trends(sh, a) {
		s.Pictures = append(s.Pictures, placed(t))
	}
	if t := marksTable(sh.Marks); len(t.Rows) > 0 {
		s.Tables = append(s.Tables, t)
	}
	s.Points = []string{Met(&sh.Stream)}
	for i, d := range pick(&sh.Drift) {
		if d != nil && timeRows[i].key != "frequency" {
			s.Points = append(s.Points, timeRows[i].name+" "+changed(d.Value, d.Uncertainty)+" from the first seconds to the last.")
		}
	}
	return s
}
