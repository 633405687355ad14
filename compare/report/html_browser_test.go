package report

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"offbeat/compare/report/browsertest"
)

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
	for name, p := range pages(t) {
		path := filepath.Join(dir, name+".html")
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := HTML(f, p); err != nil {
			t.Fatal(err)
		}
		f.Close()
		roles := map[int]map[string]int{}
		widths := []int{360, 1280}
		if name == "retune" { // the widest table
			widths = append(widths, 768, 1024)
		}
		for _, width := range widths {
			for _, scheme := range []string{"light", "dark"} {
				if !keep && (width < 1280) != (scheme == "light") {
					continue // colours do not depend on the width: one of each will do
				}
				b.Screen(width, scheme)
				b.Open("file://" + path)
				var wrong, faint []string
				b.Run(browsertest.LayoutFaults, &wrong)
				b.Run(browsertest.Contrast, &faint)
				for _, w := range append(wrong, faint...) {
					t.Errorf("%s, %d px, %s: %s", name, width, scheme, w)
				}
				roles[width] = b.Roles()
				if keep {
					b.Picture(file(name, fmt.Sprint(width), scheme+".png"))
				}
			}
		}
		for _, role := range []string{"image", "table", "row", "rowheader", "columnheader", "banner", "main", "heading", "figure"} {
			// A table that has become a list on a small screen is a table still to who hears it.
			if small, large := roles[360][role], roles[1280][role]; small != large || small == 0 && role == "main" {
				t.Errorf("%s: a screen reader finds %d of %q at 360 px and %d at 1280 px", name, small, role, large)
			}
		}
		for paper, size := range papers {
			if !keep && paper == "Letter" && name != "crowded" && name != "retune" {
				continue // the fullest pages tell: the sheet is a little shorter and a little wider
			}
			if n := b.Paper(size[0], size[1], file(name, paper+".pdf")); n < 1 || n > 3 {
				t.Errorf("%s prints on %d pages of %s, want at most 3", name, n, paper)
			}
		}
		for _, e := range b.Log("browser") {
			t.Errorf("%s: console says %s: %s", name, e.Level, e.Message)
		}
		for _, url := range b.Asked("file://" + path) {
			t.Errorf("%s asks for %s", name, url)
		}
	}
}
