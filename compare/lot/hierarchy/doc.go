// Package hierarchy finds how the parts of a lot spread from board to board, and where the lot's centre lies,
// from the high and low times of its boards.
//
// The model. Board b has parts with ln(value/nominal) = mu_j + sigma_j z, timer terms that scatter likewise,
// and a measured pair y = (ln high, ln low) with known noise N_b:
//
//	y_b ~ normal( f(mu), V + N_b ),   V = sum over parts and timer terms of sigma_j² J_j J_j'
//
// where J_j = (d ln high, d ln low)/d ln part j. For the astable with two resistors, w = R1/(R1+R2),
//
//	var ln high = w² s1² + (1-w)² s2² + sC²,  cov = (1-w) s2² + sC²,  var ln low = s2² + sC²
//
// so three spreads follow from three entries of the covariance. With one resistor every J is (1, 1), and the
// spreads of R and C can't be told apart but for their priors. A threshold that scatters from timer to timer
// moves both times much as C does, which is why the timer family's terms are in V.
//
// Priors. sigma_j of a part is half-t with 4 degrees of freedom and scale T/sqrt(3), the standard deviation of
// a part that is uniform over its tolerance T (half-t family: Gelman 2006, Bayesian Analysis 1(3); JCGM 100
// 4.3.7), cut off at a factor of ten. That of a timer term is half-normal with half the standard deviation of the term's own prior, which
// holds the makers' disagreement too (common practice).
//
// Likelihood. The centre is integrated out with a flat prior (REML, Patterson and Thompson 1971), so that the
// covariance speaks for the spreads and the centre is left for the back-solve: CentreMeasurement gives it as the
// measurement of one average board, whose parts are the means of the batchs. The means have the same priors
// there as the parts of a board. Three shifts from two times need those priors; reconcile says what is confounded.
//
// J is taken at the lot's centre; a spread of s makes an error of about s² in it.
package hierarchy
