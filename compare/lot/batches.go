package lot

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare/lot/hierarchy"
	"offbeat/fit"
)

// batches splits the boards into groups where they are several: where they change along their order, else two where their times lie in
// two heaps. Who stands out of the lot as a whole hides none, and belongs to the nearer. Nil: they are one.
func (c *Collector) batches(rows []*Row, whole *moved, opt Options) []Batch {
	usual, dimensions := whole.usual(rows), 1
	if len(rows) > 0 && rows[0].predicted[1] > 0 {
		dimensions = 2
	}
	if at := changesAt(pointsOf(usual), dimensions); at != nil {
		var groups [][]*Row
		from, last := []string{""}, 0
		for _, i := range at {
			k := slices.Index(rows, usual[i])
			groups, from, last = append(groups, rows[last:k]), append(from, usual[i].Board), k
		}
		return c.groups(append(groups, rows[last:]), from, opt)
	}
	for _, some := range [2][]*Row{rows, usual} {
		points := pointsOf(some)
		m := twoGroups(points, dimensions)
		if m == nil {
			continue
		}
		var sum [2]point
		var n [2]float64
		member := map[*Row]int{}
		for i, w := range m.member {
			g := int(math.Round(w))
			member[some[i]] = g
			n[g], sum[g] = n[g]+1, point{sum[g][0] + points[i][0], sum[g][1] + points[i][1]}
		}
		var groups [2][]*Row
		for i, p := range pointsOf(rows) {
			g, in := member[rows[i]]
			if off := func(g int) float64 { return math.Hypot(p[0]-sum[g][0]/n[g], p[1]-sum[g][1]/n[g]) }; !in && off(1) < off(0) {
				g = 1
			}
			groups[g] = append(groups[g], rows[i])
		}
		if len(groups[1]) > len(groups[0]) {
			groups[0], groups[1] = groups[1], groups[0]
		}
		return c.groups(groups[:], make([]string, 2), opt)
	}
	return nil
}

// usual are the rows that do not stand out.
func (m *moved) usual(rows []*Row) []*Row {
	out := map[*Row]bool{}
	for _, o := range m.outliers {
		out[o.row] = true
	}
	return slices.DeleteFunc(slices.Clone(rows), func(r *Row) bool { return out[r] })
}

func pointsOf(rows []*Row) []point {
	out := make([]point, len(rows))
	for i, r := range rows {
		out[i] = point{r.times.High, r.times.Low}
	}
	return out
}

// groups judges groups, each by itself; nil where none lies further from the one before than measuring a board resolves.
func (c *Collector) groups(all [][]*Row, from []string, opt Options) []Batch {
	out := make([]Batch, len(all))
	var noise [2]float64
	n := float64(len(slices.Concat(all...)))
	resolves := false
	for g := range out {
		b := &out[g]
		b.rows, b.From = all[g], from[g]
		var own []Row
		for _, r := range b.rows {
			own, b.Boards = append(own, *r), append(b.Boards, r.Board)
			noise[0], noise[1] = noise[0]+r.times.Noise.High/n, noise[1]+r.times.Noise.Low/n
		}
		b.Count = count(own)
		b.moved = c.moved(b.rows, opt)
		b.Parts, b.Causes, b.usual = b.moved.parts, b.moved.causes, b.moved.usual(b.rows)
		mean, _ := momentsOf(pointsOf(b.usual))
		b.High, b.Low = mean[0], mean[1]
	}
	for g := range out[1:] {
		resolves = resolves || math.Abs(out[g].High-out[g+1].High) >= resolved*math.Sqrt(noise[0]) || math.Abs(out[g].Low-out[g+1].Low) >= resolved*math.Sqrt(noise[1])
	}
	if !resolves {
		return nil
	}
	return out
}

// batchWords says what the groups are: which parts would make their differences, by how much, and who they are.
func (r *Report) batchWords(d *fit.Design) string {
	all := r.Batches
	a, b := &all[0], &all[1]
	if b.From == "" {
		return fmt.Sprintf("Two batches are mixed: %s (%s) and %s (%s)%s.", quantity.Plural(len(a.Boards), "board"), few(a.Boards, 3), quantity.Plural(len(b.Boards), "board"), few(b.Boards, 5), unlike(d, a, b, "the second", "the first"))
	}
	var where, many, what []string
	for g := range all {
		many = append(many, quantity.Plural(len(all[g].Boards), "board"))
		if g > 0 {
			where = append(where, "from about "+all[g].From+" on")
			what = append(what, unlike(d, &all[g-1], &all[g], ordinal(g), ordinal(g-1)))
		}
	}
	if len(all) == 2 {
		return fmt.Sprintf("From about %s on the boards are of another batch: %s before, %s from there on%s.", b.From, many[0], many[1], what[0])
	}
	return fmt.Sprintf("The boards are of %d batches, others %s: %s%s.", len(all), strings.Join(where, ", "), strings.Join(many, ", "), strings.Join(what, ""))
}

// ordinal names a batch.
func ordinal(g int) string {
	return "the " + []string{"first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"}[g]
}

// unlike says which parts would make a group's difference from another.
func unlike(d *fit.Design, a, b *Batch, second, first string) string {
	what := ", which no single part makes: the devices may differ"
	for i, p := range difference(d, a, b) {
		if i == 0 {
			what = fmt.Sprintf(", as if %s of %s were %s against %s", p.name, second, quantity.Change(math.Expm1(p.by)), first)
		} else {
			what += fmt.Sprintf(", or %s %s", p.name, quantity.Change(math.Expm1(p.by)))
		}
	}
	return what
}

func few(names []string, most int) string {
	if len(names) > most {
		return strings.Join(names[:most], ", ") + " …"
	}
	return strings.Join(names, ", ")
}

// partBy is a part and by how much it would differ, as a logarithm.
type partBy struct {
	name string
	by   float64
}

const (
	missed = 0.15 // share of a difference that is little to leave over
	fits   = 6    // chi-square that the scatter makes, and that parts may differ by: one degree of freedom, 1.4 %
)

// difference is what single parts would have to differ by to set two groups apart so: each that leaves little over, or no more than the
// boards' own scatter makes, and fits about as well as the best does; the one with the widest tolerance first. Empty: none does it.
func difference(d *fit.Design, a, b *Batch) (all []partBy) {
	m, err := hierarchy.NewModel(d, nil)
	if err != nil {
		return nil
	}
	dh, dl := b.High-a.High, b.Low-a.Low
	size := math.Hypot(dh, dl)
	var hh, hl, ll float64 // scatter of the difference
	na, nb := float64(len(a.usual)), float64(len(b.usual))
	n := max(na+nb-2, 1) / (1/na + 1/nb)
	for _, g := range []*Batch{a, b} {
		for _, r := range g.usual {
			h, l := r.times.High-g.High, r.times.Low-g.Low
			hh, hl, ll = hh+h*h/n, hl+h*l/n, ll+l*l/n
		}
	}
	floor := 1e-12 * size * size
	hh, ll = hh+floor, ll+floor
	det := hh*ll - hl*hl
	product := func(h, l, x, y float64) float64 { return (h*x*ll - (h*y+l*x)*hl + l*y*hh) / det }
	best := math.Inf(1)
	var chi, width []float64
	for _, p := range d.Parts {
		h, l := m.Slope(p.Name)
		s := product(h, l, h, l)
		if h*h+l*l == 0 {
			continue
		}
		x := product(h, l, dh, dl) / s
		rh, rl := dh-x*h, dl-x*l
		if c := product(rh, rl, rh, rl); c < fits || math.Hypot(rh, rl) < missed*size {
			best = min(best, c)
			all, chi, width = append(all, partBy{p.Name, x}), append(chi, c), append(width, max(p.Minus, p.Plus))
		}
	}
	var order []int
	for i := range all {
		if chi[i] <= best+fits {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(width[j], width[i]) })
	out := make([]partBy, len(order))
	for k, i := range order {
		out[k] = all[i]
	}
	return out
}
