package document

import (
	"strings"

	"offbeat/compare/cause"
	"offbeat/compare/glossary"
	"offbeat/compare/report/words"
)

// Explained says what a word means; the words about odds, and those of a cause, with the default odds.
func Explained(t glossary.Term) *Document {
	name := t.Name
	if len(t.Also) > 0 {
		name += " (" + strings.Join(t.Also, ", ") + ")"
	}
	s := Section{}
	s.say(Sentence, t.Text)
	if t.Source != "" {
		s.say(Sentence, "The word is from "+t.Source+".")
	}
	s.table(oddsTable(&t), Always)
	if len(t.See) > 0 {
		s.say(Sentence, "See also: "+strings.Join(t.See, ", ")+".")
	}
	return &Document{Answer: []string{name}, Sections: []Section{s}}
}

// oddsTable lists the default odds that belong to a word.
func oddsTable(t *glossary.Term) *Table {
	out := &Table{Caption: "Defaults, against nothing wrong = 1, by the board's history; [odds] in the design file sets others. The order of the classes follows MIL-HDBK-217F; the numbers are common practice, not measurements.",
		Columns: []Column{{Head: "[odds] key"}, {Head: "class"}, {Head: "new", Number: true}, {Head: "worked", Number: true}, {Head: "why"}}}
	for _, r := range cause.Defaults() {
		if c, ok := glossary.Lookup(r.Key); t.Name == "prior odds" || ok && c.Name == t.Name {
			out.Rows = append(out.Rows, cells(r.Key, r.Class, words.Short(r.New), words.Short(r.Worked), r.Why))
		}
	}
	return out
}

// Glossary lists every word that can be explained.
func Glossary() *Document {
	d := &Document{Closing: "offbeat explain WORD says what a word means; offbeat explain odds lists the default odds."}
	for _, g := range glossary.Sections {
		var names []string
		for _, t := range g.Terms {
			names = append(names, t.Name)
		}
		s := Section{Heading: g.Title}
		s.say(Sentence, strings.Join(names, ", "))
		d.Sections = append(d.Sections, s)
	}
	return d
}
