package browsertest

import (
	"bytes"
	"fmt"
	"os/exec"
	"regexp"
	"slices"
	"strings"
)

// framed leaves of each picture its frame, with a word at its foot so that no heading counts as the last line above it.
const framed = `const s = new CSSStyleSheet();
s.replaceSync("svg > * { display: none } svg { outline: 1px solid black; outline-offset: -1px } figure { position: relative } figure::after { content: 'picture'; position: absolute; left: 0; bottom: 0; font-size: 8px }");
document.adoptedStyleSheets.push(s);`

// Sheet is a printed page as its reader finds it at the foot.
type Sheet struct {
	Blank float64 // share of the height between the margins that stays empty
	Last  string  // the last line of its text, the page number apart
}

// margins of the printed page in millimetres, as the style sets them.
const marginTop, marginFoot = 15, 14

// dpi at which a sheet is looked at: a hairline still darkens its row.
const dpi = 40

// inked is the grey from which a row counts as empty.
const inked = 0xd8

// Paper prints on a paper of that size in inches. How its sheets end, but the last, is found by poppler's tools; without these it is only
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
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		b.t.Log("pdftoppm is not installed: how full the sheets are is not looked at")
		return sheets
	}
	if len(sheets) < 2 {
		return sheets
	}
	last := fmt.Sprint(len(sheets) - 1)
	text := bytes.Split(b.through(raw, "pdftotext", "-l", last, "-", "-"), []byte("\f"))
	pictures := b.through(raw, "pdftoppm", "-l", last, "-r", fmt.Sprint(dpi), "-gray", "-")
	for i := range sheets[:len(sheets)-1] { // the last may end anywhere
		sheets[i].Last = lastLine(string(text[i]))
		var w, h, white int
		if _, err := fmt.Sscanf(string(pictures[:min(len(pictures), 40)]), "P5\n%d %d\n%d\n", &w, &h, &white); err != nil {
			b.t.Fatal("pdftoppm: ", err)
		}
		head := len(fmt.Sprintf("P5\n%d %d\n%d\n", w, h, white))
		sheets[i].Blank = blank(pictures[head:head+w*h], w)
		pictures = pictures[head+w*h:]
	}
	return sheets
}

// Faults lists the sheets, all but the last, that are empty from the foot by more than a fifth, or end with a heading.
func (b *Browser) Faults(sheets []Sheet) (out []string) {
	b.t.Helper()
	var headings []string
	b.Run(`return [...document.querySelectorAll("h2")].map(h => h.innerText)`, &headings)
	for i, s := range sheets[:max(len(sheets)-1, 0)] {
		if s.Blank > 0.2 || slices.Contains(headings, s.Last) {
			out = append(out, fmt.Sprintf("page %d of %d is empty from the foot by %.0f %% and ends with %q", i+1, len(sheets), 100*s.Blank, s.Last))
		}
	}
	return out
}

// through runs a tool on bytes.
func (b *Browser) through(in []byte, tool string, args ...string) []byte {
	b.t.Helper()
	c := exec.Command(tool, args...)
	c.Stdin = bytes.NewReader(in)
	out, err := c.Output()
	if err != nil {
		b.t.Fatalf("%s: %v", tool, err)
	}
	return out
}

// blank is the share of a picture's rows between the margins that are empty from below.
func blank(grey []byte, width int) float64 {
	const top, below = marginTop * 10 * dpi / 254, marginFoot * 10 * dpi / 254
	foot := len(grey)/width - below - 1
	last := foot
	for last > top && slices.Min(grey[last*width:(last+1)*width]) > inked {
		last--
	}
	return float64(foot-last) / float64(foot-top)
}

// number is the page number at the foot.
var number = regexp.MustCompile(`^\d+ ?/ ?\d+$`)

func lastLine(text string) string {
	last := ""
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" && !number.MatchString(line) {
			last = line
		}
	}
	return last
}
