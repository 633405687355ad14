package netlist

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"offbeat/acquire"
)

// parser reads the cards of a deck.
type parser struct {
	deck     *Deck
	file     string
	body     string // the name of the subcircuit whose body is passed over
	commands bool   // within .control … .endc
	values   map[string]string
	left     map[string]int // what was left out, how often
}

func (p *parser) fail(l line, what, expect, do string) error {
	return &acquire.Error{File: p.file, Line: l.number, Column: 1, What: what, Expect: expect, Do: do, Err: acquire.ErrSyntax}
}

// line reads one card; done is true at the end of the deck.
func (p *parser) line(l line) (done bool, err error) {
	f := fields(l.text)
	if len(f) == 0 {
		return false, nil
	}
	word := strings.ToLower(f[0])
	switch {
	case p.commands:
		p.commands = word != ".endc"
	case p.body != "":
		if word == ".ends" {
			p.body = ""
		}
	case word[0] == '.':
		return p.dot(l, word, f)
	default:
		return false, p.card(l, f)
	}
	return false, nil
}

// dot reads a control card.
func (p *parser) dot(l line, word string, f []string) (done bool, err error) {
	switch word {
	case ".end":
		return true, nil
	case ".control":
		p.commands = true
		p.left[".control"]++
	case ".subckt":
		if len(f) < 3 {
			return false, p.fail(l, ".subckt has no nodes", ".subckt NAME NODE …", "")
		}
		b := Block{Name: f[1], Line: l.number, Remark: l.remark}
		for _, n := range f[2:] {
			if strings.Contains(n, "=") || strings.HasSuffix(n, ":") {
				break
			}
			b.Nodes = append(b.Nodes, n)
		}
		p.deck.Blocks = append(p.deck.Blocks, b)
		p.body = f[1]
	case ".param":
		p.param(f[1:])
	default:
		p.left[word]++
	}
	return false, nil
}

// param notes the values that a later card may name in braces.
func (p *parser) param(f []string) {
	if p.values == nil {
		p.values = map[string]string{}
	}
	for _, pair := range f {
		if name, value, ok := strings.Cut(pair, "="); ok {
			p.values[strings.ToLower(name)] = value
		}
	}
}

// ends is how many nodes the elements have that a netlist's board is made of; of V what follows them is its source.
var ends = map[byte]int{'R': 2, 'C': 2, 'D': 2, 'V': 2}

// card reads one element.
func (p *parser) card(l line, f []string) error {
	c := Card{Letter: f[0][0] &^ 0x20, Name: f[0], Line: l.number, Text: l.text}
	rest := f[1:]
	switch n, known := ends[c.Letter]; {
	case c.Letter == 'X':
		rest = slices.DeleteFunc(rest, func(s string) bool { return strings.Contains(s, "=") || strings.EqualFold(s, "params:") })
		if len(rest) < 2 {
			return p.fail(l, c.Name+" has no nodes", "its nodes, then the name of its subcircuit", "")
		}
		c.Nodes, c.Value = rest[:len(rest)-1], rest[len(rest)-1]
	case !known:
		c.Nodes = rest // what they are is not known; the caller decides whether it matters
	case len(rest) < n:
		return p.fail(l, fmt.Sprintf("%s has %d nodes", c.Name, len(rest)), fmt.Sprintf("%d nodes", n), "")
	default:
		c.Nodes = rest[:n]
		if len(rest) > n {
			c.Value = rest[n]
			if name, value, ok := strings.Cut(c.Value, "="); ok && strings.EqualFold(name, string(c.Letter)) {
				c.Value = value // as some editors write it: R=47k
			}
		}
		if c.Letter == 'V' {
			c.Value = strings.Join(rest[n:], " ")
		}
	}
	c.Column = 1 + max(0, strings.LastIndex(l.text, c.Value)*min(1, len(c.Value)))
	for _, o := range p.deck.Cards {
		if strings.EqualFold(o.Name, c.Name) {
			return p.fail(l, fmt.Sprintf("%s stands twice (first on line %d)", c.Name, o.Line), "a name of its own for each card", "")
		}
	}
	p.deck.Cards = append(p.deck.Cards, c)
	return nil
}

// resolve puts a .param's value in place of its name in braces or quotes.
func (p *parser) resolve(value string) string {
	words := strings.Fields(value)
	for i, w := range words {
		for _, marks := range []string{"{}", "''"} {
			name, ok := strings.CutPrefix(w, marks[:1])
			if v, known := p.values[strings.ToLower(strings.TrimSuffix(name, marks[1:]))]; ok && known {
				words[i] = v
			}
		}
	}
	return strings.Join(words, " ")
}

// finish puts the values of .param in, wherever they stand, and says what was left out.
func (p *parser) finish() error {
	for i := range p.deck.Cards {
		p.deck.Cards[i].Value = p.resolve(p.deck.Cards[i].Value)
	}
	if p.body != "" {
		b := p.deck.Blocks[len(p.deck.Blocks)-1]
		return p.fail(line{number: b.Line}, "the subcircuit "+p.body+" does not end", "a line .ends", "")
	}
	if len(p.deck.Cards) == 0 {
		return p.fail(line{number: 1}, "the netlist holds no card", "a title line, then a card a line, such as R1 vcc dis 10k", "")
	}
	for _, w := range slices.Sorted(maps.Keys(p.left)) {
		p.deck.Notes = append(p.deck.Notes, fmt.Sprintf("netlist: %d × %s left out; it has no bearing on the wiring", p.left[w], w))
	}
	return nil
}

// Deck is a netlist as written.
type Deck struct {
	Title  string
	Cards  []Card
	Blocks []Block  // subcircuits, their bodies left out
	Notes  []string // what was counted and left out
}

// Card is one element.
type Card struct {
	Letter byte   // R, C, D, V, X … in upper case
	Name   string // as written
	Nodes  []string
	Value  string // of R and C the value's text, of V its source, of D the model, of X the subcircuit; may be empty
	Line   int    // from 1
	Column int    // of Value in the card's first line, in bytes from 1; 1 where it stands elsewhere
	Text   string // the card with what continues it
}

// Block is the head of a subcircuit.
type Block struct {
	Name   string
	Nodes  []string
	Line   int
	Remark string // the comment line above it, where some writers name the pins
}
