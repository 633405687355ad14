// Package fittest is the independent check on the timing laws: it integrates each circuit's capacitor node
// numerically from Kirchhoff's current law and times the switch by watching the thresholds. No logarithm
// of a threshold ratio occurs in it, and it imports nothing of the packages it checks.
//
// A Network says what is on the bench; Integrate gives the high and the low time of its limit cycle:
//
//  1. currents.go: C dv/dt = the sum of the currents into the capacitor's node, for each state of the switch.
//  2. dormandprince.go: an adaptive Runge-Kutta integrator with event location.
//  3. integrate.go: the switch, its delays, and whether the circuit runs at all.
package fittest
