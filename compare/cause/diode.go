package cause

import (
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// leastDrop and mostDrop bound the drop of a diode that nobody has drawn, V: a silicon one's (see the families' own).
const leastDrop, mostDrop = 0.45, 0.75

// unmoved is the relative difference that two laws of the same times may have by rounding.
const unmoved = 1e-9

// diode: a diode that the drawing does not hold lies across a part, either way round, where it changes the times.
var diode = Cause{
	Name:  "diode",
	Key:   "diode",
	Parts: 1,
	Odds:  []Row{{"", 0.005, 0.002, "a drawing of another version, a slip, or someone's change: as often as a bridge on a new board (common practice)"}},
	Shows: []Show{
		{"inspection", "", 0.9, "a part that is not drawn is plain to see (common practice)"},
	},
	Words: Words{
		Kind:  "a diode that is not drawn",
		Title: "a diode across %s that is not drawn",
		Detail: func(s *Said) string {
			from, to := s.Parameters[1].Name, s.Parameters[2].Name
			if s.Values[1] < 0 {
				from, to = to, from
			}
			return "conducting from " + from + " to " + to
		},
		Curve:   "diode across %s",
		Lot:     "the boards have a diode across %s that is not drawn",
		Retune:  "the likeliest cause is a diode that is not drawn: take it out first, or draw it, then tune",
		Repair:  "Take the diode across %s out, or draw it",
		Form:    "a silicon diode, drop 0.45 … 0.75 V, across a part, either way round as often, where the board runs with it and it changes the times; the parts in tolerance",
		Meaning: "A diode lies across a part that the drawing does not hold: a board of another version, a slip, someone's change. It carries the charge or the discharge past a resistor, so that one half-cycle is shorter.",
		Also:    []string{"surplus diode", "extra diode"},
		See:     []string{"missing", "reversed"},
	},
	Cases: func(b *Board) (all []Case) {
		v, err := b.Circuit.Typical(b.Design)
		if err != nil {
			return nil
		}
		v[circuit.Surplus] = (leastDrop + mostDrop) / 2
		high, low, _ := b.Circuit.Times(&v)
		for i, p := range b.Parts {
			for _, turned := range []bool{false, true} {
				if b.Circuit.Parts[i].Idle {
					continue
				}
				k, why, err := b.Circuit.Across(p.Name, turned, &v)
				if k = b.asked(k, why, err, &v); k == nil {
					continue
				}
				h, l, runs := k.Times(&v)
				if runs && math.Abs(h/high-1) < unmoved && math.Abs(l/low-1) < unmoved { // it never conducts
					continue
				}
				out := Case{Parts: []string{p.Name}, Share: 0.5, Hypothesis: posterior.Hypothesis{Prior: b.Loose(), Circuit: k}, Parameters: b.drop(p.Name, turned)}
				if runs {
					out.Override = []posterior.Variable{{Slot: circuit.Surplus, Density: posterior.Uniform(leastDrop, mostDrop)}}
				}
				all = append(all, out)
			}
		}
		return all
	},
}

// drop are the diode's drop, and which way it conducts: 1 from the node named first to the other one, -1 back.
func (b *Board) drop(part string, turned bool) []*Parameter {
	ends, way := b.ends(part), 1.0
	if turned {
		way = -1
	}
	return []*Parameter{term("diode across "+part, "V", circuit.Surplus), {ends[0], "1", 0, func(*circuit.Values) float64 { return way }}, {ends[1], "1", 0, func(*circuit.Values) float64 { return way }}}
}

// ends are the nodes of a part's first and last end.
func (b *Board) ends(part string) [2]string {
	for _, c := range b.Circuit.Wiring.Cards {
		if c.Name == part {
			return [2]string{c.Nodes[0], c.Nodes[len(c.Nodes)-1]}
		}
	}
	return [2]string{}
}
