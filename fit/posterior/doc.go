// Package posterior is the back-solve: which of a list of hypotheses made the measured times, and what the
// parts then are.
//
// The times pin two equations to about 1e-4, the priors are 1e-2 … 1 wide, and any R up, C down leaves the
// times alone, so the posterior is a thin ridge that no grid can meet. For each hypothesis:
//
//  1. every unknown is one variable with a one-dimensional prior: the parts, the timer's second-order terms,
//     the fault's own parameter, the clock, and the measurement's noise;
//  2. as many variables as there are measured times are eliminated, namely those whose priors move the times
//     most (a pivoted factorisation of the sensitivities chooses them; the noise itself may be chosen);
//  3. the others run over a rank-1 lattice through their priors, and at each point the eliminated ones are
//     solved from the measured times by Newton's method, from where they lie to first order: the point weighs
//     the solved variables' prior density over the Jacobian;
//  4. the mean weight is the evidence, the weighted points are the posterior.
//
// The result is exact in the limit of many points; Result carries the numerical standard error reached.
// Everything is seeded and ordered, so the same input gives the same bits.
package posterior
