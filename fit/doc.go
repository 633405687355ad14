// Package fit holds the types at the seam between what was measured, what was designed and what the
// parts are likely to be. Its sub-packages do the work, each one room:
//
//	level       state levels of a waveform (IEEE 181 histogram modes)
//	transition  edges between the states, in one pass
//	train       edges between glitches and gaps, kept as a pulse train
//	cell        what sampling does to the times of edges
//	noise       mean high and low time of a train, with type A uncertainty
//	budget      type B terms and their combination (JCGM 100)
//	measure     the pipeline of these: a capture goes in, a Measurement comes out
//	wiring      what is tied to what on a board: cards, one device, its pins
//	circuit     a wiring compiled to its timing law
//	predict     a design goes in, expected times with their bands come out
//	latch       a bistable against its truth table
//	posterior   measured times and a list of hypotheses go in, probabilities and parts come out
//
// All numbers are in SI base units: seconds, volts, ohms, farads, ratios.
package fit
