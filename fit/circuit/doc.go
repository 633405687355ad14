// Package circuit compiles a board's wiring to its timing law. A circuit is data (package wiring); the law is Kirchhoff's:
//
//  1. build.go lays the cards and the device's pins out as a network; every value is a slot of Values (values.go).
//  2. law.go eliminates, for each state of the device and of the diodes, the nodes without charge by sums of positive
//     conductances (star-mesh), or as one source where one end is free (Thévenin), never by a difference; a conducting diode ties its nodes at its drop.
//  3. tape.go turns what is left into a straight line of operations.
//  4. single.go: one charged node in closed form. It runs from v0 toward its target with time constant tau until it meets a
//     threshold, t = tau ln((target - v0) / (target - threshold)), and on for the device's delay, so that the next run
//     starts from the overshoot. Boards with no leak, stray or worn switch run a shorter tape. several.go: by modes (motion.go), with the two dwell times as unknowns.
//  5. follow.go follows a board from power-up, diodes and all, where the short forms do not hold: a node that nothing holds
//     drifts by what its pins draw, one that a diode comes to hold is brought there at once, by the charge that runs through
//     the diode forward. stuck.go says in volts why a board does not run.
//  6. fixed.go derives what the times fix; family.go holds the priors of each family's second-order terms.
//
// The shipped wirings are compiled once (registry.go, shipped.go). The two-transistor multivibrator alone keeps a law that is
// written by hand: it has two devices, and what ends its half-cycles is a junction, not a threshold. With the terms of the
// ideal family every law is the first-order formula of the timer data sheets (SLFS022I p. 11).
package circuit
