// Package compare holds the seam type Finding: what a design and its measurements add up to.
// Its sub-packages do the work: cause (the hypotheses and their prior odds), verdict (pass, fail,
// undecided against a target), reconcile (the pipeline), report (text, JSON, CSV, HTML).
package compare
