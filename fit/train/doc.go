// Package train turns edges into a pulse train: it keeps what does not belong out of it, and what does in bounded memory.
//
//  1. What is usual is settled by the first 4096 edges: of the intervals of each state the time-weighted median, so that
//     half of all time in that state is spent in longer ones. Short glitches, however many, hardly move it. It then
//     follows the train with a memory of 64 intervals.
//  2. Edges closer than 0.3 of the usual interval are one burst. With an even number of edges it leaves the state as it
//     was, a glitch; with an odd number it is one transition that chatters, whose time is known no better than its length,
//     so the run ends there, unless the whole train chatters.
//  3. An interval longer than 1.6 times the usual one ends a run too: pulses are missing (a whole number of periods), or the
//     gap is odd. Within a run the number of each cycle is certain; from run to run nothing is assumed here (but see package noise).
//  4. Sixteen intervals in a row that are alike, and off by a third or more from the usual and the last ones, begin another pace: what is
//     usual starts anew there. One time as long as ever in a period that is a whole number of the usual ones is pulses that are missing.
//  5. The cycles are kept singly up to 2048. Then neighbours are averaged in pairs, edge by edge, and again when the store is
//     full: a mean over n cycles is an observation of the train at their middle, with white noise of 1/n the variance. The
//     first 1024 cycles stay singly beside them, because averages hide how the noise goes from edge to edge.
//
// A record of any length so comes to some 4096 observations, in one pass.
package train
