package report

import (
	"io"
	"strings"

	"offbeat/compare/cause"
	"offbeat/compare/glossary"
)

// Explain writes what a word means; the words about odds, and those of a cause, with the default odds.
func Explain(w io.Writer, t glossary.Term, s Style) error {
	p := newPrinter(w, s)
	name := t.Name
	if len(t.Also) > 0 {
		name += " (" + strings.Join(t.Also, ", ") + ")"
	}
	p.prose("", "", name)
	p.prose("  ", "  ", t.Text)
	if t.Source != "" {
		p.prose("  ", "  ", "The word is from "+t.Source+".")
	}
	p.odds(t)
	if len(t.See) > 0 {
		p.prose("  ", "  ", "See also: "+strings.Join(t.See, ", ")+".")
	}
	return p.w.Flush()
}

// odds lists the default odds that belong to a word.
func (p *printer) odds(t glossary.Term) {
	all := t.Name == "prior odds"
	var rows [][]cell
	for _, r := range cause.Defaults() {
		if c, ok := glossary.Lookup(r.Key); !all && (!ok || c.Name != t.Name) {
			continue
		}
		rows = append(rows, plain(r.Key, r.Class, short(r.New), short(r.Worked), r.Why))
	}
	if len(rows) == 0 {
		return
	}
	p.line("")
	p.table([]column{{head: "[odds] key"}, {head: "class"}, {head: "new", right: true}, {head: "worked", right: true}, {head: "why", drop: 1}}, rows)
	p.line("")
	p.prose("  ", "  ", "Defaults, against nothing wrong = 1, by the board's history; [odds] in the design file sets others. The order of the classes follows MIL-HDBK-217F; the numbers are common practice, not measurements.")
}

// Glossary lists every word that can be explained.
func Glossary(w io.Writer, s Style) error {
	p := newPrinter(w, s)
	for i, g := range glossary.Sections {
		if i > 0 {
			p.line("")
		}
		p.line("%s", p.paint(bold, g.Title))
		var names []string
		for _, t := range g.Terms {
			names = append(names, t.Name)
		}
		p.prose("  ", "  ", strings.Join(names, ", "))
	}
	p.line("")
	p.prose("", "", "offbeat explain WORD says what a word means; offbeat explain odds lists the default odds.")
	return p.w.Flush()
}
