package reporttest_test

import (
	"maps"
	"regexp"
	"strings"
	"testing"

	"offbeat/compare/ledger"
	"offbeat/compare/report"
	"offbeat/compare/report/document"
	"offbeat/compare/report/reporttest"
	"offbeat/compare/report/text"

	"github.com/mattn/go-runewidth"
)

// Every text keeps to the width, from a narrow window on, and loses no number on the way.
func TestWidthIsRespected(t *testing.T) {
	books := &report.Ledger{Visits: reporttest.Visits()}
	books.Drift, _ = ledger.Drifts(books.Visits)
	all := maps.Clone(pages(t))
	d, promised := reporttest.Prediction(false)
	const typed = "offbeat reconcile lamp.toml lamp-2.csv"
	all["finding"], all["latch"] = &document.Basis{Finding: reporttest.Finding(), Command: typed}, &document.Basis{Finding: reporttest.Broken(), Command: typed}
	all["ledger"], all["digests"] = &document.Basis{Ledger: books}, reporttest.Digested(all["lot"])
	all["promised"] = &document.Basis{Design: d, Prediction: promised}
	documents := map[string]*document.Document{"glossary": document.Glossary(), "live": document.Live(reporttest.HeardSnapshot(all["reconcile"].Finding, all["reconcile"].Design), "listening to a port")}
	for name, b := range all {
		documents[name] = document.Of(b)
	}
	number := regexp.MustCompile(`\d+(\.\d+)?`)
	painted := regexp.MustCompile("\x1b\\[[0-9]*m")
	columns := runewidth.Condition{} // where ambiguous characters take one
	written := func(d *document.Document, s text.Style) string {
		var b strings.Builder
		if err := text.Write(&b, d, s); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	for name, d := range documents {
		wide := map[bool]string{}
		for _, explain := range []bool{false, true} {
			wide[explain] = written(d, text.Style{Width: 1000, Explain: explain})
		}
		for _, style := range []text.Style{{Width: 60}, {Width: 60, Explain: true}, {Width: 72}, {Width: 80, Explain: true}, {Width: 80, Color: true}, {Width: 100}, {Width: 160, Explain: true}} {
			shown := painted.ReplaceAllString(written(d, style), "")
			for _, l := range strings.Split(shown, "\n") {
				if n := columns.StringWidth(l); n > style.Width {
					t.Errorf("%s, width %d: a line of %d: %s", name, style.Width, n, l)
				}
			}
			have := map[string]int{}
			for _, n := range number.FindAllString(shown, -1) {
				have[n]++
			}
			for _, n := range number.FindAllString(wide[style.Explain], -1) {
				if have[n]--; have[n] == -1 && name != "ledger" { // whose design and version may go
					t.Errorf("%s, width %d: the number %s is lost", name, style.Width, n)
				}
			}
		}
	}
}
