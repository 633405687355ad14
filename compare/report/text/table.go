package text

import (
	"slices"
	"strings"

	"offbeat/compare/report/document"
)

// grid is a table made ready for text: its columns with what stands in them.
type grid struct {
	columns []document.Column
	heads   []string
	rows    [][]document.Cell
	widths  []int
	least   []int // with the heads broken at every blank
}

// Bars have one of these widths, by the page's.
const (
	shareWidth = 20
	wideBar    = 31
	narrowBar  = 17
	widePage   = 100
)

// gridOf keeps the columns that text shows, and draws the bars: a part's in its own column, a share's in one after it.
func (p *printer) gridOf(t *document.Table) *grid {
	g := &grid{rows: make([][]document.Cell, len(t.Rows))}
	part := narrowBar
	if p.style.Width >= widePage {
		part = wideBar
	}
	for k, c := range t.Columns {
		if !c.Show.Says(p.style.Explain) {
			continue
		}
		head, shares := c.Head, false
		if !t.Heads.Says(p.style.Explain) {
			head = ""
		}
		g.columns, g.heads = append(g.columns, c), append(g.heads, head)
		for i, r := range t.Rows {
			cell := r[k]
			if cell.Part != nil {
				cell.Text = toleranceBar(cell.Part, part)
			}
			shares = shares || cell.Share > 0
			g.rows[i] = append(g.rows[i], cell)
		}
		if !shares {
			continue
		}
		g.columns, g.heads = append(g.columns, document.Column{Drop: 9}), append(g.heads, "")
		for i, r := range t.Rows {
			g.rows[i] = append(g.rows[i], document.Cell{Text: shareBar(r[k].Share, shareWidth)})
		}
	}
	g.measure()
	return g
}

// measure works the widths out.
func (g *grid) measure() {
	g.widths, g.least = make([]int, len(g.columns)), make([]int, len(g.columns))
	for k := range g.columns {
		for _, r := range g.rows {
			g.least[k] = max(g.least[k], visible(r[k].Text))
		}
		g.widths[k] = max(g.least[k], visible(g.heads[k])-g.before(k))
		for i, w := range strings.Fields(g.heads[k]) {
			over := g.before(k)
			if i > 0 && k > 1 && g.columns[k].Number && visible(g.heads[k-1]) <= g.least[k-1] { // below a head of one line
				over = max(over, 2)
			}
			g.least[k] = max(g.least[k], visible(w)-over)
		}
	}
}

// table writes aligned columns, two blanks apart, indented by two, the section's title before the heads where there is room.
// Where they are wider than the page, columns that may be dropped go first; then heads are broken at their blanks; then the
// cells of the widest column of words; and what still has no room goes on a line of its own below each row. No number is
// lost or broken.
func (p *printer) table(title string, t *document.Table) {
	g := p.gridOf(t)
	g.drop(p.style.Width)
	g.squeeze(p.style.Width)
	lines := g.fold(p.style.Width)
	heads := g.headLines(lines)
	if len(heads) > 0 && title != "" && strings.TrimSpace(cutTo(heads[0], visible(title)+2)) == "" {
		heads[0] = p.paint(bold, title) + heads[0][min(visible(title), len(heads[0])):]
	} else if title != "" {
		p.line("%s", p.paint(bold, title))
	}
	for _, h := range heads {
		p.line("%s", h)
	}
	for _, r := range g.rows {
		p.row(g, lines, r)
	}
}

// cutTo is the beginning of a line.
func cutTo(line string, n int) string { return string([]rune(line)[:min(n, len([]rune(line)))]) }

// headLines are the heads, broken where they must be. The head of a column of numbers may reach over a column before it
// that has none.
func (g *grid) headLines(lines []int) []string {
	if strings.Join(g.heads, "") == "" {
		return nil
	}
	var out []string
	for n, from := range lines[:len(lines)-1] {
		broken, height := make([][]string, len(g.heads)), 1
		for k := from; k < lines[n+1]; k++ {
			broken[k] = Wrap(g.heads[k], g.widths[k]+g.before(k))
			height = max(height, len(broken[k]))
		}
		for h := range height {
			line := []rune(strings.Repeat(" ", total(g.widths)+2*len(lines)))
			at := 2 * min(n, 1)
			for k := from; k < lines[n+1]; k++ {
				at += 2
				if h < len(broken[k]) {
					text := []rune(broken[k][h])
					start := at
					if g.columns[k].Number {
						start = at + g.widths[k] - len(text)
					}
					copy(line[start:], text)
				}
				at += g.widths[k]
			}
			if text := strings.TrimRight(string(line), " "); text != "" {
				out = append(out, text)
			}
		}
	}
	return out
}

// before is by how much a head may reach over the column before it.
func (g *grid) before(k int) int {
	if k > 1 && g.columns[k].Number && g.heads[k] != "" && g.heads[k-1] == "" {
		return g.widths[k-1] + 2
	}
	return 0
}

// total is the width of a table's line.
func total(widths []int) int {
	n := 0
	for _, w := range widths {
		n += w + 2
	}
	return n
}

// drop takes out columns until the rest has room.
func (g *grid) drop(room int) {
	for total(g.least) > room {
		last := -1
		for k, c := range g.columns {
			if c.Drop > 0 && (last < 0 || c.Drop > g.columns[last].Drop) {
				last = k
			}
		}
		if last < 0 {
			return
		}
		g.columns, g.heads = slices.Delete(g.columns, last, last+1), slices.Delete(g.heads, last, last+1)
		for i := range g.rows {
			g.rows[i] = slices.Delete(g.rows[i], last, last+1)
		}
		g.measure() // a head may have reached over it
	}
}

// narrowest is what is left to a column whose cells are broken.
const narrowest = 20

// squeeze narrows columns until the table fits: those first whose head is widest over its cells, then the widest one of
// words.
func (g *grid) squeeze(room int) {
	for over := total(g.widths) - room; over > 0; over-- {
		widest := -1
		for k := range g.columns {
			if g.widths[k] > g.least[k] && (widest < 0 || g.widths[k]-g.least[k] > g.widths[widest]-g.least[widest]) {
				widest = k
			}
		}
		if widest < 0 {
			break
		}
		g.widths[widest]--
	}
	words, most := -1, 0 // the column with most to give
	for k, c := range g.columns {
		if c.Number {
			continue
		}
		g.widths[k] = min(g.widths[k], max(room-4, narrowest)) // a digest's halves have room
		if gives := g.widths[k] - max(g.unbroken(k, room-4), narrowest); gives > most {
			words, most = k, gives
		}
	}
	if over := total(g.widths) - room; over > 0 && words >= 0 {
		g.widths[words] -= min(over, most)
	}
}

// unbroken is the widest that stays whole in a column of words with that room.
func (g *grid) unbroken(k, room int) int {
	widest := 0
	for _, r := range g.rows {
		for _, w := range unbroken(r[k].Text, room) {
			widest = max(widest, visible(w))
		}
	}
	return widest
}

// fold shares the columns out among lines: from where each one begins.
func (g *grid) fold(room int) []int {
	lines, used := []int{0}, 0
	for k, w := range g.widths {
		if used > 0 && used+w+2 > room {
			lines, used = append(lines, k), 2
		}
		used += w + 2
	}
	return append(lines, len(g.widths))
}

// row writes one row on its lines; a cell wider than its column is broken at its blanks.
func (p *printer) row(g *grid, lines []int, row []document.Cell) {
	for n, from := range lines[:len(lines)-1] {
		to, lead := lines[n+1], ""
		if n > 0 {
			lead = "  "
		}
		broken, height := make([][]string, to), 1
		for k := from; k < to; k++ {
			broken[k] = []string{row[k].Text}
			if visible(row[k].Text) > g.widths[k] {
				broken[k] = Wrap(row[k].Text, g.widths[k])
			}
			height = max(height, len(broken[k]))
		}
		for h := range height {
			line := lead
			for k := from; k < to; k++ {
				text := ""
				if h < len(broken[k]) {
					text = broken[k][h]
				}
				pad := strings.Repeat(" ", max(g.widths[k]-visible(text), 0))
				text = p.paint(attributes[row[k].Tone], text)
				if g.columns[k].Number {
					line += "  " + pad + text
				} else {
					line += "  " + text + pad
				}
			}
			if line = strings.TrimRight(line, " "); line != "" {
				p.line("%s", line)
			}
		}
	}
}
