package document

import (
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/glossary"
	"offbeat/compare/lot"
	"offbeat/compare/report/picture"
	"offbeat/compare/report/words"
)

// boardRows are the places of the boards in the table of all, by name.
func (b *Basis) boardRows() map[string]string {
	out := map[string]string{}
	for i := range b.Boards {
		out[b.Boards[i].Board] = fmt.Sprint("board-", i+1)
	}
	return out
}

// standingID is the place of a board that stands out; empty where the boards are not listed.
func standingID(rows map[string]string, board string) string {
	if id := rows[board]; id != "" {
		return id + "-apart"
	}
	return ""
}

// judgedBy is the quantity that a lot's boards are shown in: the first of the target, else the frequency, or the high time of
// single pulses.
func (b *Basis) judgedBy() (at int, t compare.Quantity) {
	key := "frequency"
	if all := b.targets(); len(all) > 0 {
		key = all[0].Quantity
	} else if !slices.ContainsFunc(b.Boards, func(r lot.Row) bool { return r.Values[3] > 0 }) {
		key = "high_time"
	}
	at = compare.PlaceOf(key)
	return at, compare.Quantities[at]
}

// lotBoards lists every board, with a strip of them in the charts' order.
func (b *Basis) lotBoards() Section {
	s := Section{ID: "boards", Heading: "The boards", Layout: Pair}
	if !b.ListBoards {
		s.Show = PageOnly
	}
	if len(b.Boards) == 0 {
		return s
	}
	at, q := b.judgedBy()
	s.draw(func(id string) picture.Picture { return picture.Strip(id, b.strip(at, q)) })
	t := &Table{Columns: []Column{{Head: "board", Name: true, Given: true}, {Head: "verdict"}, {Head: q.Name, Number: true}, {Head: "likeliest cause (probability)"}}, Stack: true}
	rows := b.boardRows()
	for i := range b.Boards {
		r := &b.Boards[i]
		name := Cell{Text: r.Board, ID: rows[r.Board]}
		switch {
		case slices.ContainsFunc(b.Lot.Standing, func(o lot.Outlier) bool { return o.Board == r.Board }):
			name.Link = standingID(rows, r.Board)
		case r.Silent != "":
			name.Link = "silent"
		case r.Error != "":
			name.Link = "failed"
		}
		if !r.Judged() {
			t.Rows = append(t.Rows, []Cell{name, toned(map[bool]string{true: "no pulses", false: "not read"}[r.Silent != ""], Bad), {}, {}})
			continue
		}
		u := 0.0
		if len(r.Each) > 0 {
			u = r.Each[0].Uncertainties[at]
		}
		t.Rows = append(t.Rows, []Cell{name, toned(r.Verdict, tones[r.Verdict]), {Text: quantity.Uncertain(r.Values[at], u, q.Unit)}, {Text: compare.Sentence(r.CauseTitle()) + " (" + quantity.Probability(r.Cause.Probability) + ")"}})
	}
	s.table(t, Always)
	return s
}

// strip is the boards with values, one beside the other.
func (b *Basis) strip(at int, q compare.Quantity) picture.Boards {
	k := picture.Boards{Name: q.Name, Unit: q.Unit}
	if t := b.target(q.Key); t != nil {
		k.Limits = [2]float64{t.Low, t.High}
	}
	for _, r := range lot.Ordered(b.Boards) {
		k.Names, k.Values, k.Verdicts = append(k.Names, r.Board), append(k.Values, r.Values[at]), append(k.Verdicts, r.Verdict)
	}
	return k
}

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
