// Package stream turns what a board prints into rows of time and level. It is shared by acquire, which reads
// saved console logs, and by acquire/listen, which hears a port: the same bytes give the same rows.
//
//  1. Framer cuts the bytes into lines, whatever their line ends and however the reads fall.
//  2. parseLine says what a line could mean: a reading in one of the forms, or none.
//  3. window watches the first readings and settles the Form.
//  4. clock makes one growing time axis of the printed counter: wrap, restart and a line that lies in time
//     are told apart.
//  5. train makes rows of state from edges or durations, with an unknown stretch wherever something was missed.
//
// Reader ties them together. Forms of a line, with time or duration in any unit:
//
//	1234567,1        time,level at each edge; the level may be a word (H, LOW, rise …)
//	1234567,512      time,reading of a converter or a voltage
//	1234567,0        time,level at each look (a polled pin): told from the first by its repeats
//	17,1234567,1     number of the line, time, level
//	A,1234567,1      channel, time, level
//	12:00:01.25,1    time of day, level
//	H 8700           level and how long it lasted; also "1,8700"
//	8700             how long each level lasted, in turn; a sign tells the level (+ high, - low)
//	@37 00 -> 01 D0  index, old and new states, channel
//	! any words      the board has missed edges here: no pulse is taken across
package stream
