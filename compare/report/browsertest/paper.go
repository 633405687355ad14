package browsertest

import (
	"bytes"
	"fmt"
	"html"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
)

// framed leaves of each picture its frame, with a word at its foot so that no heading counts as the last line above it.
const framed = `const s = new CSSStyleSheet();
s.replaceSync("svg > * { display: none } svg { outline: 1px solid black; outline-offset: -1px } figure { position: relative } figure::after { content: 'picture'; position: absolute; left: 0; bottom: 0; font-size: 8px }");
document.adoptedStyleSheets.push(s);`

// Sheet is a printed page as its reader finds it at the foot.
type Sheet struct {
	Blank float64  // share of the height between the margins that stays empty
	Last  []string // the last lines of its text that stand side by side, the page number apart
}

// margins of the printed page in points, as the style sets them in millimetres; in the PDF's text the heading of each page and its number stand in them.
const marginTop, marginFoot = 15 * 72 / 25.4, 14 * 72 / 25.4

// Paper prints on a paper of that size in inches. How its sheets end, but the last, is found by poppler's tool for a PDF's text; without it it is only
// said how many there are. Unless drawn, the pictures are printed as frames: it takes nine tenths of the browser's
// time to put what is in them on paper, and nothing moves by it.
func (b *Browser) Paper(width, height float64, drawn bool, file string) []Sheet {
	b.t.Helper()
	var pdf struct{ Data string }
	if !drawn {
		b.Run(framed, nil)
		defer b.Run("document.adoptedStyleSheets.pop()", nil)
	}
	b.CDP("Page.printToPDF", map[string]any{"paperWidth": width, "paperHeight": height, "printBackground": false, "generateTaggedPDF": false}, &pdf)
	raw := b.save(file, pdf.Data)
	sheets := make([]Sheet, len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(raw, -1)))
	if _, err := exec.LookPath("pdftotext"); err != nil {
		b.t.Log("pdftotext is not installed: how full the sheets are is not looked at")
		return sheets
	}
	if len(sheets) < 2 {
		return sheets
	}
	c := exec.Command("pdftotext", "-bbox", "-l", fmt.Sprint(len(sheets)-1), "-", "-") // the last may end anywhere
	c.Stdin = bytes.NewReader(raw)
	text, err := c.Output()
	pages := bytes.Split(text, []byte("<page "))[1:]
	if err != nil || len(pages) != len(sheets)-1 {
		b.t.Fatalf("pdftotext: %v, %d pages of %d", err, len(pages), len(sheets)-1)
	}
	for i, p := range pages {
		sheets[i] = sheet(string(p), 72*height)
	}
	return sheets
}

// Faults lists the sheets, all but the last, that are empty from the foot by more than a fifth, or end with a heading.
func (b *Browser) Faults(sheets []Sheet) (out []string) {
	b.t.Helper()
	var headings []string
	b.Run(`return [...document.querySelectorAll("h2")].map(h => h.innerText)`, &headings)
	for i, s := range sheets[:max(len(sheets)-1, 0)] {
		if s.Blank > 0.2 || slices.ContainsFunc(s.Last, func(line string) bool { return slices.Contains(headings, line) }) {
			out = append(out, fmt.Sprintf("page %d of %d is empty from the foot by %.0f %% and ends with %q", i+1, len(sheets), 100*s.Blank, s.Last))
		}
	}
	return out
}

// word is one of the PDF's text, with its edges in points from the left and the top.
var word = regexp.MustCompile(`<word xMin="([^"]*)" yMin="([^"]*)" xMax="([^"]*)" yMax="([^"]*)">([^<]*)<`)

// sheet finds how far down a page of that height in points there are words, and the lowest of its lines.
func sheet(page string, height float64) Sheet {
	low, end, last := marginTop, 0., []string{}
	for _, w := range word.FindAllStringSubmatch(page, -1) {
		var edge [4]float64
		for i := range edge {
			edge[i], _ = strconv.ParseFloat(w[1+i], 64)
		}
		left, top, right, foot := edge[0], edge[1], edge[2], edge[3]
		line, text := (foot-top)/2, html.UnescapeString(w[5])
		switch {
		case foot < marginTop || top > height-marginFoot || foot <= low-line:
			continue
		case len(last) == 0 || foot > low+line:
			last = []string{text}
		case left < end || left > end+2*line:
			last = append(last, text)
		default:
			last[len(last)-1] += " " + text
		}
		low, end = max(low, foot), right
	}
	return Sheet{Blank: 1 - (low-marginTop)/(height-marginTop-marginFoot), Last: last}
}
