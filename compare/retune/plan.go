package retune

import (
	"slices"

	"offbeat/fit"
	"offbeat/fit/circuit"
)

// how is what happens to one part.
type how int

const (
	replace     how = iota // out, one or two new ones in
	addSeries              // it stays, one more in series
	addParallel            // it stays, one more across it
	trim                   // out, a fixed part in series with a trimmer in, set by the first quantity of the target
	turn                   // a potentiometer stays and is set likewise
)

// component is a part to buy or to take from stock.
type component struct {
	value       float64 // ohm or farad; of a trimmer its full travel
	minus, plus float64 // relative tolerance
	rank        int     // of the coarsest series that has it, 0 for E12; stock: 0
	stock       int     // index of the item plus 1; 0: not from stock
}

// drawn is the component's actual value for a chance in 0 … 1 (rectangular, JCGM 100 4.3.7).
func (c component) drawn(chance float64) float64 {
	return c.value * (1 - c.minus + chance*(c.minus+c.plus))
}

// move is what happens to one part, with the components for it.
type move struct {
	part     int
	how      how
	topology topology    // of two components in the place of one
	parts    []component // none: still a plan
}

// takesOut says whether the present part goes.
func (m *move) takesOut() bool { return m.how == replace || m.how == trim }

// adjusts says whether the first quantity of the target is set by hand: the first component is fixed, the second is
// the travel.
func (m *move) adjusts() bool { return m.how == trim || m.how == turn }

// topology is how two parts are joined.
type topology string

const (
	inSeries   topology = "series"
	inParallel topology = "parallel"
)

// adds says whether the values of two parts add when they are so joined, else their reciprocals do.
func (how topology) adds(kind fit.PartKind) bool { return (kind == fit.Resistor) == (how == inSeries) }

// join is the value of two parts together.
func join(kind fit.PartKind, how topology, a, b float64) float64 {
	if how.adds(kind) {
		return a + b
	}
	return a * b / (a + b)
}

// value is the part's value after the move; a trimmer counts as set to the middle of its travel.
func (m *move) value(kind fit.PartKind, present float64, chance []float64) float64 {
	first := m.parts[0].drawn(chance[0])
	switch {
	case m.how == addSeries:
		return join(kind, inSeries, present, first)
	case m.how == addParallel:
		return join(kind, inParallel, present, first)
	case len(m.parts) == 1:
		return first
	case m.adjusts():
		return first + m.parts[1].drawn(chance[1])/2
	}
	return join(kind, m.topology, first, m.parts[1].drawn(chance[1]))
}

// candidate is one whole proposal: moves of different parts, or the two resistors exchanged; neither: no change.
type candidate struct {
	moves    []move
	exchange bool
}

// after writes the board with the candidate's parts in into v.
func (t *tuner) after(v *circuit.Values, b *board, k *candidate) {
	*v = b.values
	if len(k.moves) == 0 && !k.exchange {
		return
	}
	t.circuit.Change(v, func(v *circuit.Values) {
		if k.exchange {
			r := t.circuit.Resistors()
			v[r[0]], v[r[1]] = v[r[1]], v[r[0]]
		}
		for i := range k.moves {
			m := &k.moves[i]
			kind := t.circuit.Parts[m.part].Kind
			v[m.part] = m.value(kind, v[m.part], b.chance[i*perMove:])
			if kind == fit.Capacitor && m.takesOut() {
				v[circuit.LeakRatio] = 0
			}
		}
	})
}

// modes lists what may happen to a part of a kind. In series with a capacitor another one would leave the node
// between the two to their leaks, so that is no repair.
var modes = map[fit.PartKind][]how{
	fit.Resistor:  {replace, addSeries, addParallel, trim},
	fit.Capacitor: {replace, addParallel},
}

// modesOf lists what may happen to a part of the design: a potentiometer may be turned too.
func (t *tuner) modesOf(part int) []how {
	if p := t.parts[part]; p.Track.Value > 0 {
		return append([]how{turn}, modes[p.Kind]...)
	}
	return modes[t.parts[part].Kind]
}

// plans lists which parts change and how: every part alone and, where the target has several quantities, every pair.
func (t *tuner) plans() [][]move {
	var out [][]move
	for i := range t.circuit.Parts {
		for _, a := range t.modesOf(i) {
			out = append(out, []move{{part: i, how: a}})
			if len(t.targets) < 2 {
				continue
			}
			for k := range i {
				for _, b := range t.modesOf(k) {
					first, second := move{part: i, how: a}, move{part: k, how: b}
					if !first.adjusts() || !second.adjusts() {
						out = append(out, []move{first, second})
					}
				}
			}
		}
	}
	return out
}

// changesResistor says whether a candidate puts another resistance on the board.
func (t *tuner) changesResistor(k *candidate) bool {
	return k.exchange || slices.ContainsFunc(k.moves, func(m move) bool { return t.circuit.Parts[m.part].Kind == fit.Resistor })
}
