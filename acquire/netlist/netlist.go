// Package netlist reads a board's netlist as schematic editors write it: the element cards of Berkeley SPICE. It knows the
// notation and its numbers, no circuit:
//
//  1. lines.go joins continued cards and drops comments; the first line is the title, always. It reads numbers with their
//     suffix: M is milli, MEG is mega.
//  2. cards.go splits a card into its name, its nodes and its value, by the letter that begins its name.
//
// Sources: the element cards of the SPICE3f5 manual and what public netlists hold (testdata/netlists/README.md).
package netlist

import (
	"fmt"
	"io"
	"strings"

	"offbeat/acquire"
)

// Ground says whether a node is the reference node: 0, or the name that most simulators take for it.
func Ground(node string) bool { return node == "0" || strings.EqualFold(node, "gnd") }

// Fail is a fault at a card: what is wrong, what was expected, what to do.
func (c *Card) Fail(file, what, expect, do string) *acquire.Error {
	return &acquire.Error{File: file, Line: c.Line, Column: c.Column, What: what, Expect: expect, Do: do, Err: acquire.ErrSyntax}
}

// largest is the most that a netlist may hold, in bytes: boards of a few hundred cards.
const largest = 1 << 20

// Read reads a netlist; name is used in messages. Errors are *acquire.Error with the line.
func Read(name string, r io.Reader) (*Deck, error) {
	b, err := io.ReadAll(io.LimitReader(r, largest+1))
	if err != nil {
		return nil, &acquire.Error{File: name, What: "the netlist cannot be read: " + err.Error(), Err: err}
	}
	if len(b) > largest {
		return nil, &acquire.Error{File: name, What: "this is too large for a netlist", Expect: fmt.Sprintf("at most %d bytes", largest), Err: acquire.ErrSyntax}
	}
	lines := join(plain(b))
	d := &Deck{Title: title(lines[0].text)}
	p := parser{deck: d, file: name, left: map[string]int{}}
	for _, l := range lines[1:] {
		done, err := p.line(l)
		if err != nil {
			return nil, err
		}
		if done {
			break
		}
	}
	return d, p.finish()
}

// title is the first line without an editor's mark.
func title(line string) string {
	line = strings.TrimSpace(line)
	for _, mark := range []string{".title", "*"} {
		if len(line) >= len(mark) && strings.EqualFold(line[:len(mark)], mark) {
			line = strings.TrimSpace(line[len(mark):])
		}
	}
	return line
}
