// Package stability tells how a time runs over a long capture: its mean and scatter, its linear drift with
// uncertainty, and the Allan deviation and its kin, which tell white from wandering noise.
package stability
