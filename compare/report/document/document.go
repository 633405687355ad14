// Package document builds what a report says, once, from what is known: a finding, a measurement, a prediction, proposals, a
// lot, a ledger, a stream that is heard. It is sections of sentences, tables and pictures, in the order of a screen; packages
// text, page and table render it, and none of them knows what a finding is.
//
//	document.go   the parts of a document
//	basis.go      what a document is made from
//	sections.go   its answer, and in which order its sections come
//	the others    one subject each
package document

import (
	"slices"
	"strings"

	"offbeat/compare"
	"offbeat/compare/report/picture"
)

// Document is a report: the answer first, then sections.
type Document struct {
	Title    string   // of the board or the lot
	Facts    []string // what it is, a line each; for a page
	Answer   []string // the finding, a sentence each
	Short    string   // the whole in one line, or one a capture
	Result   string   // the verdict in a word; empty: none
	Subject  string   // whose answer it is, in one line of text
	Sections []Section
	Records  []Record // the numbers of all sections
	Closing  string   // the last caution
}

// Section is one heading with what stands under it, in reading order.
type Section struct {
	ID, Heading string
	Blocks      []Block
	Records     []Record // its numbers
	Layout      Layout
	Show        Show
}

// Layout says how a page shares the width between a section's pictures and words.
type Layout string

// Layouts.
const (
	Pair   Layout = "pair"        // pictures on the left, words on the right
	Mosaic Layout = "mosaic"      // pictures in a grid, the words in its last cells
	Trio   Layout = "mosaic trio" // two pictures and the words, a column each
)

// Show says where something is shown.
type Show int

// What is for everybody, for those who ask (a page, or text with --explain), for text alone, for a page alone.
const (
	Always Show = iota
	Detail
	TextOnly
	PageOnly
)

// Block is one thing in a section: a table, a picture, or words.
type Block struct {
	Kind   Kind
	Label  string // before the words, as in "Why: …"
	Text   string
	Table  *Table
	Figure Figure
	Tone   Tone
	Show   Show
}

// Kind says what a block is.
type Kind int

// Kinds of blocks. A step is counted; what follows it (sentences, a command) belongs to it.
const (
	Sentence Kind = iota
	Point
	Step
	Under   // a sentence that belongs to the step or point before it
	Command // a line to copy; likewise
	Tabular
	Pictured
)

// Figure draws a picture; id keeps its parts apart from those of others. An empty one has nothing to show.
type Figure func(id string) picture.Picture

// Table is rows of cells under headed columns.
type Table struct {
	Caption string // what it needs to be read right; on a page, and in text where it is asked for
	Columns []Column
	Rows    [][]Cell
	Stack   bool // on a narrow page each row becomes a list of its cells
	Heads   Show // where the heads of the columns are shown
}

// Column is one column of a table. Its head may be empty.
type Column struct {
	Head   string
	Number bool // to the right
	Drop   int  // in text the largest goes first where there is no room; 0 stays, if need be on a line of its own
	Name   bool // names the row; where no column does the first one is it
	Given  bool // by a name that the user gave: it stays as written
	Show   Show
}

// Cell is one cell.
type Cell struct {
	Text  string
	More  string        // below the text, lighter; for a page
	Share float64       // 0 … 1, drawn as a bar; 0: none
	Part  *compare.Part // drawn across its tolerance
	Tone  Tone
	ID    string // its place on a page, for links
	Link  string // ID of a cell or a section of the page that says more
}

// Tone is how a text is meant; it is never the only sign of anything.
type Tone int

// Tones.
const (
	Plain Tone = iota
	Good
	Bad
	Doubtful
)

// Record is one line of the flat table: SI units, empty where a column has no meaning.
type Record struct {
	Kind        string   `csv:"kind"` // one of places
	Name        string   `csv:"name"`
	Unit        string   `csv:"unit"`
	Nominal     *float64 `csv:"nominal"`
	Value       *float64 `csv:"value"`
	Uncertainty *float64 `csv:"standard_uncertainty"`
	Low         *float64 `csv:"low"`
	High        *float64 `csv:"high"`
	Probability *float64 `csv:"probability"`
	Detail      string   `csv:"detail"`
}

func (s *Section) add(b ...Block) { s.Blocks = append(s.Blocks, b...) }

// say adds a sentence; an empty one is left out.
func (s *Section) say(kind Kind, text string) {
	if text != "" {
		s.add(Block{Kind: kind, Text: text})
	}
}

// labelled adds a sentence with a word before it.
func (s *Section) labelled(kind Kind, label, text string) {
	if text != "" {
		s.add(Block{Kind: kind, Label: label, Text: text})
	}
}

// points adds a list.
func (s *Section) points(all ...string) {
	for _, t := range all {
		s.say(Point, t)
	}
}

// table adds a table; one without rows is left out.
func (s *Section) table(t *Table, show Show) {
	if len(t.Rows) > 0 {
		t.trim()
		s.add(Block{Kind: Tabular, Table: t, Show: show})
	}
}

// trim takes out the columns, but the first, that are empty in every row.
func (t *Table) trim() {
	for k := len(t.Columns) - 1; k > 0; k-- {
		empty := true
		for _, row := range t.Rows {
			c := &row[k]
			empty = empty && c.Text == "" && c.More == "" && c.Part == nil
		}
		if !empty {
			continue
		}
		t.Columns = slices.Delete(t.Columns, k, k+1)
		for i := range t.Rows {
			t.Rows[i] = slices.Delete(t.Rows[i], k, k+1)
		}
	}
}

// draw adds pictures.
func (s *Section) draw(all ...Figure) {
	for _, f := range all {
		s.add(Block{Kind: Pictured, Figure: f, Show: PageOnly})
	}
}

// cautions adds each caution once, without those that another one says too.
func (s *Section) cautions(all []string) {
	all = compare.Unique(all)
	for i, c := range all {
		said := slices.ContainsFunc(all, func(o string) bool { return o != all[i] && strings.Contains(o, strings.TrimSuffix(c, ".")) })
		if !said {
			s.labelled(Sentence, "Caution", c)
		}
	}
}

// cells makes a row of plain texts.
func cells(texts ...string) []Cell {
	row := make([]Cell, len(texts))
	for i, t := range texts {
		row[i].Text = t
	}
	return row
}

// toned is a cell whose tone a probability or a result sets.
func toned(text string, tone Tone) Cell { return Cell{Text: text, Tone: tone} }

// tones of the results of a verdict and of a lot's decision.
var tones = map[string]Tone{"pass": Good, "fail": Bad, "undecided": Doubtful, "accept": Good, "reject": Bad}

// Says tells whether something is shown in text, where detail may be asked for.
func (s Show) Says(detail bool) bool { return s == Always || s == TextOnly || s == Detail && detail }

// OnPage tells whether something is shown on a page.
func (s Show) OnPage() bool { return s != TextOnly }
