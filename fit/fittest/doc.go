// Package fittest is the independent check on the timing laws: it integrates Kirchhoff's current law numerically and times
// the switch by watching the thresholds. No logarithm of a threshold ratio occurs in it, and it imports nothing of the
// packages it checks.
//
// A Board is any wiring: Cycle gives the high and the low time of the cycle that power-up leads to, Pulse those of a
// monostable.
//
//  1. nodal.go: modified nodal analysis, diodes and switch as branches with currents of their own, followed event by event.
//  2. radau.go: the implicit Runge-Kutta method that integrates it.
//
// A Network is one of the documented circuits, with one capacitor node, drawn as a Board (network.go); Integrate gives its
// times, Trace its waveform.
package fittest
