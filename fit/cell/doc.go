// Package cell is what sampling does to the times of edges: its error is no noise, but a function of where the edge falls
// between two samples.
//
// An edge between two samples is placed where the line through them crosses the reference. With u the place of the edge in
// its cell, in sample intervals, the error e(u) is that of interpolation: a sawtooth u - 1/2, of variance 1/12, where the edge
// is faster than a sample interval; less where samples lie on the slope; nothing from a slope of two cells on. A period that
// is no simple ratio to the sample interval visits all u evenly and the error averages out; one that is nearly such a ratio
// creeps through the cell, and the error of neighbouring edges is the same.
//
// Two answers follow. Lattice gives e as a Fourier series, so that the variance of any estimate Σ w x over a random phase is
//
//	Σ_m 2 c_m² |Σ_k w_k exp(2πi m φ_k)|²
//
// each harmonic shrunk by exp(-2π² m² σ²) for white noise of σ cells, which dithers it (Widrow and Kollár, Quantization
// Noise, 2008, chapter 5; the statistical theory of dither is theirs). Density is that of the error that is left:
// a cell's uniform one plus normal noise.
//
// Solve goes further, for sharp edges with next to no noise. Edge k of a steady train lies in its cell exactly if
//
//	c_k ≤ a + k P < c_k + 1
//
// so the rising edges leave a polygon of possible (a, P), the falling ones another: the set of digital lines through the
// given cells (Dorst and Smeulders, IEEE Transactions PAMI 6, 1984). Under a flat prior the answer is its mean and its
// covariance. It shrinks as 1/k² where the period creeps, which no linear estimate reaches. White noise of σ cells makes the
// sides soft: each edge weighs Φ((a + kP - c)/σ) Φ((c + 1 - a - kP)/σ). Given P, rising and falling edges are
// independent: two integrals over an offset side by side within one over P. Noise is averaged over nodes, the most that a
// steady train may have being 0.12 cells.
//
// A train that creeps through its cells shows next to nothing of what bends it: the high time rests on where the few slips of rising
// and falling edges lie, and a drift or a line of the mains moves those. Hide follows the same integral along such bends, by the edges
// moved by them, and adds to the covariance what is likely of that, log-uniform in size.
package cell
