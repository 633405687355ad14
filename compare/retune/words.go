package retune

import (
	"fmt"
	"math"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/caution"
	"offbeat/fit"
)

// short writes a value as a schematic does: "48.7k", "100n", "470".
func short(x float64, kind fit.PartKind) string {
	unit := kind.Unit()
	text := strings.TrimSuffix(quantity.Format(x, unit), unit.Symbol())
	return strings.ReplaceAll(strings.TrimSpace(text), " ", "")
}

var signs = map[topology]string{inSeries: " + ", inParallel: " || "}

// words describes a move; setting is the trimmer's, NaN where unknown.
func (t *tuner) words(m move, setting float64) string {
	p := t.parts[m.part]
	first := short(m.parts[0].value, p.Kind)
	switch {
	case m.how == addSeries:
		return p.Name + signs[inSeries] + first
	case m.how == addParallel:
		return p.Name + signs[inParallel] + first
	case m.how == turn:
		return fmt.Sprintf("turned to about %.0f %% of its travel", 100*setting)
	case m.how == trim:
		return fmt.Sprintf("%s + %s trimmer, at about %.0f %% of its travel", first, short(m.parts[1].value, p.Kind), 100*setting)
	case len(m.parts) == 2:
		return first + signs[m.topology] + short(m.parts[1].value, p.Kind)
	}
	return first
}

// changes describes a candidate. A part's value with the new ones in is the median over the boards.
func (t *tuner) changes(view []board, k *candidate, setting float64) []compare.Change {
	out := []compare.Change{}
	add := func(part int, fit string) *compare.Change {
		unit := t.parts[part].Kind.Unit().InJSON()
		out = append(out, compare.Change{Part: t.parts[part].Name, Fit: fit, Value: t.median(view, k, part, setting), Unit: unit})
		return &out[len(out)-1]
	}
	if k.exchange {
		r := t.circuit.Resistors()
		for i, part := range r {
			add(part, fmt.Sprintf("the part now fitted as %s", t.parts[r[1-i]].Name))
		}
	}
	for _, m := range k.moves {
		c := add(m.part, t.words(m, setting))
		if m.adjusts() && !math.IsNaN(setting) {
			c.Setting = &setting
		}
	}
	return out
}

// median is what a part then is, at the middle of its new components' tolerances.
func (t *tuner) median(view []board, k *candidate, part int, setting float64) float64 {
	var x []float64
	for i := range view {
		if view[i].unmodelled {
			continue
		}
		t.middling.values = view[i].values
		t.after(&t.work, &t.middling, k)
		x = append(x, t.work[part])
	}
	for _, m := range k.moves {
		if m.part == part && m.adjusts() && !math.IsNaN(setting) {
			return m.parts[0].value + setting*m.parts[1].value
		}
	}
	return middle(x)
}

// cautions says what to mind before the change.
func (t *tuner) cautions(k *candidate) string {
	if len(k.moves) == 0 && !k.exchange {
		return ""
	}
	if len(k.moves) == 1 && k.moves[0].how == turn {
		return caution.Live
	}
	out, capacitor := caution.Add, false
	for _, m := range k.moves {
		if m.takesOut() {
			out = caution.Change
		}
		capacitor = capacitor || t.parts[m.part].Kind == fit.Capacitor
	}
	if k.exchange {
		out = caution.Change
	}
	if capacitor && out == caution.Change {
		out += " " + caution.Polarity
	}
	return out
}

// serious is the probability from which a cause is worth the warning.
const serious = 0.2

// Warnings say where a change of parts would hide a cause rather than cure it, and what no part can help; f may be nil, where
// no board was measured.
func Warnings(d *fit.Design, f *compare.Finding) []string {
	out := []string{}
	if text := Beyond(d); text != "" {
		out = append(out, text)
	}
	if f == nil {
		return out
	}
	for i, c := range f.Causes {
		if text := cause.Hides(c.Cause, c.Parts); text != "" && c.Probability >= serious {
			if i > 0 {
				text = strings.Replace(text, "the likeliest cause", "a cause that is not excluded", 1)
			}
			out = append(out, text)
		}
	}
	return out
}
