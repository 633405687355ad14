package wiring

import (
	"fmt"
	"slices"
	"strings"
)

// Without is the wiring with a card left out, as on a board that lacks the part. What that leaves loose stays.
func (w *Wiring) Without(name string) (*Wiring, error) {
	return w.change(name, func(cards []Card, i int) ([]Card, map[string]string, error) {
		return slices.Delete(cards, i, i+1), nil, nil
	})
}

// Bridged is the wiring with a card's nodes joined, as by solder across the part. Nodes that are both held cannot be.
func (w *Wiring) Bridged(name string) (*Wiring, error) {
	return w.change(name, func(cards []Card, i int) ([]Card, map[string]string, error) {
		c := cards[i]
		into := slices.IndexFunc(c.Nodes, w.IsHeld)
		if into < 0 {
			into = 0
		}
		joined := map[string]string{}
		for _, n := range c.Nodes {
			if n == c.Nodes[into] {
				continue
			}
			if w.IsHeld(n) {
				return nil, nil, fmt.Errorf("%s lies between %s and %s, which are both held at a voltage", c.Name, n, c.Nodes[into])
			}
			joined[n] = c.Nodes[into]
		}
		return slices.Delete(cards, i, i+1), joined, nil
	})
}

// With is the wiring with cards added, and with further nodes that a source holds.
func (w *Wiring) With(added []Card, held []string) *Wiring {
	out := *w
	out.Cards = slices.Clone(w.Cards)
	out.Cards = append(out.Cards, added...)
	out.Held = slices.Concat(w.Held, held)
	out.separate()
	out.settle()
	return &out
}

// Loose says whether a part or a source can be put between the node and ground: an *Error says why not.
func (w *Wiring) Loose(node string) error {
	free := slices.DeleteFunc(slices.Clone(w.Nodes), w.IsHeld)
	want := "one of the nodes " + strings.Join(free, ", ")
	switch n, ok := w.Node(node); {
	case !ok:
		return &Error{What: "nothing is tied to a node " + quoted(node), Want: want}
	case w.IsHeld(n):
		return &Error{What: "the node " + n + " is held at a voltage, so that what hangs on it changes nothing", Want: want}
	}
	return nil
}

// Reversed is the wiring with a diode the other way round.
func (w *Wiring) Reversed(name string) (*Wiring, error) {
	return w.change(name, func(cards []Card, i int) ([]Card, map[string]string, error) {
		if cards[i].Kind != Diode {
			return nil, nil, fmt.Errorf("%s is a %v; expected a diode", name, cards[i].Kind)
		}
		slices.Reverse(cards[i].Nodes)
		return cards, nil, nil
	})
}

// Crossed is the wiring with its comparator's inputs exchanged; nil where the device is none.
func (w *Wiring) Crossed() *Wiring {
	if w.Device.Kind != Comparator {
		return nil
	}
	out := *w
	out.Device.Pins = slices.Clone(w.Device.Pins)
	for i, p := range out.Device.Pins {
		switch p.Name {
		case PinPlus:
			out.Device.Pins[i].Node = w.Device.Node(PinMinus)
		case PinMinus:
			out.Device.Pins[i].Node = w.Device.Node(PinPlus)
		}
	}
	return &out
}

// Surplus is the name of a diode that no drawing holds; no part's name.
const Surplus = " diode"

// Across is the wiring with a diode more, across a card's ends: its anode at the first or, turned, at the last. Where the drawing has
// one there, that is an error.
func (w *Wiring) Across(name string, turned bool) (*Wiring, error) {
	return w.change(name, func(cards []Card, i int) ([]Card, map[string]string, error) {
		ends := []string{cards[i].Nodes[0], cards[i].Nodes[len(cards[i].Nodes)-1]}
		if turned {
			slices.Reverse(ends)
		}
		if ends[0] == ends[1] || slices.ContainsFunc(cards, func(c Card) bool { return c.Kind == Diode && slices.Equal(c.Nodes, ends) }) {
			return nil, nil, fmt.Errorf("a diode from %s to %s changes nothing", ends[0], ends[1])
		}
		return append(cards, Card{Name: Surplus, Kind: Diode, Nodes: ends}), nil, nil
	})
}

// Tie is a text that the wirings of one board share where the same parts, with a bearing on the times, are tied alike.
func (w *Wiring) Tie() string {
	cards := slices.Clone(w.Cards)
	for {
		// What hangs on a node by one end alone carries no current.
		ends := map[string]int{}
		for _, c := range cards {
			for _, n := range c.Nodes {
				ends[n]++
			}
		}
		for _, p := range w.Device.Pins {
			ends[p.Node] += 2
		}
		n := len(cards)
		cards = slices.DeleteFunc(cards, func(c Card) bool {
			return w.Idle(&c) || len(c.Nodes) == 2 && slices.ContainsFunc(c.Nodes, func(n string) bool { return !w.IsHeld(n) && ends[n] < 2 })
		})
		if len(cards) == n {
			break
		}
	}
	var b strings.Builder
	number := map[string]int{} // a bridge leaves either of two names
	write := func(n string) {
		k, met := number[n]
		if !met {
			k = len(number)
			number[n] = k
		}
		fmt.Fprint(&b, " ", k)
	}
	for _, h := range w.Held {
		write(h)
	}
	for _, p := range w.Device.Pins {
		write(p.Node)
	}
	for _, c := range cards {
		b.WriteString("\n" + c.Name)
		for _, n := range c.Nodes {
			write(n)
		}
	}
	return b.String()
}

// change is a copy of the wiring with its cards changed and nodes renamed. It is still meant to run as it did.
func (w *Wiring) change(name string, do func(cards []Card, i int) ([]Card, map[string]string, error)) (*Wiring, error) {
	out := *w
	out.Cards = slices.Clone(w.Cards)
	for i := range out.Cards {
		out.Cards[i].Nodes = slices.Clone(out.Cards[i].Nodes)
	}
	i := slices.IndexFunc(out.Cards, func(c Card) bool { return c.Name == name })
	if i < 0 {
		return nil, fmt.Errorf("the wiring has no part %q", name)
	}
	cards, joined, err := do(out.Cards, i)
	if err != nil {
		return nil, err
	}
	rename := func(n string) string {
		if m, ok := joined[n]; ok {
			return m
		}
		return n
	}
	for i := range cards {
		for k, n := range cards[i].Nodes {
			cards[i].Nodes[k] = rename(n)
		}
	}
	// What a bridge has shorted is no part of it any more.
	out.Cards = slices.DeleteFunc(cards, func(c Card) bool {
		return !slices.ContainsFunc(c.Nodes, func(n string) bool { return n != c.Nodes[0] })
	})
	out.Device.Pins = slices.Clone(w.Device.Pins)
	for i := range out.Device.Pins {
		out.Device.Pins[i].Node = rename(out.Device.Pins[i].Node)
	}
	out.joined = map[string]string{}
	for n, to := range joined {
		out.joined[strings.ToLower(n)] = to
	}
	out.Nodes = slices.DeleteFunc(slices.Clone(w.Nodes), func(n string) bool { return rename(n) != n })
	out.separate()
	out.settle()
	return &out, nil
}
