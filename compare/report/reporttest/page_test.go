package reporttest_test

import (
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/lot"
	"offbeat/compare/report/browsertest"
	"offbeat/compare/report/document"
	"offbeat/compare/report/page"
	"offbeat/compare/report/reporttest"
	"offbeat/compare/report/words"
)

// pages are reporttest's, solved once; who changes one makes its own.
func pages(t testing.TB) map[string]*document.Basis {
	t.Helper()
	once.Do(func() { kept = reporttest.Pages(t) })
	if kept == nil {
		t.Fatal("the pages were not made")
	}
	return kept
}

var (
	once sync.Once
	kept map[string]*document.Basis
)

// written is a page as it is in its file.
func written(t testing.TB, p *document.Basis) string {
	t.Helper()
	var b strings.Builder
	if err := page.Write(&b, document.Of(p), page.Maker{Version: "test"}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// bare is a page's text: entities read, tags taken out, blanks made one, a digest's pieces joined.
func bare(t testing.TB, p *document.Basis) string {
	text := html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(strings.ReplaceAll(written(t, p), "<wbr>", ""), " "))
	return strings.Join(strings.Fields(strings.ReplaceAll(text, "\u00a0", " ")), " ")
}

// Everything that a person typed or a file was named comes out as text.
func TestPageEscapes(t *testing.T) {
	p := reporttest.LampBasis(t)
	const nasty = `<script>alert("x")</script>&amp;`
	p.Finding.Title, p.Measurements[0].Source, p.Finding.Finding = nasty, nasty, nasty
	p.Finding.Captures[0].Source = nasty
	p.Finding.Warnings = []string{nasty}
	p.Finding.Causes[0].Parts = []string{nasty}
	p.Traces[0].Source = nasty
	text := written(t, p)
	if strings.Contains(text, "<script") || strings.Contains(text, "&amp;amp;amp;") {
		t.Error("text is not escaped once")
	}
	for _, address := range []string{"http:", "https:", "src=", "@import", "url(http"} {
		if strings.Contains(text, address) {
			t.Errorf("the page holds %q", address)
		}
	}
}

// What is nil is left out.
func TestPageOfLittle(t *testing.T) {
	if text := bare(t, &document.Basis{Captures: []compare.Capture{{Source: "a.csv", Measured: &compare.Times[compare.Measured]{High: &compare.Measured{Value: 1}}}}}); !strings.Contains(text, "certifies nothing") {
		t.Error("no cautions")
	}
	p, f := *pages(t)["reconcile"], *pages(t)["reconcile"].Finding
	p.Evidence, p.Traces, p.Design, p.Finding = nil, nil, nil, &f
	f.Verdict = compare.Verdict{Result: "no target"}
	if !strings.Contains(bare(t, &p), "No target is set") {
		t.Error("the missing target is not mentioned")
	}
}

// Nothing of a document that is for a page is missing from it.
func TestPageSaysItAll(t *testing.T) {
	for name, b := range pages(t) {
		d, text := document.Of(b), bare(t, b)
		says := func(what string) {
			if what = strings.Join(strings.Fields(what), " "); !strings.Contains(strings.ToLower(text), strings.ToLower(what)) {
				t.Errorf("%s: the page does not say %q", name, what)
			}
		}
		for _, a := range append(append([]string{d.Title}, d.Answer...), d.Facts...) {
			says(a)
		}
		for _, s := range d.Sections {
			for _, c := range s.Blocks {
				if c.Kind == document.Pictured || !s.Show.OnPage() || !c.Show.OnPage() {
					continue
				}
				says(c.Label)
				says(c.Text)
				for _, row := range tableRows(c.Table) {
					for _, cell := range row {
						says(cell.Text)
						says(cell.More)
					}
				}
			}
		}
	}
}

func tableRows(t *document.Table) [][]document.Cell {
	if t == nil {
		return nil
	}
	return t.Rows
}

// The page draws the capacitor's voltage with its runs, lists what they show, and says how the times run and which part
// would make their drift.
func TestWaveformOnThePage(t *testing.T) {
	page := bare(t, pages(t)["probed"])
	for _, want := range []string{"The capacitor's waveform", "The capacitor's own voltage", "Leakage across the capacitor", "Upper threshold",
		"Stability", "ppm/min", "C1 would make this drift by itself", "Allan deviation"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// Every proposal stands in the page with its chance, its stock, its caution, and each predicted quantity with its range.
func TestProposalsPage(t *testing.T) {
	p := pages(t)["retune"]
	text := bare(t, p)
	if len(p.Proposals) < 3 {
		t.Fatalf("only %d proposals: the test says too little", len(p.Proposals))
	}
	for i := range p.Proposals {
		q := &p.Proposals[i]
		line := fmt.Sprintf("%d. ", i+1)
		for _, c := range q.Changes {
			line += c.Part + ": " + strings.NewReplacer(" + ", " in series with ", " || ", " in parallel with ").Replace(c.Fit) + "; "
		}
		for k, b := range q.Predicted.Each() {
			u := compare.Quantities[k].Unit
			if want := words.Among(b.Value, b.Low, b.High, u) + " " + quantity.Span(b.Low, b.High, u); !strings.Contains(text, want) {
				t.Errorf("the page lacks %q", want)
			}
		}
		if line = strings.TrimSuffix(line, "; "); len(q.Changes) > 0 && !q.AsDrawn && !strings.Contains(text, line+" "+quantity.Probability(q.InTarget)) || !strings.Contains(text, q.Caution) {
			t.Errorf("the page lacks %q or %q", line, q.Caution)
		}
	}
	if !strings.Contains(text, " in stock") || !strings.Contains(text, "not all in stock") {
		t.Error("the test wants proposals in and out of stock")
	}
	for _, want := range []string{"What to fit", "Frequency after the change", "Duty factor after the change"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(text, "Next, best first") {
		t.Error("a page about what to fit advises a reading")
	}
}

// Asked in vain is something else than not asked.
func TestPageWithoutProposals(t *testing.T) {
	p := *pages(t)["reconcile"]
	if text := bare(t, &p); strings.Contains(text, "What to fit") {
		t.Error("nobody asked what to fit")
	}
	p.Proposals = []compare.Proposal{}
	if text := bare(t, &p); !strings.Contains(text, "no change of one or two parts") || strings.Contains(text, "after the change") {
		t.Error("the page does not say that nothing helps")
	}
}

// The page is whole, needs nothing from outside, and escapes what it was given.
func TestLotPage(t *testing.T) {
	b := pages(t)["lot"]
	r, page := b.Lot, written(t, b)
	for _, want := range []string{"Operating characteristic", "Frequency of the boards", "C1 out of tolerance, about", "others, each below 3", "The batches", "Control charts", "cut short &lt;&amp;&gt;", "lamp 20", "</html>"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, bad := range []string{"<script", "http://", "https://", "NaN", "Inf", "<&>"} {
		if strings.Contains(page, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	charts := 0
	for _, c := range r.Charts {
		if len(c.Drawing.Points) >= 8 {
			charts++
		}
	}
	if n := strings.Count(page, "<svg"); n != 5+charts+len(r.Gauge) || n != strings.Count(page, "<figure>") {
		t.Errorf("%d pictures", n)
	}
	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]+)"`).FindAllStringSubmatch(page, -1) {
		if ids[m[1]] {
			t.Errorf("the id %s stands twice", m[1])
		}
		ids[m[1]] = true
	}
	links := regexp.MustCompile(` href="#([^"]+)"`).FindAllStringSubmatch(page, -1)
	for _, m := range links {
		if !ids[m[1]] {
			t.Errorf("a link leads to %s, which is nowhere", m[1])
		}
	}
	if len(links) < 2 {
		t.Errorf("%d links between the boards", len(links))
	}
}

// A lot without target, boards or spread has a page too.
func TestBareLot(t *testing.T) {
	d := reporttest.Lamp()
	d.Targets = nil
	r, err := lot.NewCollector(d).Report(lot.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if text := bare(t, &document.Basis{Design: d, Lot: r}); !strings.Contains(text, "Acceptance") {
		t.Error(text)
	}
}

// The live page escapes what the user typed, and each place has what belongs there.
func TestLiveParts(t *testing.T) {
	p := pages(t)["reconcile"]
	h := &page.Heard{Snapshot: *reporttest.HeardSnapshot(p.Finding, p.Design), Source: "a port", State: "listening", Gone: true, Saved: "x.log"}
	parts, err := page.LiveParts(h)
	if err != nil {
		t.Fatal(err)
	}
	for place, want := range map[string][]string{
		"state": {`class="state gone"`, "listening"}, "finding": {"C1"}, "now": {"Duty factor", "since the start"}, "parts": {"C1", "out of tolerance"},
		"marks": {"cooled C1 with &lt;spray&gt;", "60.0\u00a0s", "no step yet"}, "trends": {"High time, ms", "C1, nF"}, "heard": {"33000 lines heard", "kept in x.log"},
	} {
		for _, w := range want {
			if !strings.Contains(parts[place], w) {
				t.Errorf("%s: no %q in\n%s", place, w, parts[place])
			}
		}
	}
	if n := strings.Count(parts["trends"], "<svg"); n != 4+len(p.Finding.Parts) {
		t.Errorf("%d pictures", n)
	}
	var b strings.Builder
	if err := page.Live(&b, &page.Heard{Source: "<a port>"}); err != nil || !strings.Contains(b.String(), "<h1>&lt;a port&gt;</h1>") {
		t.Errorf("%v in\n%s", err, b.String())
	}
	if got := strings.ReplaceAll(quantity.Format(p.Finding.Parts[2].Value, quantity.Farad), " ", "\u00a0"); !strings.Contains(parts["parts"], got) {
		t.Errorf("no %s among the parts", got)
	}
}

// papers in inches.
var papers = map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}}

// TestInBrowser looks at every kind of page as a reader would. OFFBEAT_PAGES names a folder to keep what was
// seen in.
func TestInBrowser(t *testing.T) {
	b := browsertest.New(t)
	dir, keep := os.Getenv("OFFBEAT_PAGES"), true
	if dir == "" {
		dir, keep = t.TempDir(), false
	}
	file := func(parts ...string) string {
		if !keep {
			return ""
		}
		return filepath.Join(dir, strings.Join(parts, "-"))
	}
	opened := ""
	for name, p := range pages(t) {
		path := filepath.Join(dir, name+".html")
		if err := os.WriteFile(path, []byte(written(t, p)), 0o644); err != nil {
			t.Fatal(err)
		}
		if opened == "" {
			opened = "file://" + path
			b.Open(opened)
		} else {
			b.Show(written(t, p))
		}
		roles := map[int]map[string]int{}
		for _, width := range []int{390, 768, 1280} {
			for _, scheme := range []string{"light", "dark"} {
				if !keep && (width == 768) != (scheme == "dark") {
					continue // colours do not depend on the width: one of each will do
				}
				b.Screen(width, scheme)
				var wrong, faint []string
				b.Run(browsertest.LayoutFaults, &wrong)
				b.Run(browsertest.Contrast, &faint)
				for _, w := range append(wrong, faint...) {
					t.Errorf("%s, %d px, %s: %s", name, width, scheme, w)
				}
				b.Accessible(fmt.Sprintf("%s %d %s", name, width, scheme), width == 768)
				var at float64 // where the first thing to do ends
				if b.Run(`return document.querySelector("#next li")?.getBoundingClientRect().bottom ?? 0`, &at); width == 390 && at > 844 {
					t.Errorf("%s: the next reading ends %.0f px down, below a phone's first screen", name, at)
				}
				if width != 768 { // not compared
					roles[width] = b.Roles()
				}
				if keep {
					b.Picture(file(name, fmt.Sprint(width), scheme+".png"))
				}
			}
		}
		for _, role := range []string{"image", "table", "row", "rowheader", "columnheader", "banner", "main", "heading", "figure"} {
			// A table that has become a list on a small screen is a table still to who hears it.
			if small, large := roles[390][role], roles[1280][role]; small != large || small == 0 && role == "main" {
				t.Errorf("%s: a screen reader finds %d of %q at 390 px and %d at 1280 px", name, small, role, large)
			}
		}
		t.Run("on paper "+name, func(t *testing.T) {
			for paper, size := range papers {
				sheets := b.Paper(size[0], size[1], keep || name == "crowded" && paper == "A4", file(name, paper+".pdf"))
				if n := len(sheets); n < 1 || n > 5 {
					t.Errorf("%d pages of %s, want at most 5", n, paper)
				}
				for _, f := range b.Faults(sheets) {
					t.Errorf("%s: %s", paper, f)
				}
			}
		})
		for _, e := range b.Log() {
			t.Errorf("%s: console says %s: %s", name, e.Level, e.Message)
		}
		for _, url := range b.Asked(opened) {
			t.Errorf("%s asks for %s", name, url)
		}
	}
}
