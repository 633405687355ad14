package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"regexp"
	"slices"
	"strings"
	"time"

	"offbeat/compare"
	"offbeat/compare/bistable"
	"offbeat/compare/caution"
	"offbeat/compare/lot"
	"offbeat/compare/reconcile"
	"offbeat/compare/report/picture"
	"offbeat/compare/session"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// Page is what a page is made of. What is nil or empty is left out.
type Page struct {
	Design       *fit.Design
	Finding      *compare.Finding
	Captures     []compare.Capture   // where there is no Finding
	Warnings     []string            // likewise
	Measurements []*fit.Measurement  // one a capture, in the order of the captures
	Traces       []*picture.Trace    // one a measurement, nil where none was kept
	Evidence     *reconcile.Evidence // behind the Finding
	Checks       []bistable.Check    // of a bistable, in place of measurements
	Prediction   *predict.Result
	Proposals    []compare.Proposal // what to fit, best first; nil: not asked for
	Session      *session.Snapshot  // a stream that was heard
	Lot          *lot.Report        // many boards, judged by Design; then no Finding
	Boards       []lot.Row          // of the lot; nil leaves the plane of their times out
	Made         time.Time          // printed as a date; zero: none
	Version      string             // of the program
}

// document is a page made ready for the template: plain text and finished pictures.
type document struct {
	Title, Kicker string
	Facts         []string // one line each under the title
	Finding       string
	Verdict       string // one word, "" where there is none
	Sections      []section
	Style         template.CSS
}

// section is one heading with what stands under it.
type section struct {
	ID, Heading string
	Lead        string
	Pictures    []drawing
	Tables      []table
	Points      []string // a list
	Layout      layout
}

// layout says how a section's pictures and words share the width.
type layout string

const (
	pair   layout = "pair"   // pictures on the left, words on the right
	flow   layout = "flow"   // one after the other
	mosaic layout = "mosaic" // pictures in a grid, the words in its last cells
)

// drawing is a picture ready to be placed.
type drawing struct {
	picture.Picture
	Inline template.HTML
}

// table is one table of text.
type table struct {
	Caption string
	Heads   []head
	Rows    [][]entry
	Stack   bool // on a narrow screen each row becomes a list of its cells
}

// trim takes out the columns, but the first, that are empty in every row.
func (t *table) trim() {
	for k := len(t.Heads) - 1; k > 0; k-- {
		empty := true
		for _, row := range t.Rows {
			empty = empty && row[k].Text == "" && row[k].More == ""
		}
		if !empty {
			continue
		}
		t.Heads = slices.Delete(t.Heads, k, k+1)
		for i := range t.Rows {
			t.Rows[i] = slices.Delete(t.Rows[i], k, k+1)
		}
	}
}

// tie keeps the numbers in the cells and their units together.
func (t *table) tie() {
	for _, row := range t.Rows {
		for i := range row {
			row[i].Text, row[i].More = tied(row[i].Text), tied(row[i].More)
		}
	}
}

type head struct {
	Text   string
	Number bool
}

// entry is one cell; the first of a row heads it.
type entry struct {
	Text   string
	More   string // below Text, lighter
	Number bool
	Bar    float64 // 0 … 1: a bar before the text; 0: none
	Mark   bool    // stands out
}

//go:embed page/page.html
var pageText string

//go:embed page/page.css
var pageStyle string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// HTML writes a page as one file that needs nothing else: style and pictures are in it, no script, no address.
func HTML(w io.Writer, p Page) error {
	return pageTemplate.Execute(w, p.document())
}

// document arranges the page.
func (p *Page) document() *document {
	d := &document{Style: template.CSS(picture.Style + pageStyle), Kicker: p.kicker(), Title: p.title()}
	if p.Design != nil {
		for _, l := range p.facts() {
			d.Facts = append(d.Facts, tied(l))
		}
	}
	d.Finding, d.Verdict = p.answer()
	a := &album{}
	for _, s := range p.sections(a) {
		if s != nil {
			for i := range s.Points {
				s.Points[i] = tied(sentence(s.Points[i]))
			}
			for i := range s.Tables {
				s.Tables[i].trim()
				s.Tables[i].tie()
			}
			d.Sections = append(d.Sections, *s)
		}
	}
	return d
}

// sections are those of a lot, or of one board; nil ones have nothing to say.
func (p *Page) sections(a *album) []*section {
	if p.Lot != nil {
		return p.lotSections(a)
	}
	return []*section{
		p.latch(a), p.latchFaults(), p.times(a), p.proposals(a), p.causes(a), p.parts(a), p.next(), p.promise(a), p.waveform(a), p.running(), p.heard(a), p.captures(a), p.basis(), p.cautions(),
	}
}

// answer is the page's first sentence, and the verdict in a word where there is one.
func (p *Page) answer() (said, verdict string) {
	switch {
	case p.Lot != nil:
		if len(p.targets()) > 0 {
			verdict = string(p.Lot.Acceptance.Result)
		}
		return tied(p.Lot.Finding), verdict
	case p.Finding != nil:
		if v := p.Finding.Verdict.Result; v != "no target" {
			verdict = v
		}
		return tied(p.Finding.Finding), verdict
	case p.Prediction != nil:
		return tied(sentence(promised(p.Prediction))), ""
	case len(p.Captures) == 1:
		return tied(sentence(summary(p.Captures[0].Measured))) + ".", ""
	case len(p.Captures) > 0:
		return tied(SourceOf(p.Captures[0], p.Captures) + ": " + summary(p.Captures[0].Measured)), ""
	}
	return "", ""
}

// afterNumber is a blank between a number and its unit.
var afterNumber = regexp.MustCompile(`([\d)]) ((?:[pnµmkMGT]?(?:Ω|F|Hz|V|s)|%)(?:[^\pL]|$))`)

// tied keeps a number, its tolerance and its unit on one line.
func tied(s string) string {
	return afterNumber.ReplaceAllString(strings.ReplaceAll(s, " ± ", "\u00a0±\u00a0"), "$1\u00a0$2")
}

func (p *Page) title() string {
	switch {
	case p.Finding != nil && p.Finding.Title != "":
		return p.Finding.Title
	case p.Design != nil && p.Design.Title != "":
		return p.Design.Title
	case p.Design != nil:
		return p.Design.Circuit
	}
	if len(p.Captures) > 0 {
		return p.Captures[0].Source
	}
	return "Bench report"
}

// kicker says who made the page, and when.
func (p *Page) kicker() string {
	out := "Bench report by offbeat"
	if p.Version != "" {
		out += " " + p.Version
	}
	if !p.Made.IsZero() {
		out += ", " + p.Made.Format("2006-01-02 15:04")
	}
	return out
}

// album numbers the pictures of one page.
type album struct{ n int }

func (a *album) id() string {
	a.n++
	return fmt.Sprintf("p%d", a.n)
}

func placed(p picture.Picture) drawing {
	return drawing{p, template.HTML(p.SVG)} // package picture escapes all text it puts in
}

// cautions close every page.
func (p *Page) cautions() *section {
	return &section{ID: "cautions", Heading: "Cautions", Layout: flow, Points: []string{caution.Off, caution.Polarity, caution.Live, caution.Supply, caution.Qualified}}
}
