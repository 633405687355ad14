package circuit

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"offbeat/fit"
)

// Tolerances of what the times fix.
const (
	rankTolerance  = 1e-6 // what is left of a row below this share of the longest counts as zero
	exactTolerance = 1e-5 // of a gradient's length that may lie outside the times' own
	nudge          = 1e-4 // relative change of a part for a sensitivity
	mostAtomParts  = 3    // parts in a sum
)

// atom is what a group is made of: a part, a sum of parts in series, two such side by side, capacitors side by side.
type atom struct {
	name  string
	parts []int // with repetitions
	ohm   bool  // else farad
	of    func(v *Values) float64
	plain bool // one part
	// d ln(of) over d ln(part), at the nominals and at the points about them.
	gradients [][]float64
}

// side is the atom's name beside others.
func (a *atom) side() string {
	if a.plain {
		return a.name
	}
	return "(" + a.name + ")"
}

// gradient is d ln of the atom over d ln of each part, at v.
func (a *atom) gradient(v Values, parts int) []float64 {
	g := make([]float64, parts)
	for _, i := range a.parts {
		x := v[i]
		v[i] = x * (1 + nudge)
		up := a.of(&v)
		v[i] = x * (1 - nudge)
		g[i] = math.Log(up/a.of(&v)) / (math.Log1p(nudge) - math.Log1p(-nudge))
		v[i] = x
	}
	return g
}

// sensitivities are the rows d ln(high) and d ln(low) over d ln(part) at v; of one pulse the first alone.
func (c *Circuit) sensitivities(v *Values) ([][]float64, bool) {
	rows := [][]float64{make([]float64, len(c.Parts))}
	if !c.OnePulse {
		rows = append(rows, make([]float64, len(c.Parts)))
	}
	per := math.Log1p(nudge) - math.Log1p(-nudge)
	for i := range c.Parts {
		if c.Parts[i].Idle {
			continue
		}
		up, down := *v, *v
		up[i] *= 1 + nudge
		down[i] *= 1 - nudge
		h1, l1, ok1 := c.Times(&up)
		h0, l0, ok0 := c.Times(&down)
		if !ok0 || !ok1 {
			return nil, false
		}
		rows[0][i] = math.Log(h1/h0) / per
		if !c.OnePulse {
			rows[1][i] = math.Log(l1/l0) / per
		}
	}
	return rows, true
}

// span is an orthonormal basis of the rows of two or one: as many as their rank.
func span(rows [][]float64) [][]float64 {
	first, second := 0, 1
	if len(rows) == 2 && floats.Norm(rows[1], 2) > floats.Norm(rows[0], 2) {
		first, second = 1, 0
	}
	size := floats.Norm(rows[first], 2)
	if size == 0 {
		return nil
	}
	basis := [][]float64{unit(slices.Clone(rows[first]))}
	if len(rows) == 2 {
		if rest, left := outside(rows[second], basis); left > rankTolerance*size {
			basis = append(basis, unit(rest))
		}
	}
	return basis
}

func unit(a []float64) []float64 {
	floats.Scale(1/floats.Norm(a, 2), a)
	return a
}

// outside is what of a vector lies outside an orthonormal basis, and its length.
func outside(g []float64, basis [][]float64) ([]float64, float64) {
	r := slices.Clone(g)
	for _, b := range basis {
		floats.AddScaled(r, -floats.Dot(r, b), b)
	}
	return r, floats.Norm(r, 2)
}

// fix finds what the times pin down with no assumption about the parts, from the sensitivities at the values v: products and
// quotients that are exact, and where none is left the half-cycles' own laws near v.
func (c *Circuit) fix(v Values) (groups []Group, first []int) {
	for _, s := range []Slot{DelayFall, DelayRise, Bias, OtherBias, SwitchResistance, LeakRatio, WeakRatio} {
		v[s] = 0
	}
	rng := rand.New(rand.NewPCG(0x67726f75, 0x70730000))
	var points []Values
	var spans [][][]float64
	var rows [][]float64
	for k := range 4 {
		at := v
		if k > 0 {
			for i := range c.Parts {
				at[i] *= 0.85 + 0.3*rng.Float64()
			}
		}
		here, ok := c.sensitivities(&at)
		if !ok {
			return nil, nil
		}
		if k == 0 {
			rows = here
		}
		points, spans = append(points, at), append(spans, span(here))
	}
	rank := len(spans[0])
	first = independent(rows)
	var found [][]float64 // an orthonormal basis of what the groups fix
	ohms, farads := c.atoms(points)
	take := func(unitOf string, until int) {
		for _, long := range []bool{false, true} {
			if len(found) >= until {
				return
			}
			for _, k := range candidates(ohms, farads, unitOf, long, rows[len(rows)-1]) {
				if len(found) >= until {
					return
				}
				if !k.exact(spans) {
					continue
				}
				rest, left := outside(k.gradient(0), found)
				if left < 1e-3 {
					continue
				}
				found = append(found, unit(rest))
				groups = append(groups, Group{Name: k.name(), Unit: unitOf, Of: k.of})
			}
		}
	}
	take("s", min(1, rank))
	take("1", rank)
	take("s", rank)
	for i, name := range []string{"high_time", "low_time"} {
		if len(found) == rank || i == len(rows) {
			break
		}
		if rest, left := outside(rows[i], found); left > exactTolerance*floats.Norm(rows[i], 2) {
			found = append(found, unit(rest))
			groups = append(groups, c.near(name, i, rows[i], v))
		}
	}
	return groups, first
}

// near is a half-cycle's own law near the values v: a product of powers of the parts.
func (c *Circuit) near(name string, half int, powers []float64, v Values) Group {
	high, low, _ := c.Times(&v)
	at := []float64{high, low}[half]
	g := Group{Name: name, Unit: "s", Near: map[string]float64{}}
	for i, p := range powers {
		if math.Abs(p) > rankTolerance {
			g.Near[c.Parts[i].Name] = p
		}
	}
	g.Of = func(w *Values) float64 {
		x := 0.0
		for i, p := range powers {
			if p != 0 {
				x += p * math.Log(w[i]/v[i])
			}
		}
		return at * math.Exp(x)
	}
	return g
}

// independent are the first parts whose columns have the rank, in the order of the parts, resistors ahead.
func independent(rows [][]float64) []int {
	var out []int
	var basis [][]float64
	for i := range rows[0] {
		col := make([]float64, len(rows))
		for k := range rows {
			col[k] = rows[k][i]
		}
		if rest, left := outside(col, basis); left > 1e-3 {
			out, basis = append(out, i), append(basis, unit(rest))
		}
	}
	return out
}

// candidate is a product and quotient of atoms.
type candidate struct {
	over, under []*atom
	weight      [2]int // parts, and those that the discharge runs through: the plainest is the least
}

func (k *candidate) all() []*atom { return append(slices.Clone(k.over), k.under...) }

func (k *candidate) of(v *Values) float64 {
	x := 1.0
	for _, a := range k.over {
		x *= a.of(v)
	}
	for _, a := range k.under {
		x /= a.of(v)
	}
	return x
}

// gradient is d ln of the candidate over d ln of each part, at a point.
func (k *candidate) gradient(point int) []float64 {
	g := make([]float64, len(k.over[0].gradients[point]))
	for _, a := range k.over {
		floats.Add(g, a.gradients[point])
	}
	for _, a := range k.under {
		floats.Sub(g, a.gradients[point])
	}
	return g
}

// exact says whether the times fix the candidate, at the nominals and about them; one that is the same whatever the parts
// are tells nothing.
func (k *candidate) exact(spans [][][]float64) bool {
	for i := range spans {
		g := k.gradient(i)
		size := floats.Norm(g, 2)
		if _, left := outside(g, spans[i]); size < 1e-3 || left > exactTolerance*size {
			return false
		}
	}
	return true
}

// name writes a candidate: a single part ahead of a sum, resistors ahead of capacitors.
func (k *candidate) name() string {
	write := func(list []*atom) string {
		sorted := slices.Clone(list)
		slices.SortStableFunc(sorted, func(a, b *atom) int {
			rank := func(a *atom) int { return map[bool]int{false: 2}[a.plain] + map[bool]int{false: 1}[a.ohm] }
			return cmp.Compare(rank(a), rank(b))
		})
		names := make([]string, len(sorted))
		for i, a := range sorted {
			names[i] = a.side()
		}
		return strings.Join(names, "*")
	}
	text := write(k.over)
	switch len(k.under) {
	case 0:
		return text
	case 1:
		return text + "/" + write(k.under)
	}
	return text + "/(" + write(k.under) + ")"
}

// atoms lists what groups may be made of, with their gradients at the points.
func (c *Circuit) atoms(points []Values) (ohms, farads []*atom) {
	var r, caps []int
	for i, p := range c.Parts {
		switch {
		case p.Idle:
		case p.Kind == fit.Resistor:
			r = append(r, i)
		default:
			caps = append(caps, i)
		}
	}
	sum := func(parts []int, ohm bool) *atom {
		parts = slices.Clone(parts)
		names := make([]string, len(parts))
		for k, i := range parts {
			names[k] = c.Parts[i].Name
		}
		return &atom{strings.Join(names, "+"), parts, ohm, func(v *Values) float64 {
			s := 0.0
			for _, i := range parts {
				s += v[i]
			}
			return s
		}, len(parts) == 1, nil}
	}
	var grow func(list, from []int, ohm bool, out *[]*atom)
	grow = func(list, from []int, ohm bool, out *[]*atom) {
		for k, i := range from {
			if ohm && len(list) > 0 && !slices.ContainsFunc(list, func(j int) bool { return c.shares(i, j) }) {
				continue
			}
			longer := append(slices.Clone(list), i)
			*out = append(*out, sum(longer, ohm))
			if len(longer) < mostAtomParts {
				grow(longer, from[k+1:], ohm, out)
			}
		}
	}
	grow(nil, r, true, &ohms)
	grow(nil, caps, false, &farads)
	series := slices.Clone(ohms)
	for k, a := range series {
		for _, b := range series[:k] {
			if slices.ContainsFunc(a.parts, func(i int) bool { return slices.Contains(b.parts, i) }) ||
				!slices.ContainsFunc(a.parts, func(i int) bool { return slices.ContainsFunc(b.parts, func(j int) bool { return c.shares(i, j) }) }) {
				continue
			}
			ohms = append(ohms, &atom{b.side() + "||" + a.side(), append(slices.Clone(b.parts), a.parts...), true, func(v *Values) float64 {
				x, y := a.of(v), b.of(v)
				return x * y / (x + y)
			}, false, nil})
		}
	}
	for _, a := range slices.Concat(ohms, farads) {
		for k := range points {
			a.gradients = append(a.gradients, a.gradient(points[k], len(c.Parts)))
		}
	}
	return ohms, farads
}

// shares says whether two parts have a node in common.
func (c *Circuit) shares(i, j int) bool {
	a, b := c.Wiring.Card(c.Parts[i].Name), c.Wiring.Card(c.Parts[j].Name)
	return slices.ContainsFunc(a.Nodes, func(n string) bool { return slices.Contains(b.Nodes, n) })
}

// candidates lists the products and quotients of a dimension, of two atoms or with long of up to four, the plainest first:
// by parts, then those whose parts the discharge runs through, to which that row belongs.
func candidates(ohms, farads []*atom, unit string, long bool, row []float64) []*candidate {
	var out []*candidate
	add := func(over []*atom, under ...*atom) {
		k := &candidate{over: over, under: under}
		all := k.all()
		for i, a := range all {
			if slices.Contains(all[:i], a) {
				return
			}
			k.weight[0] += len(a.parts)
			for _, p := range a.parts {
				if math.Abs(row[p]) > rankTolerance {
					k.weight[1]--
				}
			}
		}
		out = append(out, k)
	}
	if long {
		ohms, farads = few(ohms), few(farads)
	}
	switch {
	case unit == "s" && !long:
		for _, r := range ohms {
			for _, f := range farads {
				add([]*atom{r, f})
			}
		}
	case !long:
		for _, list := range [][]*atom{ohms, farads} {
			for i, a := range list {
				for _, b := range list[i+1:] {
					add([]*atom{a}, b)
				}
			}
		}
	default:
		quotients(ohms, farads, unit, add)
	}
	slices.SortStableFunc(out, func(a, b *candidate) int { return slices.Compare(a.weight[:], b.weight[:]) })
	return out
}

// few keeps atoms of at most two parts, and not more of them than can be combined four at a time: what is longer nobody
// reads.
func few(list []*atom) []*atom {
	out := slices.DeleteFunc(slices.Clone(list), func(a *atom) bool { return len(a.parts) > 2 })
	return out[:min(len(out), 10)]
}

// quotients adds what has a quotient of two resistances in it, or is one of products.
func quotients(ohms, farads []*atom, unit string, add func(over []*atom, under ...*atom)) {
	for i, a := range ohms {
		for j, b := range ohms {
			for _, x := range ohms[i+1:] {
				if unit == "s" {
					for _, f := range farads {
						add([]*atom{a, x, f}, b)
					}
					continue
				}
				for _, y := range ohms[j+1:] {
					add([]*atom{a, x}, b, y)
				}
			}
			for k, f := range farads {
				for _, g := range farads[k+1:] {
					if unit != "s" {
						add([]*atom{a, f}, b, g)
					}
				}
			}
		}
	}
}

// Sets says which parts set the high time and which the low time, where no part has a bearing on both, as in a
// multivibrator whose halves have each an RC of their own: "R1 and C1 set the high time, R2 and C2 the low time". Empty
// where some part moves both, a single pulse is all there is, or the board does not run at v.
func (c *Circuit) Sets(v *Values) string {
	rows, ok := c.sensitivities(v)
	if !ok || c.OnePulse {
		return ""
	}
	var sets [2][]string
	for i, p := range c.Parts {
		moves := [2]bool{math.Abs(rows[0][i]) > rankTolerance, math.Abs(rows[1][i]) > rankTolerance}
		if moves[0] && moves[1] {
			return ""
		}
		for k := range moves {
			if moves[k] {
				sets[k] = append(sets[k], p.Name)
			}
		}
	}
	if len(sets[0]) == 0 || len(sets[1]) == 0 {
		return ""
	}
	return strings.Join(sets[0], " and ") + " set the high time, " + strings.Join(sets[1], " and ") + " the low time"
}
