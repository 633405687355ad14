package report

import (
	_ "embed"
	"html/template"
	"io"
	"slices"
	"strconv"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/report/picture"
	"offbeat/compare/session"
)

// Heard is what the live page shows.
type Heard struct {
	Snapshot session.Snapshot
	Source   string // what is listened to, where no design gives a title
	State    string // what is going on, in words
	Gone     bool   // the port is away
	Saved    string // file that keeps what is heard; empty: none
}

//go:embed page/live.html
var liveText string

//go:embed page/live.css
var liveStyle string

// LiveScript is the script of the live page.
//
//go:embed page/live.js
var LiveScript string

// LiveStyle is the style of the live page.
func LiveStyle() string { return picture.Style + pageStyle + liveStyle }

var liveTemplate = template.Must(template.New("live").Parse(liveText))

// LivePlaces are the parts of the live page that change, by the id of their place.
var LivePlaces = []string{"state", "finding", "times", "parts", "marks", "trends", "heard"}

// liveDocument is the live page made ready for its template.
type liveDocument struct {
	Title        string
	Facts        []string
	State        string
	Gone         bool
	Finding      string
	Times, Parts table
	Marks        table
	Trends       []drawing
	Heard        []string
}

// LivePage writes the whole page; its script and style are asked for beside it, nothing else.
func LivePage(w io.Writer, h *Heard) error {
	return liveTemplate.ExecuteTemplate(w, "page", h.document())
}

// LiveParts writes what stands at each of LivePlaces.
func LiveParts(h *Heard) (map[string]string, error) {
	d := h.document()
	parts := map[string]string{}
	for _, place := range LivePlaces {
		var b strings.Builder
		if err := liveTemplate.ExecuteTemplate(&b, place, d); err != nil {
			return nil, err
		}
		parts[place] = b.String()
	}
	return parts, nil
}

func (h *Heard) document() *liveDocument {
	sh := &h.Snapshot
	p := &Page{Design: sh.Design, Finding: sh.Finding}
	d := &liveDocument{Title: p.title(), State: h.State, Gone: h.Gone}
	if sh.Design == nil {
		d.Title = h.Source
	} else {
		for _, f := range p.facts() {
			d.Facts = append(d.Facts, tied(f))
		}
	}
	if sh.Finding != nil {
		d.Finding = tied(sh.Finding.Finding)
		d.Parts = partsNow(sh)
	}
	d.Times, d.Marks = timesNow(sh), marksTable(sh.Marks)
	for _, t := range trends(sh, &album{}, "high_time", "low_time", "frequency", "duty_factor") {
		d.Trends = append(d.Trends, placed(t))
	}
	d.Heard = []string{tied(Met(&sh.Stream))}
	if sh.Failed != nil {
		d.Heard = append(d.Heard, "No back-solve: "+sh.Failed.Error()+".")
	}
	if h.Saved != "" {
		d.Heard = append(d.Heard, "All of it is kept in "+h.Saved+".")
	}
	return d
}

// timesNow is the table of the times as they are.
func timesNow(sh *session.Snapshot) table {
	t := table{Caption: "± is one standard uncertainty; the change is against the first seconds.",
		Heads: []head{{"", false}, {"now", true}, {"since the start", true}}}
	if sh.Now == nil {
		return t
	}
	measured, drift := pick(sh.Now), pick(&sh.Drift)
	for i, r := range timeRows {
		if measured[i] == nil {
			continue
		}
		row := []entry{{Text: sentence(r.name)}, {Text: tied(quantity.PlusMinus(measured[i].Value, measured[i].Uncertainty, r.unit)), Number: true}, {Number: true}}
		if c := drift[i]; c != nil {
			row[2].Text = tied(changed(c.Value, c.Uncertainty))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// partsNow is the table of the parts that the times imply.
func partsNow(sh *session.Snapshot) table {
	t := table{Caption: "What the times now imply, over all causes together.",
		Heads: []head{{"", false}, {"likely", true}, {"95 % interval", true}, {"out of tolerance", true}}}
	for _, q := range sh.Finding.Parts {
		u := units[q.Unit]
		t.Rows = append(t.Rows, []entry{{Text: q.Name, More: tied(toleranceOf(q))}, {Text: among(q.Value, q.Interval95[0], q.Interval95[1], u), Number: true},
			{Text: span(q.Interval95[0], q.Interval95[1], u), Number: true}, {Text: tied(Percent(q.OutOfTolerance)), Number: true, Mark: q.OutOfTolerance > 0.5}})
	}
	return t
}

// marksTable lists the user's marks with the steps found there.
func marksTable(marks []compare.Mark) table {
	t := table{Caption: "Relative steps, ± one standard uncertainty. A part suits where its change alone would explain both.",
		Heads: []head{{"mark", false}, {"high and low time", true}, {"as if", false}}}
	for i := range marks {
		m := &marks[i]
		row := []entry{{Text: strconv.Itoa(m.Number) + ". " + m.Text, More: strconv.FormatFloat(m.Time, 'f', 1, 64) + " s"}, {Number: true}, {Text: m.Note}}
		if m.High != nil {
			row[1].Text = tied(changed(m.High.Relative, m.High.Uncertainty))
			row[2].Text = tied(strings.TrimPrefix(suits(m), "as if "))
		}
		if m.Low != nil {
			row[1].More = tied(changed(m.Low.Relative, m.Low.Uncertainty))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// trends draws the run of the times that are named and of each part.
func trends(sh *session.Snapshot, a *album, keys ...string) []picture.Picture {
	var marks []picture.TrendMark
	for _, m := range sh.Marks {
		marks = append(marks, picture.TrendMark{Number: m.Number, Time: m.Time})
	}
	var out []picture.Picture
	draw := func(r picture.TrendRun) {
		r.Marks = marks
		if p, ok := picture.Trend(a.id(), r); ok {
			out = append(out, p)
		}
	}
	var runs [5]picture.TrendRun
	for _, p := range sh.Points {
		t := session.TimesOf(p)
		for i, m := range pick(&t) {
			if m != nil {
				r := &runs[i]
				r.Points = append(r.Points, picture.TrendPoint{Time: p.Time(), Value: m.Value, Low: m.Value - 2*m.Uncertainty, High: m.Value + 2*m.Uncertainty})
			}
		}
	}
	if sh.Now != nil {
		now := pick(sh.Now)
		for i, r := range timeRows {
			if now[i] == nil || !slices.Contains(keys, r.key) {
				continue
			}
			runs[i].Name, runs[i].Unit, runs[i].Now = sentence(r.name), r.unit, quantity.Uncertain(now[i].Value, now[i].Uncertainty, r.unit)
			draw(runs[i])
		}
	}
	for _, q := range sh.Parts {
		r := picture.TrendRun{Name: q.Name, Unit: units[q.Unit], Now: quantity.Format(q.Value, units[q.Unit]), Limits: q.Limits}
		for i, at := range q.Time {
			r.Points = append(r.Points, picture.TrendPoint{Time: at, Value: q.Median[i], Low: q.Interval[i][0], High: q.Interval[i][1]})
		}
		draw(r)
	}
	return out
}
