package document

import (
	"fmt"
	"slices"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/lot"
	"offbeat/compare/report/picture"
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
