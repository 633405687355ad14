// Package page renders a document as one HTML file that needs nothing else: style and pictures are in it, no script, no
// address. The live page of a stream that is being heard is its second form, with a script and a style beside it.
package page

import (
	"cmp"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"regexp"
	"strings"
	"sync"
	"time"
	"unicode"

	"offbeat/compare"
	"offbeat/compare/report/document"
	"offbeat/compare/report/picture"
)

// Maker says who made a page, and when.
type Maker struct {
	Made    time.Time // printed as a date; zero: none
	Version string    // of the program
}

//go:embed page.html
var pageText string

//go:embed page.css
var pageStyle string

var pageTemplate = sync.OnceValue(func() *template.Template { return template.Must(base("page").Parse(pageText)) })

// base is an empty template with what the pages' ones call.
func base(name string) *template.Template {
	return template.New(name).Funcs(template.FuncMap{"wraps": wraps})
}

var digest = regexp.MustCompile(`[0-9a-f]{16}`)

// wraps lets a digest break where its line ends, and leaves nothing of that in what is copied.
func wraps(text string) template.HTML {
	return template.HTML(digest.ReplaceAllString(template.HTMLEscapeString(text), "$0<wbr>"))
}

// Write renders a document.
func Write(w io.Writer, d *document.Document, m Maker) error {
	s := sheetOf(d, "")
	s.Kicker = m.line()
	s.Style = template.CSS(picture.Style + pageStyle + running(d.Title, s.Kicker))
	return pageTemplate().Execute(w, s)
}

// running is the style of what stands at the head of each printed page but the first (CSS Paged Media 3, margin boxes).
func running(left, right string) string {
	return "@page { @top-left { content: " + quoted(left) + "; } @top-right { content: " + quoted(right) + "; } }\n@page :first { @top-left { content: none; } @top-right { content: none; } }\n"
}

// quoted is a string of CSS, all but letters, digits and blanks written by their numbers.
func quoted(s string) string {
	var b strings.Builder
	for _, r := range s {
		if r == ' ' || unicode.IsLetter(r) || unicode.IsDigit(r) {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, "\\%x ", r)
		}
	}
	return `"` + b.String() + `"`
}

func sheetOf(d *document.Document, prefix string) *sheet {
	s := &sheet{Title: d.Title, Facts: tiedAll(d.Facts), Answer: tiedAll(d.Answer), Verdict: d.Result}
	a := &album{prefix: prefix}
	for i := range d.Sections {
		if d.Sections[i].Show.OnPage() {
			if part, ok := a.section(&d.Sections[i]); ok {
				part.ID = prefix + part.ID
				s.Sections = append(s.Sections, part)
			}
		}
	}
	return s
}

// Style is the style of a page, for one that has its parts from Parts.
func Style() string { return picture.Style + pageStyle }

// Part is a section of a page by itself.
type Part struct {
	ID   string `json:"id"`
	HTML string `json:"html"`
}

// Parts renders the answer and the sections of a document without the page around them, for a page that takes no style in
// its markup: what would be an attribute style is called data-style. prefix begins all ids.
func Parts(d *document.Document, prefix string) (answer string, sections []Part, err error) {
	s := sheetOf(d, prefix)
	part := func(name string, data any) (string, error) { return styleless(pageTemplate(), name, data) }
	if answer, err = part("answer", s); err != nil {
		return "", nil, err
	}
	for i := range s.Sections {
		html, err := part("section", s.Sections[i])
		if err != nil {
			return "", nil, err
		}
		sections = append(sections, Part{strings.TrimPrefix(s.Sections[i].ID, prefix), html})
	}
	return answer, sections, nil
}

// line says who made the page, and when.
func (m Maker) line() string {
	out := "Bench report by offbeat"
	if m.Version != "" {
		out += " " + m.Version
	}
	if !m.Made.IsZero() {
		out += ", " + m.Made.Format("2006-01-02 15:04")
	}
	return out
}

// sheet is a document made ready for the template: plain text and finished pictures.
type sheet struct {
	Title, Kicker string
	Facts, Answer []string
	Verdict       string
	Sections      []section
	Style         template.CSS
}

// section is one heading with its pictures beside its words.
type section struct {
	ID, Heading string
	Layout      string
	Pictures    []drawing
	Words       []item
}

// drawing is a picture ready to be placed.
type drawing struct {
	picture.Picture
	Inline template.HTML
}

// item is a table, a paragraph, or a list; one of them.
type item struct {
	Table     *table
	Label     string // of the table, for who hears the page
	Paragraph *line
	List      []line
	Counted   bool // the list's lines are
}

// line is a sentence, and what belongs under it.
type line struct {
	Label, Text string
	Under       []line
	Code        bool // to be copied
}

// table is one table of text.
type table struct {
	Caption string
	Heads   []head
	Rows    [][]entry
	Stack   bool
}

type head struct {
	Text         string
	Number, Name bool
}

// entry is one cell.
type entry struct {
	document.Cell
	Head string // of its column
	Number, Name,
	Mark bool // stands out
}

// album numbers the pictures of one page.
type album struct {
	prefix string
	n      int
}

// section makes a section ready; false where a page has nothing of it.
func (a *album) section(s *document.Section) (section, bool) {
	out := section{ID: s.ID, Heading: s.Heading, Layout: string(s.Layout)}
	out.Layout = cmp.Or(out.Layout, "flow")
	tables := 0
	for i := range s.Blocks {
		b := &s.Blocks[i]
		if !b.Show.OnPage() {
			continue
		}
		switch l := (line{Label: b.Label, Text: tied(compare.Sentence(b.Text))}); b.Kind {
		case document.Pictured:
			a.n++
			if p := b.Figure(fmt.Sprintf("%sp%d", a.prefix, a.n)); p.SVG != "" {
				out.Pictures = append(out.Pictures, drawing{p, template.HTML(p.SVG)}) // package picture escapes all text it puts in
			}
		case document.Tabular:
			tables++
			label := fmt.Sprintf("%s, table %d", cmp.Or(s.Heading, b.Table.Caption, s.ID), tables)
			out.Words = append(out.Words, item{Table: tableOf(b.Table, a.prefix), Label: label})
		case document.Point, document.Step:
			out.list(l, b.Kind == document.Step)
		case document.Under:
			out.under(l)
		case document.Command:
			out.under(line{Text: b.Text, Code: true})
		default:
			out.Words = append(out.Words, item{Paragraph: &l})
		}
	}
	if len(out.Pictures) == 0 {
		out.Layout = "flow"
	}
	return out, len(out.Pictures)+len(out.Words) > 0
}

// list adds a line to the list that stands last, or begins one.
func (s *section) list(l line, counted bool) {
	if n := len(s.Words); n > 0 && s.Words[n-1].List != nil && s.Words[n-1].Counted == counted {
		s.Words[n-1].List = append(s.Words[n-1].List, l)
		return
	}
	s.Words = append(s.Words, item{List: []line{l}, Counted: counted})
}

// under puts a line under the one before it.
func (s *section) under(l line) {
	if n := len(s.Words); n > 0 && s.Words[n-1].List != nil {
		last := &s.Words[n-1].List[len(s.Words[n-1].List)-1]
		last.Under = append(last.Under, l)
		return
	}
	s.Words = append(s.Words, item{Paragraph: &l})
}

// tableOf keeps the columns that a page shows; prefix begins the names of its places.
func tableOf(t *document.Table, prefix string) *table {
	out := &table{Caption: t.Caption, Stack: t.Stack, Rows: make([][]entry, len(t.Rows))}
	named := -1
	for k, c := range t.Columns {
		if c.Name {
			named = k
		}
	}
	for k, c := range t.Columns {
		if !c.Show.OnPage() {
			continue
		}
		name := k == max(named, 0)
		out.Heads = append(out.Heads, head{c.Head, c.Number, name})
		for i := range t.Rows {
			cell := t.Rows[i][k]
			cell.Text, cell.More = tied(cell.Text), tied(cell.More)
			if cell.ID != "" {
				cell.ID = prefix + cell.ID
			}
			if cell.Link != "" {
				cell.Link = prefix + cell.Link
			}
			if name && !c.Given {
				cell.Text = compare.Sentence(cell.Text)
			}
			out.Rows[i] = append(out.Rows[i], entry{cell, c.Head, c.Number, name, cell.Tone == document.Bad || cell.Tone == document.Doubtful})
		}
	}
	return out
}

// afterNumber is a blank between a number and its unit.
var afterNumber = regexp.MustCompile(`([\d)]) ((?:[pnµmkMGT]?(?:Ω|F|Hz|V|s)|%)(?:[^\pL]|$))`)

// tied keeps a number, its tolerance and its unit on one line.
func tied(s string) string {
	return afterNumber.ReplaceAllString(strings.ReplaceAll(s, " ± ", "\u00a0±\u00a0"), "$1\u00a0$2")
}

func tiedAll(all []string) []string {
	out := make([]string, len(all))
	for i := range all {
		out[i] = tied(compare.Sentence(all[i]))
	}
	return out
}

// styleless renders without attributes style, which a strict policy forbids: they are called data-style, for a script to set.
func styleless(t *template.Template, name string, data any) (string, error) {
	var b strings.Builder
	err := t.ExecuteTemplate(&b, name, data)
	return strings.ReplaceAll(b.String(), ` style="`, ` data-style="`), err
}
