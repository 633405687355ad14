package comparetest

import (
	"slices"
	"strings"
)

// cards are a wiring's text, a card a line, the device among them: what a fault does to a board is done to its drawing.
type cards [][]string

func cardsOf(text string) cards {
	var all cards
	for line := range strings.Lines(text) {
		line, _, _ = strings.Cut(line, "#")
		if f := strings.Fields(line); len(f) > 0 {
			all = append(all, f)
		}
	}
	return all
}

func (all cards) text() string {
	var b strings.Builder
	for _, c := range all {
		b.WriteString(strings.Join(c, " ") + "\n")
	}
	return b.String()
}

func (all cards) clone() cards {
	out := make(cards, len(all))
	for i, c := range all {
		out[i] = slices.Clone(c)
	}
	return out
}

// card is the one of that name.
func (all cards) card(name string) []string {
	return all[slices.IndexFunc(all, func(c []string) bool { return c[0] == name })]
}

// without leaves a card out, and what then hangs in the air by one end; a track that hangs so is tied back to its wiper,
// which no current knows of.
func (all cards) without(name string) cards {
	out := slices.DeleteFunc(all.clone(), func(c []string) bool { return c[0] == name })
	for {
		at, node := -1, ""
		for i, c := range out {
			for _, n := range c[1:] {
				if c[0][0] != 'U' && out.ends(n) == 1 {
					at, node = i, n
				}
			}
		}
		switch {
		case at < 0:
			return out
		case len(out[at]) == 4 && node != out[at][2]:
			out = append(out, []string{idleResistor, node, out[at][2]})
		default:
			out = slices.Delete(out, at, at+1)
		}
	}
}

// pins of a timer have nodes of their own name where its card names no other.
var pins = []string{"discharge", "control", "output", "threshold", "trigger"}

// ends counts what is on a node.
func (all cards) ends(node string) int {
	n := 0
	for _, c := range all {
		for _, word := range c[1:] {
			if word == node || strings.HasSuffix(word, "="+node) {
				n++
			}
		}
	}
	if slices.Contains(append([]string{"ground", "supply", "minus", "middle"}, pins...), node) {
		n += 2
	}
	return n
}

// renamed puts one node in another's place, pins and all.
func (all cards) renamed(from, to string) cards {
	out := all.clone()
	for _, c := range out {
		for i, word := range c[1:] {
			pin, node, named := strings.Cut(word, "=")
			switch {
			case word == from:
				c[i+1] = to
			case named && node == from:
				c[i+1] = pin + "=" + to
			}
		}
	}
	if device := out[0]; slices.Contains(pins, from) && device[1] == "timer" || from == "output" {
		if !slices.ContainsFunc(device, func(w string) bool { return strings.HasPrefix(w, from+"=") }) {
			out[0] = append(device, from+"="+to)
		}
	}
	return out
}

// joined makes a card's nodes one, as solder does; nil where all of them are held.
func (all cards) joined(name string) cards {
	nodes := slices.Clone(all.card(name)[1:])
	held := func(n string) bool { return slices.Contains([]string{"ground", "supply", "minus", "middle"}, n) }
	slices.SortStableFunc(nodes, func(a, b string) int {
		switch {
		case held(a) && !held(b):
			return -1
		case held(b) && !held(a):
			return 1
		}
		return 0
	})
	out := all
	for _, n := range nodes[1:] {
		if held(n) && n != nodes[0] {
			return nil
		}
		if n != nodes[0] {
			out = out.renamed(n, nodes[0])
		}
	}
	return slices.DeleteFunc(out.clone(), func(c []string) bool {
		return c[0][0] != 'U' && !slices.ContainsFunc(c[1:], func(n string) bool { return n != c[1] })
	})
}

// turned sets a diode the other way round.
func (all cards) turned(name string) cards {
	out := all.clone()
	slices.Reverse(out.card(name)[1:])
	return out
}

// beside puts a diode across a part, either way round; nil where the drawing has one there.
func (all cards) beside(name string, turned bool) cards {
	c := all.card(name)
	d := []string{faultyDiode, c[1], c[len(c)-1]}
	if turned {
		slices.Reverse(d[1:])
	}
	if d[1] == d[2] || slices.ContainsFunc(all, func(c []string) bool { return c[0][0] == 'D' && slices.Equal(c[1:], d[1:]) }) {
		return nil
	}
	return append(all.clone(), d)
}

// The cards of a fault's own resistance, capacitance or diode, and of a resistor that carries no current.
const faultyResistor, faultyCapacitor, faultyDiode, idleResistor = "R999", "C999", "D999", "R998"

// across puts a resistance beside a part.
func (all cards) across(name string) cards {
	c := all.card(name)
	return append(all.clone(), []string{faultyResistor, c[1], c[2]})
}

// inSeries puts a resistance between a node and the part on it.
func (all cards) inSeries(name, node string) cards {
	out := all.clone()
	c := out.card(name)
	c[slices.Index(c, node)] = "joint"
	return append(out, []string{faultyResistor, node, "joint"})
}

// toGround puts a capacitance from a node to ground.
func (all cards) toGround(node string) cards {
	return append(all.clone(), []string{faultyCapacitor, node, "ground"})
}

// behindPin puts a resistance between the discharge pin and its node.
func (all cards) behindPin() cards {
	out := all.renamed("discharge", "outside")
	out[0] = slices.DeleteFunc(out[0], func(w string) bool { return strings.HasPrefix(w, "discharge=") })
	return append(out, []string{faultyResistor, "discharge", "outside"})
}
