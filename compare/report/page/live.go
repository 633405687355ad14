package page

import (
	_ "embed"
	"html/template"
	"io"
	"sync"

	"offbeat/compare/report/document"
	"offbeat/compare/report/picture"
	"offbeat/compare/session"
)

// Heard is what the live page shows.
type Heard struct {
	Snapshot session.Snapshot
	Source   string // what is listened to, where no design gives a title
	State    string // what is going on, in words
	Clock    string // for how long
	Gone     bool   // the port is away
	Saved    string // file that keeps what is heard; empty: none
}

//go:embed live.html
var liveText string

//go:embed live.css
var liveStyle string

// LiveScript is the script of the live page.
//
//go:embed live.js
var LiveScript string

// LiveStyle is the style of the live page.
func LiveStyle() string { return picture.Style + pageStyle + liveStyle }

var liveTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.Must(base("live").Parse(pageText)).Parse(liveText))
})

// LivePlaces are the parts of the live page that change, by the id of their place.
var LivePlaces = []string{"state", "clock", "finding", "now", "parts", "causes", "next", "marks", "trends", "heard"}

// liveSheet is the live page made ready for its template.
type liveSheet struct {
	Title        string
	Facts        []string
	State, Clock string
	Finding      string
	Gone         bool
	Places       map[string]section
}

// Live writes the whole page; its script and style are asked for beside it, nothing else.
func Live(w io.Writer, h *Heard) error {
	text, err := styleless(liveTemplate(), "live", h.sheet())
	if err == nil {
		_, err = io.WriteString(w, text)
	}
	return err
}

// LiveParts writes what stands at each of LivePlaces.
func LiveParts(h *Heard) (map[string]string, error) {
	s := h.sheet()
	parts := map[string]string{}
	for _, place := range LivePlaces {
		text, err := styleless(liveTemplate(), place, s)
		if err != nil {
			return nil, err
		}
		parts[place] = text
	}
	return parts, nil
}

func (h *Heard) sheet() *liveSheet {
	d := document.Live(&h.Snapshot)
	s := &liveSheet{Title: d.Title, Facts: tiedAll(d.Facts), State: h.State, Clock: h.Clock, Finding: tied(d.Subject), Gone: h.Gone, Places: map[string]section{}}
	if h.Snapshot.Design == nil {
		s.Title = h.Source
	}
	a := &album{}
	for i := range d.Sections {
		part, _ := a.section(&d.Sections[i])
		s.Places[part.ID] = part
	}
	if h.Saved != "" {
		heard := s.Places["heard"]
		heard.Words = append(heard.Words, item{Paragraph: &line{Text: "All of it is kept in " + h.Saved + "."}})
		s.Places["heard"] = heard
	}
	return s
}
