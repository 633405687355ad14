package schematic

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf8"

	"offbeat/fit/wiring"
)

// boards are the multivibrator, the shipped wirings and random ones, of up to eight more parts between nodes of their own.
func boards(t *testing.T) []*wiring.Wiring {
	t.Helper()
	out := []*wiring.Wiring{wiring.Multivibrator()}
	for _, s := range wiring.All() {
		w, err := s.Wiring()
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, w)
	}
	r := rand.New(rand.NewPCG(1, 2))
	for len(out) < 60 {
		nodes := []string{"supply", "ground", "discharge", "cap", "output", "control", "a", "b", "c"}
		pick := func() string { return nodes[r.IntN(len(nodes))] }
		text := "U1 timer trigger=cap threshold=cap\nR1 supply discharge\nR2 discharge cap\nC1 cap ground\n"
		for i := range r.IntN(9) {
			kind := []string{"R", "C", "D", "RV"}[r.IntN(4)]
			text += fmt.Sprintf("%s%d %s %s", kind, i+10, pick(), pick())
			if kind == "RV" && r.IntN(2) == 0 {
				text += " " + pick()
			}
			text += "\n"
		}
		if w, err := wiring.Parse(text); err == nil {
			out = append(out, w)
		}
	}
	return out
}

// TestNothingOverlaps wants every part on its own nodes' levels, and no two in one place.
func TestNothingOverlaps(t *testing.T) {
	for _, w := range boards(t) {
		d := Of(w)
		taken := map[cell]string{}
		for i := range d.Parts {
			p := &d.Parts[i]
			upper, lower := p.Nodes[0], p.Nodes[len(p.Nodes)-1]
			if p.Reversed {
				upper, lower = lower, upper
			}
			if d.Levels[p.Top].Node != upper || d.Levels[p.Bottom].Node != lower {
				t.Errorf("%s stands between %s and %s, not %s and %s", p.Name, d.Levels[p.Top].Node, d.Levels[p.Bottom].Node, upper, lower)
			}
			if p.Wiper >= 0 && d.Levels[p.Wiper].Node != p.Nodes[1] {
				t.Errorf("the wiper of %s leads to %s, not %s", p.Name, d.Levels[p.Wiper].Node, p.Nodes[1])
			}
			for _, at := range p.places() {
				if other := taken[at]; other != "" && other != p.Name {
					t.Errorf("%s and %s overlap in\n%s", other, p.Name, d.Text())
				}
				taken[at] = p.Name
			}
		}
	}
}

// TestTextLeadsToNodes follows each part's wire in the text drawing, up and down, to the line that it ends on.
func TestTextLeadsToNodes(t *testing.T) {
	for _, w := range boards(t) {
		d := Of(w)
		rows := strings.Split(d.Text(), "\n")
		at := func(x, y int) rune {
			if y < 0 || y >= len(rows) {
				return 0
			}
			if r := []rune(rows[y]); x < len(r) {
				return r[x]
			}
			return ' '
		}
		for _, p := range d.Parts {
			x, y := find(rows, p.Name)
			if y < 0 {
				t.Fatalf("%s is not drawn in\n%s", p.Name, d.Text())
			}
			for _, way := range []struct {
				by   int
				node string
			}{{-1, d.Levels[p.Top].Node}, {1, d.Levels[p.Bottom].Node}} {
				if p.Top == p.Bottom {
					continue
				}
				k := y + way.by
				for at(x, k) == '│' {
					k += way.by
				}
				if !strings.ContainsRune("┬┴┼", at(x, k)) || !strings.HasPrefix(rows[k]+" ", way.node) {
					t.Errorf("%s leads to %q, not to %s:\n%s", p.Name, rows[max(min(k, len(rows)-1), 0)], way.node, d.Text())
				}
			}
		}
	}
}

// find is the place of a part's body, two columns left of its name.
func find(rows []string, name string) (x, y int) {
	for y, row := range rows {
		for from := 0; ; {
			i := strings.Index(row[from:], " "+name)
			if i < 0 {
				break
			}
			i += from
			before, after := []rune(row[:i]), row[i+1+len(name):]
			if len(before) > 0 && strings.ContainsRune("▯═▽△", before[len(before)-1]) && (after == "" || !strings.ContainsRune("0123456789", rune(after[0]))) {
				return utf8.RuneCountInString(row[:i]) - 1, y
			}
			from = i + 1
		}
	}
	return 0, -1
}

// TestSameDrawing wants the same drawing twice, and one no wider than a terminal for what is shipped.
func TestSameDrawing(t *testing.T) {
	for i, w := range boards(t) {
		a, b := Of(w).Text(), Of(w).Text()
		if a != b {
			t.Errorf("two drawings of one wiring:\n%s\n%s", a, b)
		}
		for _, row := range strings.Split(a, "\n") {
			if i <= len(wiring.All()) && utf8.RuneCountInString(row) > 60 {
				t.Errorf("%d characters: %s", utf8.RuneCountInString(row), row)
			}
		}
	}
}
