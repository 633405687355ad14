// Package netlist reads a board's netlist as schematic editors write it: the element cards of Berkeley SPICE. It knows the
// notation and its numbers, no circuit:
//
//  1. lines.go joins continued cards and drops comments; the first line is the title, always.
//  2. cards.go splits a card into its name, its nodes and its value, by the letter that begins its name.
//  3. number.go reads a number with its suffix: M is milli, MEG is mega.
//
// Sources: the element cards of the SPICE3f5 manual and what public netlists hold (testdata/netlists/README.md).
package netlist
