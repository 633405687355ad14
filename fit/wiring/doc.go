// Package wiring reads a board as it is wired: one card a line, one device, and what is tied to which node. It knows
// the notation and its rules, no law and no value:
//
//  1. read.go turns text into cards; a value behind a card's nodes stays text.
//  2. check.go refuses what no board is: pins that there are not, nodes that lead nowhere, nodes that float.
//  3. runs.go says what the device makes of it: astable, monostable, bistable.
//  4. shipped.go lists the wirings that the program brings along, as texts that a user copies and changes.
//
// Names of parts and nodes are matched without regard to case and kept as first written.
package wiring
